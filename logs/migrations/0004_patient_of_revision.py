import django.db.models.deletion
from django.db import migrations, models
from django.db.models import OuterRef, Subquery


def fill_patients(apps, schema_editor):
    """Give each revision its entry's patient."""
    revision, entry = apps.get_model("logs", "Revision"), apps.get_model("logs", "Entry")
    whose = entry.objects.filter(pk=OuterRef("entry")).order_by().values("patient")
    revision.objects.update(patient=Subquery(whose))
    if schema_editor.connection.vendor == "postgresql":
        # The column can't be made NOT NULL while checks of its rows are still to come.
        schema_editor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        schema_editor.execute("SET CONSTRAINTS ALL DEFERRED")


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
    ]
