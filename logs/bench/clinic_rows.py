"""Rows about the whole clinic: the caseload's figures, and what upkeep costs the writer."""

from collections.abc import Callable, Iterator
from contextlib import nullcontext
from datetime import timedelta
from itertools import count
from unittest.mock import patch
from uuid import uuid4

from django.conf import settings
from django.db import connection

from logs.actions import Outcome, Performed, Told, record_revision
from logs.bench.clinic import BenchClinic
from logs.bench.measuring import Job, Row, ratio
from logs.caseload import CaseloadRow, caseload
from logs.figures import READ_DAYS
from logs.queries import overseen_patients
from logs.thresholds import read_thresholds
from logs.upkeep import keep_all_days
from logs.windows import last_days
from plans.models import PlanVersion

WRITES_A_ROUND = 4

_LEAST = {"sqlite": "MIN", "postgresql": "LEAST"}
_DATE = {"sqlite": "'{}'", "postgresql": "DATE '{}'"}
_SUM_OF_SETS = {
    "sqlite": "(SELECT SUM(value) FROM json_each(p.amounts))",
    "postgresql": "(SELECT SUM(CAST(n AS integer)) FROM jsonb_array_elements_text(p.amounts) n)",
}

DONE_AND_DUE = """
WITH days(day, weekday) AS (VALUES {days}),
due AS (
  SELECT s.patient_id, d.day, (s.occasions >> (4 * d.weekday)) & 15 AS number
  FROM plans_duespan s
  JOIN days d ON d.day >= s.first_day AND (s.last_day IS NULL OR d.day <= s.last_day)
  WHERE NOT s.is_paused
)
SELECT due.patient_id, SUM(due.number), SUM({least}(due.number, COALESCE(k.numbered, 0)))
FROM due LEFT JOIN logs_keptday k ON k.patient_id = due.patient_id AND k.day = due.day
GROUP BY due.patient_id
"""
"""Due and done by patient over the kept days and spans, as one statement, and nothing else."""

OVER_LINE_ROWS = """
SELECT patient_id, COUNT(*), SUM(amount) FROM (
  SELECT e.patient_id, r.uuid, SUM({sum_of_sets}) AS amount
  FROM logs_performance p
  JOIN logs_revision r ON r.uuid = p.revision_id
  JOIN logs_entry e ON e.uuid = r.entry_id
  WHERE r.is_current AND e.struck_at IS NULL AND r.day BETWEEN {first} AND {last}
  GROUP BY e.patient_id, r.uuid
) AS sessions WHERE amount > 0 GROUP BY patient_id
"""
"""Sessions done and amounts by patient over the line rows, with nothing of what was due."""


def figures_of(clinic: BenchClinic) -> Callable[[], tuple[CaseloadRow, ...]]:
    """The caseload's figures of everyone, over 28 days."""
    patients = overseen_patients()
    limits = read_thresholds(settings.BASE_DIR / "fixtures" / "thresholds.toml")
    return lambda: caseload(
        patients,
        today_of={patient.pk: clinic.today for patient in patients},
        stops={},
        waiting=frozenset(),
        precautions_due=frozenset(),
        days=READ_DAYS,
        limits=limits,
    )


def caseload_rows(clinic: BenchClinic, rounds: int) -> Iterator[Row]:
    """The figures against two statements. LookupError where they don't say the same."""
    window = last_days(READ_DAYS, clinic.today)
    date = _DATE[connection.vendor].format
    days = ", ".join(f"({date(day)}, {day.weekday()})" for day in window.days())
    figures = figures_of(clinic)
    done_and_due = _statement(DONE_AND_DUE.format(days=days, least=_LEAST[connection.vendor]))
    summed = {patient: (due, done) for patient, due, done in done_and_due()}
    for row in figures():
        if row.sessions.held:  # the statement knows of no stop signs, nor of what they hold
            continue
        sums = (row.sessions.due, row.sessions.done)
        if summed.get(row.patient.pk, (0, 0)) != sums:
            raise LookupError(f"{row.patient.clinic_number}: {sums} is not what SQL finds")
    name = f"caseload figures of {clinic.patients} patients over {READ_DAYS} days"
    yield ratio(
        f"{name} ÷ done and due by SQL over kept days and spans",
        figures,
        done_and_due,
        limit=1.3,
        rounds=rounds,
    )
    over_lines = OVER_LINE_ROWS.format(
        sum_of_sets=_SUM_OF_SETS[connection.vendor],
        first=date(window.first_day),
        last=date(window.last_day),
    )
    yield ratio(
        f"{name} ÷ sessions and amounts by SQL over the line rows",
        figures,
        _statement(over_lines),
        limit=1 / 15,
        rounds=max(3, rounds // 3) if rounds > 1 else 1,
    )


def _statement(sql: str) -> Callable[[], list[tuple[int, ...]]]:
    def run() -> list[tuple[int, ...]]:
        with connection.cursor() as cursor:
            cursor.execute(sql)
            rows: list[tuple[int, ...]] = cursor.fetchall()
            return rows

    return run


def write_row(clinic: BenchClinic, rounds: int) -> Row:
    """What it costs the writer of an entry to keep its day."""
    with_upkeep, without = _write(clinic, is_kept=True), _write(clinic, is_kept=False)
    row = ratio(
        "entry stored with upkeep of its day ÷ the same without",
        with_upkeep,
        without,
        limit=1.3,
        rounds=rounds * 3,
    )
    keep_all_days([clinic.patient.pk])
    return row


def _write(clinic: BenchClinic, *, is_kept: bool) -> Job:
    """Store sessions of all lines of the latest version, on one day after another."""
    versions = PlanVersion.objects.filter(patient=clinic.patient, state=PlanVersion.State.ISSUED)
    version = versions.filter(lines__isnull=False).latest("number")
    lines = list(version.lines.all())
    numbers = count()

    def write() -> None:
        untouched = nullcontext() if is_kept else patch("logs.actions.keep_days")
        with untouched:
            for _ in range(WRITES_A_ROUND):
                number = next(numbers)
                told = Told(
                    day=clinic.today + timedelta(days=2 * (number // 2) + (not is_kept)),
                    occasion=1 + number % 2,
                    source="phone",
                    version=version,
                    performances=tuple(
                        Performed(line, (line.amount_low,) * line.sets) for line in lines
                    ),
                    pain_worst=number % 11,
                )
                outcome = record_revision(
                    patient=clinic.patient,
                    entry=uuid4(),
                    revision=uuid4(),
                    replaces=None,
                    told=told,
                )
                if outcome is not Outcome.STORED:
                    raise LookupError(f"an entry was not stored: {outcome}")

    return write


def forget_older_half(clinic: BenchClinic) -> None:
    """Take the older half of the weeks out of what the caseload reads."""
    middle = (clinic.today - timedelta(days=7 * clinic.weeks // 2)).isoformat()
    with connection.cursor() as cursor:
        for table in ("logs_keptday", "logs_heardday"):
            cursor.execute(f"DELETE FROM {table} WHERE day < %s", [middle])  # noqa: S608
        cursor.execute("VACUUM")
        cursor.execute("ANALYZE")
