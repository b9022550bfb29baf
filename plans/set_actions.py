"""Writes of starting sets: made, changed, retired; put into a draft and taken out of it."""

from collections.abc import Collection

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from clinic.actions import ActionRefused, write_audit
from clinic.models import User
from plans.actions import edit, free_keys, usual_line
from plans.catalogue_actions import MAY_WRITE
from plans.models import Line, PlanVersion
from plans.set_models import StartingSet as StartingSetRow
from plans.set_queries import FittedSet, problems_of, starting_sets
from plans.starting_sets import StartingSet


def _may_write(by: User) -> None:
    if by.role not in MAY_WRITE:
        raise ActionRefused("Therapists and supervisors change starting sets; ask one of them.")


@transaction.atomic
def save_set(*, by: User, one: StartingSet, seen_edits: int | None = None) -> StartingSetRow:
    """Make or change a set of the clinic's own; an example's key puts it in the example's place.

    ``seen_edits`` is how often it had been changed when it was opened, None for a new key. Refused
    where somebody else changed it in the meantime, and where the key is taken.
    """
    _may_write(by)
    if problems := problems_of(one.lines):
        raise ActionRefused(" ".join(f"{problem}." for problem in problems))
    row = StartingSetRow.objects.select_for_update().filter(key=one.key).first()
    if seen_edits is None and (row or starting_sets().of(one.key)):
        raise ActionRefused(f"There is a set {one.key} already: give this one another name.")
    if seen_edits is not None and seen_edits != (row.edits if row else 0):
        raise ActionRefused(
            "Somebody else changed this set while you wrote. What you typed is kept here: compare "
            "it with the newer one before you save it over that."
        )
    was = {"name": row.name, "stage": row.stage, "lines": row.lines} if row else None
    row = row or StartingSetRow(key=one.key)
    row.name, row.stage, row.purpose, row.source = one.name, one.stage, one.purpose, one.source
    row.lines = [line.as_table() for line in one.lines]
    row.edits += 1
    row.changed_by, row.changed_at = by, timezone.now()
    row.save()
    write_audit(
        user=by,
        verb="made starting set" if seen_edits is None else "changed starting set",
        subject=one.key,
        lines=row.lines,
        was=was,
    )
    return row


@transaction.atomic
def retire_set(*, by: User, one: StartingSet, is_retired: bool = True) -> None:
    """Take a set out of use, or back into it; it stays on record."""
    _may_write(by)
    row = StartingSetRow.objects.select_for_update().filter(key=one.key).first()
    if row is None:
        row = StartingSetRow(key=one.key, name=one.name, stage=one.stage, purpose=one.purpose)
        row.source, row.lines = one.source, [line.as_table() for line in one.lines]
    row.is_retired = is_retired
    row.changed_by, row.changed_at = by, timezone.now()
    row.save()
    write_audit(
        user=by,
        verb="retired starting set" if is_retired else "took starting set back into use",
        subject=one.key,
    )


@transaction.atomic
def put_in_set(*, by: User, version: PlanVersion, one: StartingSet, fit: FittedSet) -> list[Line]:
    """Add what fits of a set to the end of a draft, each on the step that was found for it."""
    edit(version)
    if not fit.put_in:
        return []
    last = version.lines.aggregate(last=Max("position"))["last"]
    first = 0 if last is None else last + 1
    lines = []
    for place, (each, revision) in enumerate(fit.put_in, start=first):
        effort = each.step.effort if each.step else None
        line = usual_line(revision=revision, effort=effort, side=each.side.value)
        for name, value in each.line.dose.items():
            setattr(line, name, value)
        if each.line.weekdays:
            line.weekdays = sum(1 << day for day in each.line.weekdays)
        line.version, line.position, line.orthosis = version, place, each.orthosis
        line.stop_motion, line.stop_deg = each.stop or ("", None)
        lines.append(line)
    for line, key in zip(lines, free_keys(version.patient, lines), strict=True):
        line.key = key
    lines = Line.objects.bulk_create(lines)
    write_audit(
        user=by,
        verb="put in starting set",
        subject=f"{version} {one.key}",
        patient_id=version.patient_id,
        lines=[line.key for line in lines],
        left_out=[each.exercise.key for each in fit.left_out] + list(fit.missing),
    )
    return lines


@transaction.atomic
def take_out_set(*, by: User, version: PlanVersion, lines: Collection[int], name: str) -> int:
    """Take the lines that a set put in out of a draft again; return how many there still were."""
    edit(version)
    there = Line.objects.filter(version=version, pk__in=lines)
    keys = list(there.values_list("key", flat=True))
    there.delete()
    write_audit(
        user=by,
        verb="took starting set out",
        subject=f"{version} {name}",
        patient_id=version.patient_id,
        lines=keys,
    )
    return len(keys)
