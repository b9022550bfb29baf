import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('logs', '0002_reviews'),
        ('patients', '0001_initial'),
        ('plans', '0001_initial'),
    ]

    operations = [
        migrations.CreateModel(
            name='KeptDay',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField()),
                ('numbered', models.PositiveSmallIntegerField()),
                ('beside', models.PositiveSmallIntegerField()),
                ('pain_worst', models.PositiveSmallIntegerField(null=True)),
                ('repetitions', models.PositiveIntegerField()),
                ('beyond', models.PositiveSmallIntegerField()),
                ('version', models.PositiveIntegerField(null=True)),
                ('recorded', models.JSONField(default=dict)),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='kept_days', to='patients.patient')),
            ],
            options={
                'ordering': ['patient', 'day'],
                'constraints': [models.UniqueConstraint(fields=('patient', 'day'), name='day_kept_once')],
            },
        ),
    ]
