"""Withdrawing a line or a plan at once, and keeping that the patient was told."""

from collections.abc import Sequence
from datetime import date

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from clinic.actions import ActionRefused, write_audit
from clinic.models import User
from patients.models import Patient
from plans.actions import COPIED_FIELDS, put_in_force
from plans.models import Line, PlanVersion
from plans.queries import open_version, version_in_force, versions_of
from plans.safety_models import PrecautionOverride, Withdrawal
from plans.safety_queries import standing_overrides, title_of

WHOLE_PLAN = "the whole plan"


@transaction.atomic
def withdraw(
    *, by: User, patient: Patient, reason: str, today: date, line_key: str = ""
) -> Withdrawal:
    """Take a line, or without a key the whole plan, back from today on; nobody signs for that.

    The plan in force, and one that is to come, are issued again without the line. What is open is
    numbered after them and loses the line too; what waits for a signature goes back as a draft.
    """
    if not reason.strip():
        raise ActionRefused("Write why it is withdrawn.")
    bases = _issued_from(patient, today)
    if line_key:
        with_it = [n for n, base in enumerate(bases) if _line_of(base, line_key)]
        if not with_it:
            raise ActionRefused("That line is no longer in the plan.")
        bases = bases[with_it[0] :]
        line = _line_of(bases[0], line_key)
        title = title_of(line) if line else line_key
    elif not any(base.lines.all() for base in bases):
        raise ActionRefused("There is no plan to withdraw.")
    else:
        bases, title = bases[:1], WHOLE_PLAN
    _make_room(by, patient, len(bases), line_key, title)
    versions = [
        _issue_without(by, base, line_key, today, f"Stop: {title}."[:300]) for base in bases
    ]
    withdrawal = Withdrawal.objects.create(
        version=versions[0],
        line_key=line_key,
        title=title[:200],
        reason=reason.strip(),
        made_by=by,
        made_at=timezone.now(),
    )
    write_audit(
        user=by,
        verb="withdrew",
        subject=title,
        patient_id=patient.pk,
        reason=reason.strip(),
        version=versions[0].number,
    )
    return withdrawal


def _issued_from(patient: Patient, today: date) -> list[PlanVersion]:
    """The version in force and those that are to come after it, in order."""
    in_force = version_in_force(patient, today)
    number = in_force.number if in_force else 0
    coming = versions_of(patient).filter(state=PlanVersion.State.ISSUED, number__gt=number)
    return [*([in_force] if in_force else []), *coming.order_by("number")]


def _line_of(version: PlanVersion, key: str) -> Line | None:
    return next((line for line in version.lines.all() if line.key == key), None)


def _make_room(by: User, patient: Patient, count: int, line_key: str, title: str) -> None:
    """Number what is open after the versions to be made, and take the line out of it."""
    version = open_version(patient)
    if version is None:
        return
    changes: dict[str, object] = {"number": version.number + count, "edits": F("edits") + 1}
    line = _line_of(version, line_key) if line_key else None
    if version.state == PlanVersion.State.WAITING and (line or not line_key):
        changes |= {
            "state": PlanVersion.State.DRAFT,
            "sent_back_note": f"Withdrawn meanwhile: {title}."[:300],
        }
    PlanVersion.objects.filter(pk=version.pk).update(**changes)
    if line:
        line.delete()
        write_audit(
            user=by,
            verb="removed line",
            subject=f"version {version.number + count} {line_key}",
            patient_id=patient.pk,
        )


def _issue_without(
    by: User, base: PlanVersion, line_key: str, today: date, sentence: str
) -> PlanVersion:
    """Issue a version again without a line; without a key, without any."""
    kept = [line for line in base.lines.all() if line_key and line.key != line_key]
    last = (
        PlanVersion.objects.filter(patient=base.patient_id, state=PlanVersion.State.ISSUED)
        .order_by("-number")
        .values_list("number", flat=True)[0]
    )
    version = PlanVersion.objects.create(
        patient_id=base.patient_id,
        number=last + 1,
        withdraws=True,
        pain_limit=base.pain_limit,
        made_by=by,
        made_at=timezone.now(),
    )
    Line.objects.bulk_create(
        Line(version=version, **{field: getattr(line, field) for field in COPIED_FIELDS})
        for line in kept
    )
    put_in_force(
        by=by,
        version=version,
        effective_day=max(today, base.effective_day or today),
        pain_limit=base.pain_limit,
        change_sentence=sentence,
    )
    _carry_overrides(base, version, [line.key for line in kept])
    return version


def _carry_overrides(base: PlanVersion, version: PlanVersion, keys: Sequence[str]) -> None:
    """Keep what was overridden for the lines that stay, naming where it was."""
    for old in standing_overrides(base).filter(line_key__in=keys):
        carried = {"carried_over_from": str(base), "made_at": old.made_at.isoformat()}
        PrecautionOverride.objects.create(
            version=version,
            line_key=old.line_key,
            precaution=old.precaution,
            reason=old.reason,
            evidence=[*old.evidence, carried],
            role=old.role,
            made_by=old.made_by,
            made_at=version.issued_at or timezone.now(),
        )


@transaction.atomic
def mark_told(*, by: User, withdrawal: Withdrawal, how: str) -> Withdrawal:
    """Keep that the patient was told of a withdrawal, and how."""
    if not how.strip():
        raise ActionRefused("Write how the patient was told, and what of the paper sheet.")
    changed = Withdrawal.objects.filter(pk=withdrawal.pk, told_at__isnull=True).update(
        told_at=timezone.now(), told_by=by, told_how=how.strip()
    )
    if not changed:
        raise ActionRefused("Somebody has marked the patient as told already.")
    write_audit(
        user=by,
        verb="told patient",
        subject=withdrawal.title,
        patient_id=withdrawal.version.patient_id,
        how=how.strip(),
    )
    withdrawal.refresh_from_db()
    return withdrawal
