from dataclasses import asdict

import django.db.models.deletion
from django.db import migrations, models

from logs.kept import kept_facts
from logs.kept_queries import told_days


def fill(apps, schema_editor):
    """Keep the days of the entries that are there already."""
    patient, kept_day = apps.get_model("patients", "Patient"), apps.get_model("logs", "KeptDay")
    for pk in patient.objects.order_by("pk").values_list("pk", flat=True):
        kept_day.objects.bulk_create(
            (kept_day(patient_id=pk, day=day.day, **asdict(kept_facts(day))) for day in told_days(pk)),
            batch_size=2000,
        )


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
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
