"""Reads that only a review needs, as the plain values that computing takes."""

from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from django.conf import settings
from django.db import connection

from logs.missed import ToldReason
from logs.pain import PainReport
from logs.queries import dashed
from logs.thresholds import Thresholds, read_thresholds
from patients.models import Patient
from plans.schedule import Window

THRESHOLDS = settings.BASE_DIR / "fixtures" / "thresholds.toml"


def clinic_limits() -> Thresholds:
    """Return the clinic's limits; read again when the file was changed."""
    return _limits(THRESHOLDS, THRESHOLDS.stat().st_mtime_ns)


@cache
def _limits(path: Path, changed_ns: int) -> Thresholds:
    return read_thresholds(path)


# Plain statements, as every review waits for them.
_PAINS = """
SELECT r.entry_id, r.day, r.pain_before, r.pain_worst, r.pain_after, r.pain_next_morning
FROM logs_revision r JOIN logs_entry e ON e.uuid = r.entry_id
WHERE r.patient_id = %s AND r.is_current AND e.struck_at IS NULL AND r.day BETWEEN %s AND %s
"""
_REASONS = """
SELECT day, occasion, reason FROM logs_missedreason
WHERE patient_id = %s AND day BETWEEN %s AND %s ORDER BY id
"""
_PAIRS = "SELECT one_id, other_id, is_same FROM logs_sessionpair WHERE patient_id = %s ORDER BY id"
_ASSESSED = """
SELECT DISTINCT a.measured_day FROM patients_assessment a
WHERE a.patient_id = %s AND a.measured_day BETWEEN %s AND %s
  AND NOT EXISTS (SELECT 1 FROM patients_assessment later WHERE later.supersedes_id = a.id)
ORDER BY a.measured_day
"""


def _rows(sql: str, patient: Patient, window: Window | None = None) -> list[tuple[Any, ...]]:
    ends = [window.first_day.isoformat(), window.last_day.isoformat()] if window else []
    with connection.cursor() as cursor:
        cursor.execute(sql, [patient.pk, *ends])
        rows: list[tuple[Any, ...]] = cursor.fetchall()
        return rows


def pain_reports_in(patient: Patient, window: Window) -> tuple[PainReport, ...]:
    """Return the pains of the window's counting entries (one query)."""
    return tuple(
        PainReport(dashed(entry), *scores) for entry, *scores in _rows(_PAINS, patient, window)
    )


def reasons_in(patient: Patient, window: Window) -> tuple[ToldReason, ...]:
    """Return why sessions of the window were missed (one query)."""
    return tuple(ToldReason(*row) for row in _rows(_REASONS, patient, window))


def days_with_reason(patient: Patient, window: Window) -> tuple[str, ...]:
    """Return the days (ISO 8601) of which it is known why sessions were missed (one query)."""
    return tuple(sorted({told.day.isoformat() for told in reasons_in(patient, window)}))


def words_on_pairs(patient: Patient) -> dict[frozenset[str], bool]:
    """Return pairs of entries with whether a person called them the same session (one query)."""
    return {
        frozenset((dashed(one), dashed(other))): bool(is_same)
        for one, other, is_same in _rows(_PAIRS, patient)
    }


def assessed_days(patient: Patient, window: Window) -> tuple[date, ...]:
    """Return the days of the window on which a standing assessment was made (one query)."""
    return tuple(day for (day,) in _rows(_ASSESSED, patient, window))


class LastReview(NamedTuple):
    """The latest review on record."""

    day: date
    note: str
    by: str


_LAST_REVIEW = """
SELECT w.day, w.note, u.name FROM logs_reviewrecord w JOIN clinic_user u ON u.id = w.reviewed_by_id
WHERE w.patient_id = %s ORDER BY w.day DESC, w.id DESC LIMIT 1
"""


def last_review(patient: Patient) -> LastReview | None:
    """Return the latest review on record (one query)."""
    rows = _rows(_LAST_REVIEW, patient)
    return LastReview(*rows[0]) if rows else None


def last_review_days() -> dict[int, date]:
    """Return the day of each patient's latest review, by patient (one query)."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT patient_id, day FROM logs_reviewrecord ORDER BY day")
        return dict(cursor.fetchall())
