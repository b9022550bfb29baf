"""Keeping ready what plans make due: rewritten in the transaction of whatever changes it."""

from collections.abc import Collection
from typing import NamedTuple

from django.db import transaction

from patients.actions import lock_patients
from plans.models import DueSpan
from plans.queries import Schedule, kept_spans, schedules_of
from plans.spans import due_spans

NOTHING = Schedule((), ())


@transaction.atomic
def keep_due_spans(patients: Collection[int]) -> None:
    """Write anew what the plans of these patients make due, in the transaction of the change."""
    lock_patients(patients)
    schedules = schedules_of(patients)
    DueSpan.objects.filter(patient__in=patients).delete()
    DueSpan.objects.bulk_create(
        DueSpan(patient_id=patient, **span._asdict())
        for patient, schedule in schedules.items()
        for span in due_spans(schedule.versions, schedule.pauses)
    )


class WrongSpans(NamedTuple):
    """A patient whose kept spans are not what the plan makes due."""

    patient: int
    kept: int
    right: int


def wrong_spans(patients: Collection[int]) -> tuple[WrongSpans, ...]:
    """Return the patients whose kept spans differ from their plans, with the numbers of spans."""
    schedules, kept = schedules_of(patients), kept_spans(patients)
    found = []
    for patient in patients:
        schedule, there = schedules.get(patient, NOTHING), kept.get(patient, ())
        right = due_spans(schedule.versions, schedule.pauses)
        if right != there:
            found.append(WrongSpans(patient, len(there), len(right)))
    return tuple(found)
