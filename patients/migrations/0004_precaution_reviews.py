import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from clinic.immutable import refuse


class Migration(migrations.Migration):

    dependencies = [
        ('patients', '0003_precautions'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='PrecautionReview',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('until_day', models.DateField()),
                ('why', models.CharField(max_length=300)),
                ('reviewed_at', models.DateTimeField()),
                ('precaution', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='reviews', to='patients.precaution')),
                ('reviewed_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['reviewed_at', 'pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('why', ''), _negated=True), name='precaution_review_says_why')],
            },
        ),
        refuse(
            name="precaution_review_stands",
            event="UPDATE",
            table="patients_precautionreview",
            condition="1 = 1",
            message="a review of a precaution never changes: record another",
        ),
    ]
