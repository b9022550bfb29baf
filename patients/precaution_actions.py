"""Writes of precautions: set, kept, lifted; one transaction and one audit row each."""

from collections.abc import Iterable
from datetime import date

from django.db import transaction
from django.utils import timezone

from clinic.actions import ActionRefused, write_audit
from clinic.models import User
from patients.precaution_models import Precaution, PrecautionReview
from patients.precautions import Kind


@transaction.atomic
def set_precaution(*, by: User, precaution: Precaution) -> Precaution:
    """Set a precaution; it holds from its day on, for plans issued before it too."""
    if precaution.kind == Kind.TOGETHER and len(precaution.together) < 2:
        raise ActionRefused("Name at least two motions that are forbidden together.")
    precaution.recorded_by, precaution.recorded_at = by, timezone.now()
    precaution.save(force_insert=True)
    write_audit(
        user=by,
        verb="set precaution",
        subject=precaution.limit.words,
        patient_id=precaution.patient_id,
        precaution=precaution.pk,
        hard=precaution.is_hard,
    )
    return precaution


@transaction.atomic
def set_precautions(*, by: User, precautions: Iterable[Precaution]) -> list[Precaution]:
    """Set several precautions, all or none."""
    return [set_precaution(by=by, precaution=precaution) for precaution in precautions]


@transaction.atomic
def lift_precaution(*, by: User, precaution: Precaution, why: str) -> Precaution:
    """Lift a precaution for good; a student can't."""
    _may_judge(by)
    if not why.strip():
        raise ActionRefused("Write why it is lifted: who cleared it, on what ground.")
    precaution.lifted_at, precaution.lifted_by = timezone.now(), by
    precaution.lifted_why = why.strip()
    changed = Precaution.objects.filter(pk=precaution.pk, lifted_at__isnull=True).update(
        lifted_at=precaution.lifted_at, lifted_by=by, lifted_why=precaution.lifted_why
    )
    if not changed:
        raise ActionRefused("This precaution is lifted already.")
    write_audit(
        user=by,
        verb="lifted precaution",
        subject=precaution.limit.words,
        patient_id=precaution.patient_id,
        precaution=precaution.pk,
        why=precaution.lifted_why,
    )
    return precaution


@transaction.atomic
def keep_precaution(
    *, by: User, precaution: Precaution, until_day: date, why: str, today: date
) -> PrecautionReview:
    """Keep a precaution and say when to look at it again."""
    if Precaution.objects.filter(pk=precaution.pk, lifted_at__isnull=False).exists():
        raise ActionRefused("This precaution is lifted already. Set it again to have it back.")
    if until_day <= today:
        raise ActionRefused("Choose a day after today on which to look at it again.")
    if not why.strip():
        raise ActionRefused("Write why it stays.")
    review = PrecautionReview.objects.create(
        precaution=precaution,
        until_day=until_day,
        why=why.strip(),
        reviewed_by=by,
        reviewed_at=timezone.now(),
    )
    write_audit(
        user=by,
        verb="kept precaution",
        subject=precaution.limit.words,
        patient_id=precaution.patient_id,
        precaution=precaution.pk,
        until=until_day.isoformat(),
    )
    return review


def _may_judge(by: User) -> None:
    if by.needs_signature or not by.may_treat:
        raise ActionRefused("A therapist or a supervisor lifts a precaution.")
