from collections import defaultdict
from types import SimpleNamespace

import django.db.models.deletion
from django.db import migrations, models

from plans.schedule import PauseSpan, Version
from plans.spans import due_spans


def fill(apps, schema_editor):
    """Keep the spans of the plans that are there already."""
    plan_version, line, pause, due_span = (
        apps.get_model("plans", name) for name in ("PlanVersion", "Line", "Pause", "DueSpan")
    )
    issued = plan_version.objects.filter(state="issued").order_by("patient", "number")
    lines = defaultdict(list)
    rows = line.objects.filter(version__state="issued").order_by()
    for version, weekdays, sessions in rows.values_list("version", "weekdays", "sessions_per_day"):
        days = {day for day in range(7) if weekdays & (1 << day)}
        lines[version].append(SimpleNamespace(weekdays=days, sessions_per_day=sessions))
    pauses = defaultdict(list)
    standing = pause.objects.filter(struck_at__isnull=True).order_by()
    for patient, first_day, last_day in standing.values_list("patient", "first_day", "last_day"):
        pauses[patient].append(PauseSpan(first_day, last_day))
    versions = defaultdict(list)
    for pk, patient, number, day in issued.values_list("pk", "patient", "number", "effective_day"):
        versions[patient].append(Version(number, day, tuple(lines[pk])))
    due_span.objects.bulk_create(
        (
            due_span(patient_id=patient, **span._asdict())
            for patient, theirs in versions.items()
            for span in due_spans(theirs, pauses[patient])
        ),
        batch_size=2000,
    )


class Migration(migrations.Migration):

    dependencies = [
        ('patients', '0001_initial'),
        ('plans', '0003_teach_back'),
    ]

    operations = [
        migrations.CreateModel(
            name='DueSpan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('first_day', models.DateField()),
                ('last_day', models.DateField(null=True)),
                ('version', models.PositiveIntegerField()),
                ('since', models.DateField()),
                ('is_paused', models.BooleanField()),
                ('occasions', models.PositiveIntegerField()),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='due_spans', to='patients.patient')),
            ],
            options={
                'ordering': ['patient', 'first_day'],
                'constraints': [models.UniqueConstraint(fields=('patient', 'first_day'), name='due_span_begins_once_a_day'), models.CheckConstraint(condition=models.Q(('last_day__isnull', True), ('last_day__gte', models.F('first_day')), _connector='OR'), name='due_span_runs_forwards')],
            },
        ),
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
