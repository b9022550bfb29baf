"""Reads that only a review needs, as the plain values that computing takes."""

from datetime import date
from functools import cache
from pathlib import Path

from django.conf import settings
from django.db.models import Max

from logs.missed import ToldReason
from logs.models import MissedReason, ReviewRecord, Revision, SessionPair
from logs.pain import PainReport
from logs.thresholds import Thresholds, read_thresholds
from patients.assessment_queries import assessment_list
from patients.models import Patient
from plans.schedule import Window

THRESHOLDS = settings.BASE_DIR / "fixtures" / "thresholds.toml"


def clinic_limits() -> Thresholds:
    """Return the clinic's limits; read again when the file was changed."""
    return _limits(THRESHOLDS, THRESHOLDS.stat().st_mtime_ns)


@cache
def _limits(path: Path, changed_ns: int) -> Thresholds:
    return read_thresholds(path)


def pain_reports_in(patient: Patient, window: Window) -> tuple[PainReport, ...]:
    """Return the pains of the window's counting entries (one query)."""
    rows = Revision.objects.filter(
        patient=patient,
        is_current=True,
        entry__struck_at__isnull=True,
        day__range=(window.first_day, window.last_day),
    ).values_list("entry", "day", "pain_before", "pain_worst", "pain_after", "pain_next_morning")
    return tuple(
        PainReport(str(entry), day, before, worst, after, next_morning)
        for entry, day, before, worst, after, next_morning in rows.order_by()
    )


def reasons_in(patient: Patient, window: Window) -> tuple[ToldReason, ...]:
    """Return why sessions of the window were missed (one query)."""
    rows = MissedReason.objects.filter(
        patient=patient, day__range=(window.first_day, window.last_day)
    )
    return tuple(ToldReason(*row) for row in rows.values_list("day", "occasion", "reason"))


def words_on_pairs(patient: Patient) -> dict[frozenset[str], bool]:
    """Return pairs of entries with whether a person called them the same session (one query)."""
    rows = SessionPair.objects.filter(patient=patient).values_list("one", "other", "is_same")
    return {frozenset((str(one), str(other))): is_same for one, other, is_same in rows}


def last_review(patient: Patient) -> ReviewRecord | None:
    """Return the latest review on record (one query)."""
    return ReviewRecord.objects.filter(patient=patient).select_related("reviewed_by").first()


def last_review_days() -> dict[int, date]:
    """Return the day of each patient's latest review, by patient (one query)."""
    rows = ReviewRecord.objects.order_by().values("patient").annotate(latest=Max("day"))
    return dict(rows.values_list("patient", "latest"))


def assessed_days(patient: Patient, window: Window) -> tuple[date, ...]:
    """Return the days of the window on which a standing assessment was made (one query)."""
    days = assessment_list(patient).filter(
        superseded_by__isnull=True, measured_day__range=(window.first_day, window.last_day)
    )
    return tuple(sorted(set(days.values_list("measured_day", flat=True))))
