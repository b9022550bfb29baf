"""Reads of what is kept ready, for all patients at once: a row a patient, not a row a day.

Counting a clinic's days in Python takes most of its time to carry rows out of the database. So
each patient's days come as one text of numbers, with several facts packed into each.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import numpy as np
from django.db import connection

from logs.figures import Integers, KeptColumns, SpanRow, Unclear
from logs.models import KeptDay
from plans.models import Line, PlanVersion
from plans.schedule import Window

# Packed: a day of 64, a pain of 16 (one more than the score, 0 for none), and three small integers
# of 15 bits; then a version and repetitions of 31 bits each.
_FACTS = """
{day} + 64 * (COALESCE(pain_worst, -1) + 1
  + 16 * (numbered + 32768 * (beside + 32768 * CAST(beyond AS bigint))))"""
_MORE = "COALESCE(version, 0) + 2147483648 * CAST(repetitions AS bigint)"
_DAY = {
    "sqlite": "CAST(julianday({}) - julianday(%s) AS integer)",
    "postgresql": "({} - CAST(%s AS date))",
}
_TEXT_OF_ALL = {
    "sqlite": "group_concat({})",
    "postgresql": "string_agg({}, ',')",
}


def _rows(sql: str, *given: date) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, [day.isoformat() for day in given])
        rows: list[tuple[Any, ...]] = cursor.fetchall()
        return rows


def _day(column: str) -> str:
    """A column's days since a date that is to be given."""
    return _DAY[connection.vendor].format(column)


def _by_patient(table: str, values: str) -> str:
    """A statement that gives each patient's values, between two dates, as one text."""
    text = _TEXT_OF_ALL[connection.vendor].format(values)
    return (
        f"SELECT patient_id, {text} FROM {table} "  # noqa: S608 (our own names)
        "WHERE day BETWEEN %s AND %s GROUP BY patient_id"
    )


def kept_columns(window: Window) -> KeptColumns:
    """Return what is kept of all patients' days in the window (one query)."""
    values = f"({_FACTS.format(day=_day('day'))}) || ',' || ({_MORE})"
    first = window.first_day
    rows = _rows(_by_patient("logs_keptday", values), first, first, window.last_day)
    texts = [text for _, text in rows]
    counts = [(text.count(",") + 1) // 2 for text in texts]
    patient = np.repeat(np.array([pk for pk, _ in rows], np.int64), counts)
    pairs = _numbers(",".join(texts)).reshape(-1, 2)
    facts, more = pairs[:, 0], pairs[:, 1]
    small = 32767
    return KeptColumns(
        patient=patient,
        day=(facts & 63) + first.toordinal(),
        pain_worst=(facts >> 6 & 15) - 1,
        numbered=facts >> 10 & small,
        beside=facts >> 25 & small,
        beyond=facts >> 40 & small,
        version=more & 2147483647,
        repetitions=more >> 31,
    )


def _numbers(text: str) -> Integers:
    return np.fromstring(text, dtype=np.int64, sep=",")


def marked_days(window: Window) -> dict[int, list[int]]:
    """Return the ordinals of days marked heard, by patient (one query)."""
    first = window.first_day
    values = f"CAST({_day('day')} AS text)"
    rows = _rows(_by_patient("logs_heardday", values), first, first, window.last_day)
    start = first.toordinal()
    return {pk: (_numbers(text) + start).tolist() for pk, text in rows}


def span_rows(window: Window) -> list[SpanRow]:
    """Return the spans of all patients' plans that touch the window (one query)."""
    first = window.first_day
    columns = f"{_day('first_day')}, {_day('last_day')}, version, {_day('since')}"
    sql = (
        f"SELECT patient_id, {columns}, is_paused, occasions FROM plans_duespan "  # noqa: S608 (our own names)
        "WHERE first_day <= %s AND (last_day IS NULL OR last_day >= %s)"
    )
    start = first.toordinal()
    return [
        SpanRow(
            patient,
            began + start,
            None if ended is None else ended + start,
            version,
            since + start,
            bool(is_paused),
            occasions,
        )
        for patient, began, ended, version, since, is_paused, occasions in _rows(
            sql, first, first, first, window.last_day, first
        )
    ]


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
    for patient, number, key, sets, high, times in lines.values_list(
        "version__patient", "version__number", "key", "sets", "amount_high", "sessions_per_day"
    ):
        most[patient][number][key] = sets * high * times
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


def _most(
    lines: Mapping[int, Mapping[str, int]], key: str, in_force: int, seen: Sequence[int | None]
) -> int:
    for number in (in_force, *seen, *reversed(list(lines))):
        if number is not None and key in lines.get(number, ()):
            return lines[number][key]
    raise ValueError(f"no version has a line {key}")
