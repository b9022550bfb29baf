from collections import defaultdict

from django.db import migrations, models

from logs.done_text import FIELDS, done_text

AT_ONCE = 2_000


def fill_done(apps, schema_editor):
    """Keep what the sessions that are there already did as their text."""
    revision, performance = apps.get_model("logs", "Revision"), apps.get_model("logs", "Performance")
    patients = revision.objects.order_by().values_list("patient", flat=True).distinct()
    for patient in list(patients):
        rows = defaultdict(list)
        told = performance.objects.filter(revision__patient=patient).order_by()
        for pk, *row in told.values_list("revision", *FIELDS):
            rows[pk].append(tuple(row))
        revision.objects.bulk_update(
            (revision(pk=pk, done=done_text(done)) for pk, done in rows.items()),
            ["done"],
            batch_size=AT_ONCE,
        )


class Migration(migrations.Migration):

    dependencies = [
        ("logs", "0006_said_of_lines"),
    ]

    operations = [
        migrations.AddField(
            model_name="revision",
            name="done",
            field=models.TextField(default=""),
        ),
        migrations.RunPython(fill_done, migrations.RunPython.noop),
    ]
