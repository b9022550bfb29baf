"""Writes of assessments: recorded once, corrected only by another record."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from django.db import transaction
from django.utils import timezone

from clinic.actions import ActionRefused, write_audit
from clinic.models import User
from patients.measures_models import (
    ActivityScore,
    Assessment,
    GripMeasure,
    MotionMeasure,
    ToneMeasure,
)
from patients.models import Patient


@dataclass
class Measures:
    """The unsaved rows of one assessment."""

    motions: Sequence[MotionMeasure] = field(default_factory=list)
    grips: Sequence[GripMeasure] = field(default_factory=list)
    tones: Sequence[ToneMeasure] = field(default_factory=list)
    activities: Sequence[ActivityScore] = field(default_factory=list)


@transaction.atomic
def record_assessment(
    *,
    by: User | None,
    patient: Patient,
    assessment: Assessment,
    measures: Measures,
    today: date,
    actor: str = "",
) -> Assessment:
    """Record an assessment, or a correction of the one that ``assessment.supersedes`` names.

    Refused for a day to come, and for a correction of what was already corrected.
    """
    if assessment.measured_day > today:
        raise ActionRefused("An assessment can't be of a day to come.")
    corrected = assessment.supersedes
    if corrected is not None:
        if corrected.patient_id != patient.pk:
            raise ActionRefused("That assessment is another patient's.")
        if Assessment.objects.filter(supersedes=corrected).exists():
            raise ActionRefused(
                "This assessment was corrected already. Open the correction and correct that one."
            )
        if not assessment.correction_reason.strip():
            raise ActionRefused("Write why it is corrected.")
    assessment.patient = patient
    assessment.recorded_by = by
    assessment.recorded_at = timezone.now()
    assessment.save(force_insert=True)
    for rows in (measures.motions, measures.grips, measures.tones, measures.activities):
        for row in rows:
            row.assessment = assessment
    MotionMeasure.objects.bulk_create(measures.motions)
    GripMeasure.objects.bulk_create(measures.grips)
    ToneMeasure.objects.bulk_create(measures.tones)
    ActivityScore.objects.bulk_create(measures.activities)
    write_audit(
        user=by,
        actor=actor,
        verb="corrected assessment" if corrected else "recorded assessment",
        subject=f"{assessment.measured_day}",
        patient_id=patient.pk,
        measured_by=assessment.measurer,
        reason=assessment.correction_reason,
    )
    return assessment
