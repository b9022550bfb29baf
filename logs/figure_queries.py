"""Reads of what is kept ready, for all patients at once: a column a fact, not a row a day.

Counting a clinic's days in Python takes most of its time to carry rows out of the database. So
each column comes as one text of whole numbers, in the same order as the others.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import date, timedelta
from uuid import UUID

import numpy as np
from django.db import connection

from logs.counting import DaySessions, Performance, Session, counted_sessions
from logs.done_text import Known
from logs.figures import (
    READ_DAYS,
    DayColumns,
    Figures,
    Integers,
    KeptColumns,
    PhoneColumns,
    SpanColumns,
    Unclear,
)
from logs.models import KeptDay, Revision, SessionPair
from logs.queries import Head, in_order, session_of
from logs.stop_queries import holds_by_patient, partial_days
from plans.models import Line, PlanVersion
from plans.queries import MOST_PER_DAY
from plans.schedule import Window

_ORDINAL = {
    # Ordinal 1, 1 January of year 1, began at 1721425.5.
    "sqlite": "CAST(julianday({}) AS integer) - 1721424",
    "postgresql": "{} - DATE '0001-01-01' + 1",
}
_FOREVER = date.max.toordinal()
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
_TEXT_OF_ALL = {
    "sqlite": "group_concat({})",
    "postgresql": "string_agg(CAST({} AS text), ',')",
}


def figures_of(
    today_of: Mapping[int, date], days: int = READ_DAYS, of: int | None = None
) -> Figures:
    """Return the figures of patients, each up to their own present day, with all that is kept.

    ``of`` is the one patient to read, None for all. Five queries, two more where a day was held in
    part.
    """
    todays = today_of.values()
    read = Window(min(todays) - timedelta(days=days - 1), max(todays))
    figures = Figures(today_of, days)
    figures.add_spans(span_columns(read, of))
    figures.add_kept(kept_columns(read, of))
    holds = holds_by_patient(read, of)
    figures.add_holds(holds, numbers_done(partial_days(holds)))
    figures.add_heard(marked_days(read, of), phone_days(of))
    return figures


def _columns(
    rows: str, *values: str, of: int | None, between: Window | None = None
) -> list[Integers]:
    """All rows' whole numbers, by value; none may be NULL, as a text of all leaves it out.

    ``rows`` is a table with its condition, which takes the ends of ``between``, if any.
    """
    texts = ", ".join(_TEXT_OF_ALL[connection.vendor].format(value) for value in values)
    given: list[str | int] = []
    if between:
        given += [between.first_day.isoformat(), between.last_day.isoformat()]
    if of is not None:
        rows, given = f"{rows} AND patient_id = %s", [*given, of]
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {texts} FROM {rows}", given)  # noqa: S608 (our own names)
        return [np.fromstring(text or "", dtype=np.int64, sep=",") for text in cursor.fetchone()]


def _day(column: str) -> str:
    """A day's ordinal."""
    return f"({_ORDINAL[connection.vendor].format(column)})"


def kept_columns(window: Window, of: int | None = None) -> KeptColumns:
    """Return what is kept of patients' days in the window, at most 1,024 days (one query).

    It is the longest read of all, and texts of numbers cost by their digits: so what is small is
    packed. A day of 1,024, a pain of 16 (one more than the score, 0 for none) and three small
    integers of 15 bits, the last two from bit 32 on, where PostgreSQL takes the factors as long
    integers.
    """
    first = window.first_day.toordinal()
    patient, facts, more = _columns(
        "logs_keptday WHERE day BETWEEN %s AND %s",
        "patient_id",
        f"{_day('day')} - {first} + 1024 * (COALESCE(pain_worst, -1) + 1) + 16384 * numbered"
        " + 4294967296 * beside + 140737488355328 * beyond",
        "COALESCE(version, 0) + 2147483648 * repetitions",
        between=window,
        of=of,
    )
    return KeptColumns(
        patient=patient,
        day=(facts & 1023) + first,
        pain_worst=(facts >> 10 & 15) - 1,
        numbered=facts >> 14 & 32767,
        beside=facts >> 32 & 32767,
        beyond=facts >> 47,
        version=more & 2147483647,
        repetitions=more >> 31,
    )


def marked_days(window: Window, of: int | None = None) -> DayColumns:
    """Return the days marked heard (one query)."""
    rows = "logs_heardday WHERE day BETWEEN %s AND %s"
    return DayColumns(*_columns(rows, "patient_id", _day("day"), between=window, of=of))


def phone_days(of: int | None = None) -> PhoneColumns:
    """Return which days the phones of patients can speak for (one query)."""
    # The day on which a replacing store was made may have begun in the one before it.
    return PhoneColumns(
        *_columns(
            "patients_phone p LEFT JOIN patients_phonestore s ON s.phone_id = p.id WHERE 1 = 1",
            "patient_id",
            "p.id",
            _day("enrolled_day"),
            f"COALESCE({_day('revoked_day')} + 1, {_FOREVER})",
            f"COALESCE({_day('made_day')} + CASE WHEN is_first THEN 0 ELSE 1 END, 0)",
            f"COALESCE({_day('last_empty_day')}, 0)",
            of=of,
        )
    )


def span_columns(window: Window, of: int | None = None) -> SpanColumns:
    """Return the spans of patients' plans that touch the window (one query)."""
    return SpanColumns(
        *_columns(
            "plans_duespan WHERE (last_day IS NULL OR last_day >= %s) AND first_day <= %s",
            "patient_id",
            _day("first_day"),
            "version",
            _day("since"),
            "CAST(is_paused AS integer)",
            "occasions",
            between=window,
            of=of,
        )
    )


def worst_pains(patients: Collection[int], window: Window) -> dict[int, list[tuple[date, int]]]:
    """Return the highest worst pain of the days of some patients that have one (one query)."""
    found: dict[int, list[tuple[date, int]]] = defaultdict(list)
    rows = KeptDay.objects.filter(
        patient__in=patients,
        day__range=(window.first_day, window.last_day),
    )
    for patient, day, score in rows.order_by("day").values_list("patient", "day", "pain_worst"):
        if score is not None:
            found[patient].append((day, score))
    return found


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
    judged: dict[tuple[int, date], int] = {}
    for (patient, day), sessions in _sessions_done(in_force).items():
        recorded: Counter[str] = Counter()
        seen: dict[str, list[int | None]] = defaultdict(list)
        for session in sessions:
            for performance in session.performances:
                if performance.amount:
                    recorded[performance.line_key] += performance.amount
                    seen[performance.line_key].append(session.version)
        judged[patient, day] = sum(
            amount > _most(most[patient], key, in_force[patient, day], seen[key])
            for key, amount in recorded.items()
        )
    return judged


def numbers_done(
    days: Collection[tuple[int, date]],
) -> dict[tuple[int, date], tuple[int, ...]]:
    """Return the numbers of the sessions done on days of patients, each session counted once.

    Two queries, none without any day.
    """
    return {
        day: tuple(session.number for session in sessions if session.number is not None)
        for day, sessions in _sessions_done(days).items()
    }


def _sessions_done(
    days: Collection[tuple[int, date]],
) -> dict[tuple[int, date], tuple[Session, ...]]:
    """The sessions done on days of patients, each counted once (two queries, none without any)."""
    if not days:
        return {}
    patients = {patient for patient, _ in days}
    rows = Revision.objects.filter(
        patient__in=patients,
        day__in={day for _, day in days},
        is_current=True,
        entry__struck_at__isnull=True,
    ).order_by()
    known = Known()
    done: dict[UUID | str, tuple[Performance, ...]] = {}
    heads: list[Head] = []
    for *head, text in rows.values_list(*_HEAD, "done"):
        heads.append(Head(*head))
        done[head[0]] = tuple(line.performance for line in known.lines(text))
    told: dict[tuple[int, date], list[Session]] = defaultdict(list)
    for order, each in enumerate(in_order(heads)):
        told[each.patient, each.day].append(session_of(each, order, done[each.revision]))
    two = SessionPair.objects.filter(patient__in=patients, is_same=False)
    apart = {frozenset(map(str, pair)) for pair in two.values_list("one", "other")}
    nothing = DaySessions((), ())
    return {
        (patient, day): counted_sessions(told.get((patient, day), ()), Window(day, day), apart)
        .get(day, nothing)
        .sessions
        for patient, day in days
    }


def _most(
    lines: Mapping[int, Mapping[str, int]], key: str, in_force: int, seen: Sequence[int | None]
) -> int:
    for number in (in_force, *seen, *reversed(list(lines))):
        if number is not None and key in lines.get(number, ()):
            return lines[number][key]
    raise ValueError(f"no version has a line {key}")
