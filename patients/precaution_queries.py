"""Reads of precautions, and of the clinic's protocols."""

from collections.abc import Mapping
from datetime import date

from django.conf import settings
from django.db.models import QuerySet

from patients.models import Patient
from patients.precaution_models import Precaution
from patients.precaution_protocols import Protocol, read_protocols
from patients.precautions import Standing


def precaution_list(patient: Patient) -> QuerySet[Precaution]:
    """Return a patient's precautions, lifted ones too, as they were set (two queries)."""
    return (
        Precaution.objects.filter(patient=patient)
        .select_related("episode", "recorded_by", "lifted_by")
        .prefetch_related("reviews__reviewed_by")
        .order_by("pk")
    )


def precautions_on(patient: Patient, day: date) -> list[Precaution]:
    """Return the precautions that hold on a day, hard ones first.

    One query where there are none, else two. What is past its review holds until it is lifted.
    """
    holding = (Standing.HOLDS, Standing.REVIEW)
    rows = (
        Precaution.objects.filter(patient=patient, lifted_at__isnull=True)
        .select_related("episode")
        .prefetch_related("reviews")
    )
    return sorted(
        (row for row in rows if row.standing(day) in holding),
        key=lambda row: (not row.is_hard, row.pk),
    )


def precautions_due(today_of: Mapping[int, date]) -> frozenset[int]:
    """Return the patients with a precaution that asks to be looked at again (two queries).

    ``today_of`` has each patient's own present day.
    """
    rows = (
        Precaution.objects.filter(lifted_at__isnull=True)
        .exclude(until_day=None, until_week=None)
        .select_related("episode")
        .prefetch_related("reviews")
    )
    return frozenset(
        row.patient_id
        for row in rows
        if row.patient_id in today_of and row.standing(today_of[row.patient_id]) is Standing.REVIEW
    )


def protocols() -> tuple[tuple[Protocol, ...], tuple[str, ...]]:
    """Return the clinic's protocols, read afresh, and what is wrong with files left out."""
    return read_protocols(settings.BASE_DIR / "fixtures" / "protocols")


def protocol_of(key: str) -> Protocol | None:
    """Return the protocol with that key."""
    return next((protocol for protocol in protocols()[0] if protocol.key == key), None)
