"""Keeping ready the facts of entries: recomputed in the transaction of whatever changes an entry.

A day is recomputed whole from its entries and never added to, so that corrections, strikes and
restored entries leave nothing behind.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import asdict, astuple
from datetime import date
from typing import NamedTuple, cast
from uuid import UUID

from django.db import connection, transaction

from logs.done_text import FIELDS, DoneRow, done_text
from logs.kept import SEEN_FIELDS, KeptFacts, SeenRow, kept_facts, seen_text
from logs.kept_queries import kept_days, told_days
from logs.models import KeptDay, Performance, Revision
from patients.actions import lock_patients

FACTS = tuple(KeptFacts.__dataclass_fields__)
ROWS_AT_ONCE = 2_000
# A plain statement, as every entry that comes in waits for it.
_KEEP = f"""
INSERT INTO logs_keptday (patient_id, day, {", ".join(FACTS)})
VALUES ({", ".join(["%s"] * (2 + len(FACTS)))})
ON CONFLICT (patient_id, day) DO UPDATE
SET {", ".join(f"{name} = excluded.{name}" for name in FACTS)}
"""  # noqa: S608 (our own names)


def keep_days(patient: int, days: Collection[date]) -> None:
    """Write anew what is kept of a patient's days; the patient must be locked before."""
    told = {day.day: kept_facts(day) for day in told_days(patient, days)}
    with connection.cursor() as cursor:
        for day, facts in told.items():
            cursor.execute(_KEEP, [patient, day.isoformat(), *astuple(facts)])
    if gone := set(days) - told.keys():
        KeptDay.objects.filter(patient=patient, day__in=gone).delete()


@transaction.atomic
def keep_all_days(patients: Iterable[int]) -> None:
    """Write anew what is kept of all days of patients, by the texts kept with their revisions."""
    for patient in patients:
        lock_patients([patient])
        KeptDay.objects.filter(patient=patient).delete()
        KeptDay.objects.bulk_create(
            (_row(patient, told.day, kept_facts(told)) for told in told_days(patient)),
            batch_size=ROWS_AT_ONCE,
        )


def keep_all_texts(patient: int) -> None:
    """Write anew, with each of a patient's revisions, what was done and by what lines."""
    for revision, texts in wrong_texts(patient).items():
        Revision.objects.filter(pk=revision).update(done=texts.done, seen=texts.seen)


class Texts(NamedTuple):
    """What is kept with a revision: what was done, and what the lines are that it was done by."""

    done: str
    seen: str


def wrong_texts(patient: int) -> dict[UUID, Texts]:
    """Return a patient's revisions whose texts are not as their lines say, with the right ones."""
    done: dict[UUID, list[DoneRow]] = defaultdict(list)
    seen: dict[UUID, list[SeenRow]] = defaultdict(list)
    told = Performance.objects.filter(revision__patient=patient).order_by()
    for revision, *row in told.values_list("revision", *FIELDS, *SEEN_FIELDS):
        done[revision].append(cast(DoneRow, tuple(row[: len(FIELDS)])))
        seen[revision].append(cast(SeenRow, tuple(row[len(FIELDS) :])))
    kept = Revision.objects.filter(patient=patient).order_by()
    wrong = {}
    for revision, version, number, *texts in kept.values_list(
        "pk", "version", "version__number", *Texts._fields
    ):
        right = Texts(done_text(done[revision]), seen_text(version, number, seen[revision]))
        if Texts(*texts) != right:
            wrong[revision] = right
    return wrong


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
