"""Reads of assessments; rows become the plain values that computing takes."""

from functools import cache

from django.conf import settings
from django.db.models import QuerySet

from clinic.models import User
from patients.assessment import Method
from patients.measurement_error import ErrorRules, Taking, read_rules
from patients.measures_models import Assessment, MotionMeasure
from patients.models import Patient


@cache
def error_rules() -> ErrorRules:
    """Return the clinic's limits of measurement error; read once a process."""
    return read_rules(settings.BASE_DIR / "fixtures" / "measurement_error.toml")


def assessment_list(patient: Patient) -> QuerySet[Assessment]:
    """Return a patient's assessments, corrected ones too, latest first (one query)."""
    return (
        Assessment.objects.filter(patient=patient)
        .select_related("measured_by", "recorded_by", "supersedes", "superseded_by")
        .order_by("-measured_day", "-pk")
    )


def standing_assessments(patient: Patient) -> list[Assessment]:
    """Return the assessments that no correction replaced, latest first, with their measures.

    Five queries, however many there are.
    """
    return list(
        assessment_list(patient)
        .filter(superseded_by__isnull=True)
        .prefetch_related("motions", "grips", "tones", "activities")
    )


def assessment_of(patient: Patient, pk: int) -> Assessment | None:
    """Return one assessment of a patient, corrected or not, with its measures (five queries)."""
    return (
        assessment_list(patient)
        .filter(pk=pk)
        .prefetch_related("motions", "grips", "tones", "activities")
        .first()
    )


def motion_history(patient: Patient, motion: str) -> list[MotionMeasure]:
    """Return all measures of a motion, corrected ones too, latest first (one query)."""
    return list(
        MotionMeasure.objects.filter(assessment__patient=patient, motion=motion)
        .select_related("assessment__measured_by", "assessment__superseded_by")
        .order_by("-assessment__measured_day", "-assessment_id", "side")
    )


def latest_measures(patient: Patient) -> dict[tuple[str, str], MotionMeasure]:
    """Return the latest standing measure of each motion and side (one query)."""
    rows = (
        MotionMeasure.objects.filter(
            assessment__patient=patient, assessment__superseded_by__isnull=True
        )
        .select_related("assessment")
        .order_by("assessment__measured_day", "assessment_id")
    )
    return {(row.motion, row.side): row for row in rows}


def latest_pain_on_movement(patient: Patient) -> int | None:
    """Return the pain on movement of the latest assessment that asked for it (one query)."""
    return (
        Assessment.objects.filter(
            patient=patient, superseded_by__isnull=True, pain_on_movement__isnull=False
        )
        .order_by("-measured_day", "-pk")
        .values_list("pain_on_movement", flat=True)
        .first()
    )


def raters(patient: Patient) -> QuerySet[User]:
    """Return who may be named as having measured: the care team of today (one query)."""
    return User.objects.filter(
        care_teams__patient=patient, care_teams__until__isnull=True
    ).order_by("name", "pk")


def taking_of(assessment: Assessment, measure: MotionMeasure) -> Taking:
    """Return how a measure was taken. Someone named only in words is no known rater."""
    rater = str(assessment.measured_by_id) if assessment.measured_by_id else None
    return Taking(rater, Method(measure.method), measure.measured_in)
