"""Writes of teach-backs."""

from datetime import date

from django.db import transaction
from django.utils import timezone

from clinic.actions import ActionRefused, write_audit
from clinic.models import User
from plans.models import Line, PlanVersion, TeachBack


@transaction.atomic
def record_teach_back(*, by: User, line: Line, shown: str, watch: str, today: date) -> TeachBack:
    """Record how the patient showed a line of an issued version, and what to watch."""
    if line.version.state != PlanVersion.State.ISSUED:
        raise ActionRefused("Issue the plan first: what the patient shows is what was issued.")
    record = TeachBack.objects.create(
        line=line,
        day=today,
        shown=shown,
        watch=watch.strip(),
        recorded_by=by,
        recorded_at=timezone.now(),
    )
    write_audit(
        user=by,
        verb="recorded teach-back",
        subject=f"{line.version} {line.key}",
        patient_id=line.version.patient_id,
        shown=shown,
    )
    return record
