"""Keeping ready the facts of entries: recomputed in the transaction of whatever changes an entry.

A day is recomputed whole from its entries and never added to, so that corrections, strikes and
restored entries leave nothing behind.
"""

from collections.abc import Collection, Iterable
from dataclasses import asdict
from datetime import date
from typing import NamedTuple

from logs.kept import KeptFacts, kept_facts
from logs.models import KeptDay
from logs.queries import kept_days, told_days
from patients.actions import lock_patients

FACTS = tuple(KeptFacts.__dataclass_fields__)
ROWS_AT_ONCE = 2_000


def keep_days(patient: int, days: Collection[date]) -> None:
    """Write anew what is kept of a patient's days; the patient must be locked before."""
    told = {day.day: day for day in told_days(patient, days)}
    if told:
        KeptDay.objects.bulk_create(
            (_row(patient, day, kept_facts(told[day])) for day in told),
            update_conflicts=True,
            unique_fields=["patient", "day"],
            update_fields=FACTS,
        )
    if gone := set(days) - told.keys():
        KeptDay.objects.filter(patient=patient, day__in=gone).delete()


def keep_all_days(patients: Iterable[int]) -> None:
    """Write anew what is kept of all days of patients; call it inside a transaction."""
    for patient in patients:
        lock_patients([patient])
        KeptDay.objects.filter(patient=patient).delete()
        KeptDay.objects.bulk_create(
            (_row(patient, told.day, kept_facts(told)) for told in told_days(patient)),
            batch_size=ROWS_AT_ONCE,
        )


class WrongDay(NamedTuple):
    """A day of which something else is kept than its entries say; None is no row."""

    patient: int
    day: date
    kept: KeptFacts | None
    right: KeptFacts | None


def wrong_days(patient: int) -> tuple[WrongDay, ...]:
    """Return a patient's days of which what is kept differs from their entries."""
    kept = kept_days(patient)
    right = {told.day: kept_facts(told) for told in told_days(patient)}
    return tuple(
        WrongDay(patient, day, kept.get(day), right.get(day))
        for day in sorted(kept.keys() | right.keys())
        if kept.get(day) != right.get(day)
    )


def _row(patient: int, day: date, facts: KeptFacts) -> KeptDay:
    return KeptDay(patient_id=patient, day=day, **asdict(facts))
