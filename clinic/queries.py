"""Reads of the clinic's own rows."""

from django.db.models import QuerySet

from clinic.models import AuditRow, ClinicProfile, User

OPENED = "opened"
"""The verb of an audit row that tells of reading."""


def clinic_profile() -> ClinicProfile:
    """Return the clinic's one profile, or its defaults before set-up (one query)."""
    return ClinicProfile.objects.filter(pk=1).first() or ClinicProfile(pk=1)


def staff() -> QuerySet[User]:
    """Return everyone with an account, by name."""
    return User.objects.order_by("-is_active", "name", "pk")


def patient_history(patient_id: int, limit: int) -> list[AuditRow]:
    """Return what was changed about a patient, latest first (one query)."""
    return list(AuditRow.objects.filter(patient=patient_id).exclude(verb=OPENED)[:limit])


def patient_readers(patient_id: int, limit: int) -> list[AuditRow]:
    """Return who opened a patient's pages, latest first (one query)."""
    return list(AuditRow.objects.filter(patient=patient_id, verb=OPENED)[:limit])
