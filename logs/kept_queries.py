"""Reads for what is kept of a day's entries: on the way of every entry that comes in, so as plain
statements, which take a tenth of the time of built ones."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import date
from typing import NamedTuple
from uuid import UUID

from django.db import connection

from logs.counting import Session
from logs.done_text import Known
from logs.kept import KeptFacts, SeenLine, ToldDay, seen_lines
from logs.models import KeptDay
from logs.queries import Head, dashed, in_order, session_of

# Of one table, as planning joins takes PostgreSQL longer than reading a day. Each revision has its
# entry, so that no strike is found for an entry that counts.
_TOLD = """
SELECT r.uuid, r.entry_id, r.patient_id, r.day, r.occasion, r.source, r.phone_id,
       r.began_at, r.received_at, r.pain_worst, r.pain_after, r.done, r.seen
FROM logs_revision r
WHERE r.patient_id = %s AND r.is_current
  AND (SELECT e.struck_at FROM logs_entry e WHERE e.uuid = r.entry_id) IS NULL"""
_VERSION = Head._fields.index("version")
_TWO = "SELECT one_id, other_id FROM logs_sessionpair WHERE patient_id = %s AND NOT is_same"


class _Told(NamedTuple):
    """A session of a day with the lines it was done by."""

    head: Head
    session: Session
    lines: dict[str, SeenLine]


def told_days(patient: int, days: Collection[date] | None = None) -> tuple[ToldDay, ...]:
    """Return the days of a patient's counting entries, all for None, as what is kept is made of.

    One query; a second one where entries may be one session told twice.
    """
    sql = _TOLD
    if days is not None:
        sql += f" AND r.day IN ({', '.join(['%s'] * len(days))})"
    with connection.cursor() as cursor:
        cursor.execute(sql, [patient, *(day.isoformat() for day in days or ())])
        rows = cursor.fetchall()
    known = Known()
    texts: dict[UUID | str, tuple[str, tuple[SeenLine, ...]]] = {}
    heads = []
    for *told, done, seen in rows:
        version, lines = seen_lines(seen)
        head = Head._make((*told[:_VERSION], version, *told[_VERSION:]))
        heads.append(head)
        texts[head.revision] = done, lines
    by_day: dict[date, list[_Told]] = defaultdict(list)
    for order, head in enumerate(in_order(heads)):
        done, lines = texts[head.revision]
        performances = tuple([line.performance for line in known.lines(done)])
        seen_by = {
            performance.line_key: line
            for performance, line in zip(performances, lines, strict=True)
        }
        by_day[head.day].append(_Told(head, session_of(head, order, performances), seen_by))
    apart = _told_apart(patient, by_day.values())
    return tuple(
        ToldDay(
            day=day,
            sessions=tuple(told.session for told in there),
            worst_pains=tuple(told.head.pain_worst for told in there),
            lines={
                (told.session.entry, key): line
                for told in there
                for key, line in told.lines.items()
            },
            told_apart=apart,
        )
        for day, there in by_day.items()
    )


def _told_apart(patient: int, days: Iterable[list[_Told]]) -> Collection[frozenset[str]]:
    """Pairs of entries that a person has called two sessions; not asked where none can be one."""
    for there in days:
        ways = {(told.head.occasion, told.head.source, told.head.phone) for told in there}
        numbers = [number for number, *_ in ways if number is not None]
        if len(set(numbers)) < len(numbers):
            with connection.cursor() as cursor:
                cursor.execute(_TWO, [patient])
                return {frozenset(map(dashed, pair)) for pair in cursor.fetchall()}
    return ()


def kept_days(patient: int) -> dict[date, KeptFacts]:
    """Return what is kept of a patient, by day (one query)."""
    rows = KeptDay.objects.filter(patient=patient).order_by("day")
    names = KeptFacts.__dataclass_fields__
    return {day: KeptFacts(*facts) for day, *facts in rows.values_list("day", *names)}
