"""Overrides of hard precautions: judged before a version is issued, kept with their evidence."""

from collections.abc import Collection, Mapping

from django.utils import timezone

from clinic.actions import ActionRefused, write_audit
from clinic.models import User
from plans.models import Line, PlanVersion
from plans.safety_models import MAY_OVERRIDE, PrecautionOverride
from plans.safety_queries import OverrideKey, Safety, title_of


def judged_overrides(
    by: User,
    safety: Safety,
    lines: Collection[Line],
    overrides: Mapping[OverrideKey, str],
    confirmed: Collection[str],
) -> dict[OverrideKey, str]:
    """Return the reason for each hard finding; refused while one has none, or no one to give it."""
    titles = {line.key: title_of(line) for line in lines}
    if safety.hard and by.role not in MAY_OVERRIDE:
        raise ActionRefused(
            "A line breaks a hard precaution. Change it, or ask a therapist or a supervisor."
        )
    reasons = {about: overrides.get(about, "").strip() for about in safety.hard}
    for (line_key, precaution), reason in reasons.items():
        if not reason:
            finding = safety.hard[line_key, precaution][0]
            limit = finding.limit.words if finding.limit else ""
            raise ActionRefused(
                f"{titles[line_key]}: {finding.words} Precaution: {limit}. "
                "Change the line, or write why it is issued all the same."
            )
    unconfirmed = [titles[key] for key in safety.unchecked if key not in confirmed]
    if unconfirmed:
        raise ActionRefused(
            f"Confirm that {'; '.join(unconfirmed)} keep to the precautions: "
            "the model can't check that."
        )
    return reasons


def keep_overrides(
    *, by: User, version: PlanVersion, safety: Safety, reasons: Mapping[OverrideKey, str]
) -> None:
    """Keep who let what pass and why; call it inside the transaction of the issue."""
    for (line_key, precaution), reason in reasons.items():
        PrecautionOverride.objects.create(
            version=version,
            line_key=line_key,
            precaution_id=precaution,
            reason=reason,
            evidence=[finding.evidence for finding in safety.hard[line_key, precaution]],
            role=by.role,
            made_by=by,
            made_at=version.issued_at or timezone.now(),
        )
        write_audit(
            user=by,
            verb="overrode precaution",
            subject=f"{version} {line_key}",
            patient_id=version.patient_id,
            precaution=precaution,
            reason=reason,
        )
    if safety.unchecked:
        write_audit(
            user=by,
            verb="confirmed unchecked lines",
            subject=str(version),
            patient_id=version.patient_id,
            lines=list(safety.unchecked),
        )
