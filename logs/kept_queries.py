"""Reads for what is kept of a day's entries: on the way of every entry that comes in, so as plain
statements, which take a tenth of the time of built ones."""

import json
from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import date
from functools import lru_cache
from typing import NamedTuple
from uuid import UUID

from django.db import connection

from logs.counting import Performance, Session
from logs.kept import KeptFacts, SeenLine, ToldDay
from logs.models import KeptDay
from logs.queries import Head, dashed, in_order, session_of
from plans.queries import MOST_PER_DAY_SQL
from plans.schedule import Unit

_TOLD = """
SELECT r.uuid, r.entry_id, r.patient_id, r.day, r.occasion, r.source, r.phone_id, v.number,
       r.began_at, r.received_at, r.pain_worst, r.pain_after,
       l.version_id = r.version_id, l.key, l.unit, {most_per_day},
       p.amounts, p.is_confirmed
FROM logs_revision r
JOIN logs_entry e ON e.uuid = r.entry_id
LEFT JOIN plans_planversion v ON v.id = r.version_id
LEFT JOIN logs_performance p ON p.revision_id = r.uuid
LEFT JOIN plans_line l ON l.id = p.line_id
WHERE r.patient_id = %s AND r.is_current AND e.struck_at IS NULL"""
_HEAD = len(Head._fields)
_TWO = "SELECT one_id, other_id FROM logs_sessionpair WHERE patient_id = %s AND NOT is_same"


@lru_cache(maxsize=4096)
def _amounts(text: str) -> tuple[int, ...]:
    """The amounts of a performance from their JSON; the same few come again and again."""
    return tuple(json.loads(text))


class _Told(NamedTuple):
    """A session of a day with the lines it was done by."""

    head: Head
    session: Session
    lines: dict[str, SeenLine]


def told_days(
    patient: int,
    days: Collection[date] | None = None,
    *,
    most_per_day: str = MOST_PER_DAY_SQL,
) -> tuple[ToldDay, ...]:
    """Return the days of a patient's counting entries, all for None, as what is kept is made of.

    One query; a second one where entries may be one session told twice. ``most_per_day`` is the
    most that a line allows, for a migration that works before a column of it was there.
    """
    sql = _TOLD.format(most_per_day=most_per_day)
    if days is not None:
        sql += f" AND r.day IN ({', '.join(['%s'] * len(days))})"
    heads: dict[UUID | str, Head] = {}
    performed: dict[UUID | str, list[Performance]] = defaultdict(list)
    lines: dict[UUID | str, dict[str, SeenLine]] = defaultdict(dict)
    with connection.cursor() as cursor:
        cursor.execute(sql, [patient, *(day.isoformat() for day in days or ())])
        for row in cursor.fetchall():
            revision, (is_own, key, unit, most, amounts, confirmed) = row[0], row[_HEAD:]
            heads[revision] = Head(*row[:_HEAD])
            if key is not None:
                performed[revision].append(
                    Performance(key, _amounts(amounts), None, bool(confirmed))
                )
                lines[revision][key] = SeenLine(Unit(unit), most, bool(is_own))
    by_day: dict[date, list[_Told]] = defaultdict(list)
    for order, head in enumerate(in_order(heads.values())):
        session = session_of(head, order, tuple(performed[head.revision]))
        by_day[head.day].append(_Told(head, session, lines[head.revision]))
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
