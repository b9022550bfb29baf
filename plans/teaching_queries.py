"""Reads of teach-backs."""

from patients.models import Patient
from plans.models import TeachBack


def teach_backs(patient: Patient) -> dict[str, TeachBack]:
    """Return the newest teach-back of each line key that a patient ever had (one query)."""
    rows = (
        TeachBack.objects.filter(line__version__patient=patient)
        .select_related("line", "recorded_by")
        .order_by("recorded_at", "pk")
    )
    return {row.line.key: row for row in rows}
