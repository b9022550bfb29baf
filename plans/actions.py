"""Writes of plans: one function a verb, one transaction, one audit row.

Each refusal is an ActionRefused whose message says what to do.
"""

from collections.abc import Collection, Mapping, Sequence
from datetime import date

from django.db import transaction
from django.db.models import F, Max
from django.utils import timezone

from clinic.actions import ActionRefused, write_audit
from clinic.models import User
from clinic.queries import clinic_profile
from patients.models import Patient
from patients.motions import Effort
from patients.precaution_queries import precautions_on
from plans.models import ExerciseRevision, Line, Pause, PlanVersion, UnitChoice
from plans.override_actions import judged_overrides, keep_overrides
from plans.queries import exercise_of, lines_of, open_version, version_in_force
from plans.safety_queries import (
    OverrideKey,
    against_more,
    easier_step,
    line_gaps,
    safety_of,
    title_of,
    usual_pain_limit,
)
from plans.span_actions import keep_due_spans

COPIED_FIELDS = (
    "key",
    "position",
    "revision",
    "step",
    "side",
    "unit",
    "sets",
    "amount_low",
    "amount_high",
    "hold_s",
    "pace_s",
    "rest_s",
    "load_g",
    "load_means",
    "sessions_per_day",
    "weekdays",
    "orthosis",
    "stop_motion",
    "stop_deg",
    "easier_allowed",
    "more_if_easy",
    "note_patient",
    "note_staff",
    "episode",
    "home_helper",
)
"""What a line takes along into the next version."""


@transaction.atomic
def start_draft(*, by: User | None, patient: Patient, today: date) -> PlanVersion:
    """Return the open draft, or a new one with the lines of the version in force.

    An invitation to do more is not taken along while something speaks against it.
    Refused while a version waits for a signature.
    """
    present = open_version(patient)
    if present:
        if present.state == PlanVersion.State.WAITING:
            raise ActionRefused(
                f"Version {present.number} waits for a countersignature. "
                "Have it signed or sent back first."
            )
        return present
    base = version_in_force(patient, today) or _latest_issued(patient)
    pain_limit = base.pain_limit if base else usual_pain_limit(patient, today)
    draft = new_draft(by=by, patient=patient, pain_limit=pain_limit)
    if base:
        lines = [
            Line(version=draft, **{field: getattr(line, field) for field in COPIED_FIELDS})
            for line in base.lines.all()
        ]
        if any(line.more_if_easy for line in lines) and against_more(
            patient, today, precautions_on(patient, today)
        ):
            for line in lines:
                line.more_if_easy = False
        Line.objects.bulk_create(lines)
    write_audit(user=by, verb="started draft", subject=str(draft), patient_id=patient.pk)
    return draft


def _latest_issued(patient: Patient) -> PlanVersion | None:
    return (
        PlanVersion.objects.filter(patient=patient, state=PlanVersion.State.ISSUED)
        .order_by("-number")
        .first()
    )


def new_draft(
    *, by: User | None, patient: Patient, number: int | None = None, pain_limit: int | None = None
) -> PlanVersion:
    """Add an empty draft, numbered after the last version unless a number is given."""
    last = PlanVersion.objects.filter(patient=patient).aggregate(last=Max("number"))["last"] or 0
    return PlanVersion.objects.create(
        patient=patient,
        number=number or last + 1,
        pain_limit=clinic_profile().pain_limit if pain_limit is None else pain_limit,
        made_by=by,
        made_at=timezone.now(),
    )


def usual_line(*, revision: ExerciseRevision, effort: Effort | None, side: str) -> Line:
    """Return an unsaved line with the usual dose, on the ladder's lowest step by default."""
    exercise = exercise_of(revision)
    dose = exercise.dose
    step = next((s for s in exercise.steps if s.effort == effort), exercise.steps[0])
    return Line(
        revision=revision,
        step=step.effort.key,
        side=side if exercise.sided else "both",
        unit=exercise.unit,
        sets=dose.sets,
        amount_low=dose.amount_low,
        amount_high=dose.amount_high,
        hold_s=dose.hold_s,
        pace_s=dose.pace_s,
        rest_s=dose.rest_s,
        sessions_per_day=dose.sessions_per_day,
        load_means=step.load_means.value if step.load_means else "",
    )


@transaction.atomic
def add_line(*, by: User, version: PlanVersion, line: Line) -> Line:
    """Add a line at the end of a draft, under a key that the patient never had before."""
    edit(version)
    last = version.lines.aggregate(last=Max("position"))["last"]
    line.version = version
    line.position = 0 if last is None else last + 1
    line.key = free_key(version.patient, line)
    line.save()
    write_audit(
        user=by, verb="added line", subject=f"{version} {line.key}", patient_id=version.patient_id
    )
    return line


def free_key(patient: Patient, line: Line) -> str:
    """Return a line's key: its exercise and side, numbered where the patient had that one."""
    return free_keys(patient, [line])[0]


def free_keys(patient: Patient, lines: Sequence[Line]) -> list[str]:
    """Return a free key for each of several lines of one patient, in order (one query)."""
    taken = Line.objects.filter(version__patient=patient)
    used = set(taken.order_by().values_list("key", flat=True).distinct())
    keys = []
    for line in lines:
        base = key = f"{exercise_of(line.revision).key}-{line.side}"[:76]
        number = 1
        while key in used:
            number += 1
            key = f"{base}-{number}"
        used.add(key)
        keys.append(key)
    return keys


@transaction.atomic
def change_line(*, by: User, line: Line, changes: Mapping[str, object]) -> Line:
    """Change a draft's line; another exercise, side or unit makes it another line and key.

    A leave to do the easier step was given for one step: with another step it ends, unless given
    anew. An invitation to two more ends with another exercise or another unit.
    """
    edit(line.version)
    before = (line.revision.exercise_id, line.side, line.unit)
    step_before = line.step
    for field, value in changes.items():
        setattr(line, field, value)
    is_given_anew = "easier_allowed" in changes or line.step == step_before
    line.easier_allowed &= is_given_anew and easier_step(line) is not None
    same = (line.revision.exercise_id, line.unit) == before[::2]
    line.more_if_easy &= line.unit == UnitChoice.REPETITIONS and (same or "more_if_easy" in changes)
    if (line.revision.exercise_id, line.side, line.unit) != before:
        line.key = free_key(line.version.patient, line)
    line.save()
    write_audit(
        user=by,
        verb="changed line",
        subject=f"{line.version} {line.key}",
        patient_id=line.version.patient_id,
        fields=sorted(changes),
    )
    return line


@transaction.atomic
def remove_line(*, by: User, line: Line) -> None:
    """Take a line out of a draft."""
    edit(line.version)
    write_audit(
        user=by,
        verb="removed line",
        subject=f"{line.version} {line.key}",
        patient_id=line.version.patient_id,
    )
    line.delete()


def line_fields(line: Line) -> dict[str, object]:
    """Return what makes a line, as JSON can hold it, so that a removal can be undone."""
    names = (f"{name}_id" if hasattr(line, f"{name}_id") else name for name in COPIED_FIELDS)
    return {name: getattr(line, name) for name in names} | {"pace_s": str(line.pace_s)}


@transaction.atomic
def restore_line(*, by: User, version: PlanVersion, fields: Mapping[str, object]) -> Line:
    """Put a removed line back where it was, under its own key, from its `line_fields`."""
    edit(version)
    line = Line(version=version, **fields)
    if version.lines.filter(key=line.key).exists():
        line.key = free_key(version.patient, line)
    line.save()
    write_audit(
        user=by,
        verb="restored line",
        subject=f"{version} {line.key}",
        patient_id=version.patient_id,
    )
    return line


@transaction.atomic
def move_line(*, by: User, line: Line, places: int) -> None:
    """Move a draft's line up (negative) or down among its neighbours."""
    edit(line.version)
    lines = list(line.version.lines.order_by("position", "pk"))
    at = lines.index(line)
    lines.insert(max(0, min(len(lines) - 1, at + places)), lines.pop(at))
    for position, moved in enumerate(lines):
        if moved.position != position:
            moved.position = position
            moved.save(update_fields=["position"])


@transaction.atomic
def reorder_lines(*, by: User, version: PlanVersion, order: Sequence[int]) -> None:
    """Put a draft's lines into an order of their keys in the database; all must be named."""
    edit(version)
    lines = {line.pk: line for line in version.lines.all()}
    if sorted(order) != sorted(lines):
        raise ActionRefused("The draft has other lines by now. This is how it stands.")
    for position, pk in enumerate(order):
        lines[pk].position = position
    Line.objects.bulk_update(lines.values(), ["position"])
    write_audit(
        user=by, verb="reordered lines", subject=str(version), patient_id=version.patient_id
    )


def edit(version: PlanVersion) -> None:
    """Count an edit of a draft, so that someone issuing it knows whether it is what they saw."""
    changed = PlanVersion.objects.filter(pk=version.pk, state=PlanVersion.State.DRAFT).update(
        edits=F("edits") + 1
    )
    if not changed:
        raise ActionRefused(
            "This version is no longer a draft. Start a new one to change the plan."
        )


@transaction.atomic
def discard_draft(*, by: User, version: PlanVersion) -> None:
    """Throw a draft away; it was never a patient's plan."""
    edit(version)
    write_audit(
        user=by, verb="discarded draft", subject=str(version), patient_id=version.patient_id
    )
    version.lines.all().delete()
    version.delete()


@transaction.atomic
def issue_version(
    *,
    by: User,
    version: PlanVersion,
    today: date,
    effective_day: date,
    pain_limit: int,
    change_sentence: str = "",
    seen_edits: int | None = None,
    overrides: Mapping[OverrideKey, str] | None = None,
    confirmed: Collection[str] = (),
) -> PlanVersion:
    """Issue a draft; what a student issues waits for a supervisor's signature.

    A version without lines ends the plan from its day on. Refused when its day is past, when the
    draft was edited since ``seen_edits``, when a line lacks something, or when a line breaks a hard
    precaution and ``overrides`` gives no reason for it. An overriding version always waits for a
    signature. ``confirmed`` names the lines that the model can't check and a person did.
    """
    if effective_day < today:
        raise ActionRefused("A plan can't begin before today. Choose today or a later day.")
    edit(version)
    version.refresh_from_db()
    if seen_edits is not None and version.edits != seen_edits + 1:
        raise ActionRefused(
            "This draft was changed since you opened it. Look through it again, then issue it."
        )
    lines = list(lines_of(version))
    gaps = [f"{title_of(line)}: {gap} first." for line in lines for gap in line_gaps(line)]
    if gaps:
        raise ActionRefused(" ".join(gaps))
    safety = safety_of(version, lines, effective_day)
    reasons = judged_overrides(by, safety, lines, overrides or {}, confirmed)
    waits = by.needs_signature and (
        clinic_profile().students_need_signature or bool(safety.unchecked)
    )
    put_in_force(
        by=by,
        version=version,
        effective_day=effective_day,
        pain_limit=pain_limit,
        change_sentence=change_sentence,
        waits=waits or bool(reasons),
    )
    keep_overrides(by=by, version=version, safety=safety, reasons=reasons)
    return version


def put_in_force(
    *,
    by: User | None,
    version: PlanVersion,
    effective_day: date,
    pain_limit: int,
    change_sentence: str = "",
    waits: bool = False,
    issuer: str = "",
) -> PlanVersion:
    """Turn a draft into an issued (or waiting) version; call it inside a transaction."""
    version.state = PlanVersion.State.WAITING if waits else PlanVersion.State.ISSUED
    version.needs_signature = waits
    version.effective_day = effective_day
    version.pain_limit = pain_limit
    version.change_sentence = change_sentence
    version.issued_by = by
    version.issuer = by.name if by else issuer
    version.issued_at = timezone.now()
    version.sent_back_note = ""
    version.save()
    if not waits:
        keep_due_spans([version.patient_id])
    write_audit(
        user=by,
        actor=issuer,
        verb="issued for signature" if waits else "issued plan",
        subject=str(version),
        patient_id=version.patient_id,
        effective_day=effective_day.isoformat(),
    )
    return version


@transaction.atomic
def sign_version(*, by: User, version: PlanVersion, today: date) -> PlanVersion:
    """Countersign a waiting version; it takes effect no earlier than the day it is signed."""
    _judge(by, version)
    if version.effective_day is None:
        raise ActionRefused("This version has no day to begin on. Send it back.")
    blocking = safety_of(version, lines_of(version), max(version.effective_day, today)).blocking
    if blocking:
        words = blocking[0].finding.words
        raise ActionRefused(
            f"A precaution that nobody overrode stands against it: {words} Send it back."
        )
    version.signed_by = by
    version.signed_at = timezone.now()
    version.effective_day = max(version.effective_day, today)
    version.state = PlanVersion.State.ISSUED
    version.save(update_fields=["signed_by", "signed_at", "effective_day", "state"])
    keep_due_spans([version.patient_id])
    write_audit(user=by, verb="signed version", subject=str(version), patient_id=version.patient_id)
    return version


@transaction.atomic
def send_back(*, by: User, version: PlanVersion, note: str) -> PlanVersion:
    """Return a waiting version to its maker as a draft, with what to change."""
    _judge(by, version)
    if not note.strip():
        raise ActionRefused("Write what to change, so that the draft can be put right.")
    version.state = PlanVersion.State.DRAFT
    version.sent_back_note = note.strip()
    version.save(update_fields=["state", "sent_back_note"])
    write_audit(
        user=by,
        verb="sent version back",
        subject=str(version),
        patient_id=version.patient_id,
        note=note,
    )
    return version


def _judge(by: User, version: PlanVersion) -> None:
    if not by.may_sign:
        raise ActionRefused("Only a supervisor can countersign or send back.")
    version.refresh_from_db()
    if version.state != PlanVersion.State.WAITING:
        raise ActionRefused("This version no longer waits for a signature.")
    if version.issued_by_id == by.pk:
        raise ActionRefused("Nobody signs their own version. Ask another supervisor.")


@transaction.atomic
def add_pause(
    *,
    by: User | None,
    patient: Patient,
    first_day: date,
    last_day: date | None,
    reason: str,
    today: date,
    actor: str = "",
) -> Pause:
    """Pause the plan; a pause that began before today is marked on the review."""
    if last_day and last_day < first_day:
        raise ActionRefused("A pause can't end before it begins.")
    pause = Pause.objects.create(
        patient=patient,
        first_day=first_day,
        last_day=last_day,
        reason=reason,
        made_by=by,
        made_at=timezone.now(),
        recorded_day=today,
    )
    keep_due_spans([patient.pk])
    write_audit(user=by, actor=actor, verb="paused plan", subject=str(pause), patient_id=patient.pk)
    return pause


@transaction.atomic
def end_pause(*, by: User, pause: Pause, last_day: date) -> Pause:
    """Set the last day of a pause."""
    if last_day < pause.first_day:
        raise ActionRefused("A pause can't end before it begins. Strike it out instead.")
    pause.last_day = last_day
    pause.save(update_fields=["last_day"])
    keep_due_spans([pause.patient_id])
    write_audit(user=by, verb="ended pause", subject=str(pause), patient_id=pause.patient_id)
    return pause


@transaction.atomic
def strike_pause(*, by: User, pause: Pause, reason: str) -> Pause:
    """Strike out a pause made by mistake; it stays on record with who, when and why."""
    if not reason.strip():
        raise ActionRefused("Write why the pause is struck out.")
    pause.struck_at, pause.struck_by, pause.struck_reason = timezone.now(), by, reason.strip()
    pause.save(update_fields=["struck_at", "struck_by", "struck_reason"])
    keep_due_spans([pause.patient_id])
    write_audit(user=by, verb="struck pause", subject=str(pause), patient_id=pause.patient_id)
    return pause
