from collections import defaultdict
from dataclasses import asdict

from django.db import migrations, models

from logs.kept import SEEN_FIELDS, kept_facts, seen_text
from logs.kept_queries import told_days

AT_ONCE = 2_000


def fill_seen(apps, schema_editor):
    """Keep with the sessions that are there already what their lines are, then their days by it."""
    revision, performance = apps.get_model("logs", "Revision"), apps.get_model("logs", "Performance")
    kept_day = apps.get_model("logs", "KeptDay")
    kept_day.objects.all().delete()
    patients = revision.objects.order_by().values_list("patient", flat=True).distinct()
    for patient in sorted(patients):
        lines = defaultdict(list)
        told = performance.objects.filter(revision__patient=patient).order_by()
        for pk, version, number, *row in told.values_list(
            "revision", "revision__version", "revision__version__number", *SEEN_FIELDS
        ):
            lines[pk, version, number].append(tuple(row))
        alike = defaultdict(list)
        for (pk, version, number), rows in lines.items():
            alike[seen_text(version, number, rows)].append(pk)
        for text, pks in alike.items():
            for first in range(0, len(pks), AT_ONCE):
                revision.objects.filter(pk__in=pks[first : first + AT_ONCE]).update(seen=text)
        kept_day.objects.bulk_create(
            (
                kept_day(patient_id=patient, day=day.day, **asdict(kept_facts(day)))
                for day in told_days(patient)
            ),
            batch_size=AT_ONCE,
        )


class Migration(migrations.Migration):

    dependencies = [
        ("logs", "0008_kept_days_without_lines"),
        ("plans", "0008_more_if_easy"),
    ]

    operations = [
        migrations.AddField(
            model_name="revision",
            name="seen",
            field=models.TextField(default=""),
        ),
        migrations.RunPython(fill_seen, migrations.RunPython.noop),
    ]
