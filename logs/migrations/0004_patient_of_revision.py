from dataclasses import asdict

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import OuterRef, Subquery

from logs.kept import kept_facts
from logs.kept_queries import told_days


MOST_PER_DAY = "l.sets * l.amount_high * l.sessions_per_day"


def fill_patients(apps, schema_editor):
    """Give each revision its entry's patient."""
    revision, entry = apps.get_model("logs", "Revision"), apps.get_model("logs", "Entry")
    whose = entry.objects.filter(pk=OuterRef("entry")).order_by().values("patient")
    revision.objects.update(patient=Subquery(whose))
    if schema_editor.connection.vendor == "postgresql":
        # The column can't be made NOT NULL while checks of its rows are still to come.
        schema_editor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        schema_editor.execute("SET CONSTRAINTS ALL DEFERRED")


def fill_kept(apps, schema_editor):
    """Keep the days of the entries that are there already."""
    patient, kept_day = apps.get_model("patients", "Patient"), apps.get_model("logs", "KeptDay")
    kept_day.objects.all().delete()
    for pk in patient.objects.order_by("pk").values_list("pk", flat=True):
        kept_day.objects.bulk_create(
            (kept_day(patient_id=pk, day=day.day, **asdict(kept_facts(day))) for day in told_days(pk, most_per_day=MOST_PER_DAY)),
            batch_size=2000,
        )


class Migration(migrations.Migration):

    dependencies = [
        ('logs', '0003_kept_days'),
        ('patients', '0001_initial'),
    ]

    operations = [
        migrations.AddField(
            model_name='revision',
            name='patient',
            field=models.ForeignKey(db_index=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='patients.patient'),
        ),
        migrations.RunPython(fill_patients, migrations.RunPython.noop),
        migrations.AlterField(
            model_name='revision',
            name='patient',
            field=models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='patients.patient'),
        ),
        migrations.AddIndex(
            model_name='revision',
            index=models.Index(fields=['patient', 'day'], name='revision_of_patient_on_day'),
        ),
        migrations.AlterField(
            model_name='missedreason',
            name='source',
            field=models.CharField(choices=[('visit', 'at a visit'), ('phone', 'on the phone page'), ('paper', 'on paper'), ('telephone', 'by telephone')], default='visit', max_length=10),
        ),
        migrations.RunPython(fill_kept, migrations.RunPython.noop),
    ]
