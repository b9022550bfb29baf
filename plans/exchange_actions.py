"""Writes of a plan file: a patient if new, the versions and pauses that are not here yet."""

from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils import timezone

from clinic.actions import write_audit
from clinic.models import User
from patients.actions import add_patient
from patients.models import CareTeamMember, Patient
from plans.actions import add_pause, new_draft, put_in_force
from plans.exchange import (
    LinePart,
    PatientPart,
    PlanFile,
    Problem,
    VersionPart,
    conflicts,
    kept_details,
)
from plans.exchange_queries import newest_revisions, record_of, usual_now, usual_then
from plans.exchange_reading import PlanFileRefused, Table, clinic_number_of, read_plan
from plans.jsonfile import Json
from plans.models import ExerciseRevision, Line

ACTOR = "import"
"""Who acted, in the audit and as the issuer of what is brought in."""


@dataclass(frozen=True)
class Imported:
    """What an import did: what it added, and what else a person should know, in words."""

    clinic_number: str
    added: tuple[str, ...]
    notes: tuple[str, ...]


@transaction.atomic
def import_plan(*, value: Json, schema: Table, today: date) -> Imported:
    """Add what a plan file's document says and is not here yet; all of it or nothing.

    Raises PlanFileRefused with every problem of the file; where it has none, with every way in
    which it disagrees with what is here. ``today`` is the local day that pauses are recorded on.
    """
    patient = (
        Patient.objects.select_for_update().filter(clinic_number=clinic_number_of(value)).first()
    )
    revisions = newest_revisions()
    now = usual_now(revisions.values())
    plan = read_plan(
        value,
        schema=schema,
        today=today,
        usual=now,
        issued=usual_then(patient, now) if patient else {},
    )
    if patient is None:
        added = [f"patient {plan.patient.clinic_number}"]
        patient = _add_patient(plan.patient)
        notes = [] if plan.patient.care_team else ["nobody is in the care team yet"]
    else:
        added = []
        record = record_of(patient)
        if problems := list(conflicts(plan, record)):
            raise PlanFileRefused(problems)
        notes = kept_details(plan, record)
    added += _add_versions(patient, plan, revisions)
    added += _add_pauses(patient, plan, today)
    return Imported(patient.clinic_number, tuple(added), tuple(notes))


def _add_patient(part: PatientPart) -> Patient:
    members = list(User.objects.filter(username__in=part.care_team, is_active=True))
    treating = {user.username for user in members if user.may_treat}
    problems = [
        Problem(
            ("patient", "care_team", n),
            f'care_team: "{username}" is not an active member of staff who treats patients here',
        )
        for n, username in enumerate(part.care_team)
        if username not in treating
    ]
    if problems:
        raise PlanFileRefused(problems)
    fields = {name: value for name, value in vars(part).items() if name != "care_team"}
    patient = add_patient(by=None, patient=Patient(**fields), actor=ACTOR)
    for user in members:
        CareTeamMember.objects.create(patient=patient, user=user, since=timezone.now())
        write_audit(
            user=None,
            actor=ACTOR,
            verb="added to care team",
            subject=user.name,
            patient_id=patient.pk,
        )
    return patient


def _add_versions(
    patient: Patient, plan: PlanFile, revisions: dict[str, ExerciseRevision]
) -> list[str]:
    here = set(patient.plan_versions.values_list("number", flat=True))
    new = [version for version in plan.versions if version.number not in here]
    return [
        _add_version(patient, version, revisions)
        for version in sorted(new, key=lambda version: version.number)
    ]


def _add_version(
    patient: Patient, version: VersionPart, revisions: dict[str, ExerciseRevision]
) -> str:
    draft = new_draft(
        by=None, patient=patient, number=version.number, pain_limit=version.pain_limit
    )
    Line.objects.bulk_create(
        _line(line, position, revisions[line.exercise], version=draft)
        for position, line in enumerate(version.lines)
    )
    put_in_force(
        by=None,
        issuer=ACTOR,
        version=draft,
        effective_day=version.effective_day,
        pain_limit=version.pain_limit,
        change_sentence=version.change_sentence,
    )
    lines = "1 line" if len(version.lines) == 1 else f"{len(version.lines)} lines"
    return f"version {version.number} from {version.effective_day}, {lines}"


def _line(part: LinePart, position: int, revision: ExerciseRevision, **more: object) -> Line:
    fields = {
        name: value for name, value in vars(part).items() if name not in ("exercise", "weekdays")
    }
    weekdays = sum(1 << day for day in part.weekdays)
    return Line(**fields, **more, weekdays=weekdays, position=position, revision=revision)


def _add_pauses(patient: Patient, plan: PlanFile, today: date) -> list[str]:
    here = set(patient.pauses.values_list("first_day", "last_day"))
    added = []
    for pause in plan.pauses:
        if pause.days not in here:
            add_pause(
                by=None,
                actor=ACTOR,
                patient=patient,
                first_day=pause.first_day,
                last_day=pause.last_day,
                reason=pause.reason,
                today=today,
            )
            until = f"to {pause.last_day}" if pause.last_day else "without a last day"
            added.append(f"pause from {pause.first_day} {until}")
    return added
