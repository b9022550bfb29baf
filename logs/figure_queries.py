"""Reads of what is kept ready, for all patients at once: a row a patient, not a row a day.

Counting a clinic's days in Python takes most of its time to carry rows out of the database. So
each patient's days come as one text of numbers, with several facts packed into each.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import date
from typing import Any
from uuid import UUID

import numpy as np
from django.db import connection

from logs.counting import DaySessions, Performance, Session, counted_sessions
from logs.figures import Integers, KeptColumns, PhoneDays, SpanRow, Unclear
from logs.models import KeptDay, Revision, SessionPair
from logs.queries import Head, in_order, session_of
from plans.models import Line, PlanVersion
from plans.queries import MOST_PER_DAY
from plans.schedule import Window

# Packed: a day of 64, a pain of 16 (one more than the score, 0 for none) and three small integers
# of 15 bits, the last two from bit 32 on, where PostgreSQL takes the factors as long integers.
_FACTS = (
    "{day} + 64 * (COALESCE(pain_worst, -1) + 1) + 1024 * numbered"
    " + 4294967296 * beside + 140737488355328 * beyond"
)
_MORE = "COALESCE(version, 0) + 2147483648 * repetitions"
_DAY = {
    "sqlite": "CAST(julianday({}) - julianday(%s) AS integer)",
    "postgresql": "({} - CAST(%s AS date))",
}
_HEAD = (
    "pk",
    "entry",
    "patient",
    "day",
    "occasion",
    "source",
    "phone",
    "version__number",
    "began_at",
    "received_at",
    "pain_worst",
    "pain_after",
)
_EPOCH = date(2000, 1, 1)
_TEXT_OF_ALL = {
    "sqlite": "group_concat({})",
    "postgresql": "string_agg(CAST({} AS text), ',')",
}


def _rows(sql: str, *given: date) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, [day.isoformat() for day in given])
        rows: list[tuple[Any, ...]] = cursor.fetchall()
        return rows


def _day(column: str) -> str:
    """A column's days since a date that is to be given."""
    return _DAY[connection.vendor].format(column)


def _by_patient(table: str, *values: str) -> str:
    """A statement that gives each patient's values, between two dates, as a text of each."""
    texts = ", ".join(_TEXT_OF_ALL[connection.vendor].format(value) for value in values)
    return (
        f"SELECT patient_id, {texts} FROM {table} "  # noqa: S608 (our own names)
        "WHERE day BETWEEN %s AND %s GROUP BY patient_id"
    )


def kept_columns(window: Window) -> KeptColumns:
    """Return what is kept of all patients' days in the window (one query)."""
    first = window.first_day
    statement = _by_patient("logs_keptday", _FACTS.format(day=_day("day")), _MORE)
    rows = _rows(statement, first, first, window.last_day)
    facts = _numbers(",".join(facts for _, facts, _ in rows))
    more = _numbers(",".join(more for *_, more in rows))
    return KeptColumns(
        patients=[patient for patient, *_ in rows],
        counts=[text.count(",") + 1 for _, text, _ in rows],
        day=(facts & 63) + first.toordinal(),
        pain_worst=(facts >> 6 & 15) - 1,
        numbered=facts >> 10 & 32767,
        beside=facts >> 32 & 32767,
        beyond=facts >> 47,
        version=more & 2147483647,
        repetitions=more >> 31,
    )


def _numbers(text: str) -> Integers:
    return np.fromstring(text, dtype=np.int64, sep=",")


def marked_days(window: Window) -> dict[int, list[int]]:
    """Return the ordinals of days marked heard, by patient (one query)."""
    first = window.first_day
    rows = _rows(_by_patient("logs_heardday", _day("day")), first, first, window.last_day)
    start = first.toordinal()
    return {pk: (_numbers(text) + start).tolist() for pk, text in rows}


def phone_days() -> dict[int, list[PhoneDays]]:
    """Return which days the phones of all patients can speak for, by patient (one query)."""
    columns = ("enrolled_day", "revoked_day", "made_day", "last_empty_day")
    days = ", ".join(_day(column) for column in columns)
    sql = (
        f"SELECT p.patient_id, p.id, {days}, s.is_first FROM patients_phone p "  # noqa: S608 (ours)
        "LEFT JOIN patients_phonestore s ON s.phone_id = p.id"
    )
    found: dict[int, list[PhoneDays]] = defaultdict(list)
    known: dict[int, PhoneDays] = {}
    start = _EPOCH.toordinal()
    for patient, pk, enrolled, revoked, made, empty, is_first in _rows(sql, *[_EPOCH] * 4):
        if pk not in known:
            end = None if revoked is None else revoked + start + 1
            known[pk] = PhoneDays(enrolled + start, end, [])
            found[patient].append(known[pk])
        if empty is not None:
            # The day on which a replacing store was made may have begun in the one before it.
            known[pk].stores.append((made + start + (not is_first), empty + start))
    return found


def span_rows(window: Window) -> list[SpanRow]:
    """Return the spans of all patients' plans that touch the window, counted from its first day.

    One query.
    """
    first = window.first_day
    columns = f"{_day('first_day')}, {_day('last_day')}, version, {_day('since')}"
    sql = (
        f"SELECT patient_id, {columns}, is_paused, occasions FROM plans_duespan "  # noqa: S608 (our own names)
        "WHERE first_day <= %s AND (last_day IS NULL OR last_day >= %s)"
    )
    return list(map(SpanRow._make, _rows(sql, first, first, first, window.last_day, first)))


def judged_days(unclear: Sequence[Unclear]) -> dict[tuple[int, date], int]:
    """Return how many lines were overdone on unclear days (two queries, none without any).

    A line is judged as the version in force has it, else as the first session saw it, else as the
    latest version that has it.
    """
    if not unclear:
        return {}
    patients = {day.patient for day in unclear}
    most: dict[int, dict[int, dict[str, int]]] = defaultdict(lambda: defaultdict(dict))
    lines = Line.objects.filter(
        version__patient__in=patients, version__state=PlanVersion.State.ISSUED
    ).order_by("version__number")
    for patient, number, key, most_per_day in lines.values_list(
        "version__patient", "version__number", "key", MOST_PER_DAY
    ):
        most[patient][number][key] = most_per_day
    in_force = {(day.patient, day.day): day.in_force for day in unclear}
    kept = KeptDay.objects.filter(
        patient__in=patients, day__in={day.day for day in unclear}
    ).values_list("patient", "day", "recorded")
    return {
        (patient, day): sum(
            amount > _most(most[patient], key, in_force[patient, day], seen)
            for key, (amount, seen) in recorded.items()
        )
        for patient, day, recorded in kept
        if (patient, day) in in_force
    }


def numbers_done(
    days: Collection[tuple[int, date]],
) -> dict[tuple[int, date], tuple[int, ...]]:
    """Return the numbers of the sessions done on days of patients, each session counted once.

    Two queries, none without any day.
    """
    if not days:
        return {}
    patients = {patient for patient, _ in days}
    heads: dict[UUID | str, Head] = {}
    done: dict[UUID | str, list[Performance]] = defaultdict(list)
    rows = Revision.objects.filter(
        patient__in=patients,
        day__in={day for _, day in days},
        is_current=True,
        entry__struck_at__isnull=True,
    ).order_by()
    for *head, amounts in rows.values_list(*_HEAD, "performances__amounts"):
        heads[head[0]] = Head(*head)
        done[head[0]].append(Performance("", tuple(amounts or ())))
    sessions: dict[tuple[int, date], list[Session]] = defaultdict(list)
    for order, head in enumerate(in_order(heads.values())):
        told = session_of(head, order, tuple(done[head.revision]))
        sessions[head.patient, head.day].append(told)
    two = SessionPair.objects.filter(patient__in=patients, is_same=False)
    apart = {frozenset(map(str, pair)) for pair in two.values_list("one", "other")}
    return {
        (patient, day): tuple(
            session.number
            for session in counted_sessions(
                sessions.get((patient, day), ()), Window(day, day), apart
            )
            .get(day, DaySessions((), ()))
            .sessions
            if session.number is not None
        )
        for patient, day in days
    }


def _most(
    lines: Mapping[int, Mapping[str, int]], key: str, in_force: int, seen: Sequence[int | None]
) -> int:
    for number in (in_force, *seen, *reversed(list(lines))):
        if number is not None and key in lines.get(number, ()):
            return lines[number][key]
    raise ValueError(f"no version has a line {key}")
