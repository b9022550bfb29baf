"""Reads that only a review needs, as the plain values that computing takes."""

from collections import defaultdict
from functools import cache
from pathlib import Path

from django.conf import settings

from logs.models import Performance, Revision
from logs.pain import PainReport
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


def lines_that_hurt(patient: Patient, window: Window) -> dict[str, tuple[str, ...]]:
    """Return the keys of the lines that pain was named with, by entry (one query)."""
    found: dict[str, list[str]] = defaultdict(list)
    rows = (
        Performance.objects.filter(
            hurt=True,
            revision__patient=patient,
            revision__is_current=True,
            revision__entry__struck_at__isnull=True,
            revision__day__range=(window.first_day, window.last_day),
        )
        .order_by("line__position", "pk")
        .values_list("revision__entry", "line__key")
    )
    for entry, key in rows:
        found[str(entry)].append(key)
    return {entry: tuple(keys) for entry, keys in found.items()}


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
