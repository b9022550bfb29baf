"""What is here of a patient, as a plan file's content."""

from collections.abc import Iterable
from decimal import Decimal

from clinic.queries import clinic_profile
from patients.models import Patient
from patients.queries import care_team
from plans.catalogue import Exercise
from plans.exchange import LinePart, PatientPart, PausePart, PlanFile, Record, VersionPart
from plans.exchange_reading import Usual
from plans.models import ExerciseRevision, Line, Pause, PlanVersion
from plans.queries import exercise_of, open_version, pauses_of, versions_of


def newest_revisions() -> dict[str, ExerciseRevision]:
    """Return the newest revision of every exercise, those no longer offered too (one query)."""
    revisions = ExerciseRevision.objects.select_related("exercise").order_by("number")
    return {revision.exercise.key: revision for revision in revisions}


def usual_now(revisions: Iterable[ExerciseRevision]) -> Usual:
    """Return what stands in for fields left out of new versions."""
    return Usual(
        pain_limit=clinic_profile().pain_limit,
        exercises={revision.exercise.key: exercise_of(revision) for revision in revisions},
    )


def usual_then(patient: Patient, now: Usual) -> dict[int, Usual]:
    """Return, by number, what stands in for fields left out of versions that are here already."""
    return {
        version.number: Usual(
            pain_limit=version.pain_limit,
            exercises={**now.exercises, **_exercises_of(version.lines.all())},
        )
        for version in _issued(patient)
    }


def _exercises_of(lines: Iterable[Line]) -> dict[str, Exercise]:
    return {line.revision.exercise.key: exercise_of(line.revision) for line in lines}


def _issued(patient: Patient) -> Iterable[PlanVersion]:
    return versions_of(patient).filter(state=PlanVersion.State.ISSUED).order_by("number")


def plan_of(patient: Patient) -> PlanFile:
    """Return a patient with the issued versions and the pauses that stand (four queries)."""
    return PlanFile(
        patient=PatientPart(
            clinic_number=patient.clinic_number,
            name=patient.name,
            birth_date=patient.birth_date,
            affected_side=patient.affected_side,
            sex=patient.sex,
            stature_cm=patient.stature_cm,
            body_mass_kg=patient.body_mass_kg,
            dominant_side=patient.dominant_side,
            language=patient.language,
            text_size=patient.text_size,
            time_zone=patient.time_zone,
            care_team=tuple(
                sorted(m.user.username for m in care_team(patient) if not m.cover_reason)
            ),
        ),
        versions=tuple(_version_part(version) for version in _issued(patient)),
        pauses=tuple(
            PausePart(pause.first_day, pause.last_day, pause.reason) for pause in pauses_of(patient)
        ),
    )


def record_of(patient: Patient) -> Record:
    """Return all that a plan file must agree with (seven queries)."""
    lines = Line.objects.filter(version__patient=patient).values_list(
        "key", "revision__exercise__key", "side", "unit"
    )
    open_now = open_version(patient)
    struck = Pause.objects.filter(patient=patient, struck_at__isnull=False)
    return Record(
        plan=plan_of(patient),
        line_keys={key: (exercise, side, unit) for key, exercise, side, unit in lines},
        open_number=open_now.number if open_now else None,
        struck_pauses=frozenset(struck.values_list("first_day", "last_day")),
    )


def _version_part(version: PlanVersion) -> VersionPart:
    if version.effective_day is None:
        raise ValueError(f"{version} has no effective day")
    return VersionPart(
        number=version.number,
        effective_day=version.effective_day,
        pain_limit=version.pain_limit,
        change_sentence=version.change_sentence,
        lines=tuple(_line_part(line) for line in version.lines.all()),
    )


def _line_part(line: Line) -> LinePart:
    return LinePart(
        key=line.key,
        exercise=line.revision.exercise.key,
        step=line.step,
        side=line.side,
        unit=line.unit,
        sets=line.sets,
        amount_low=line.amount_low,
        amount_high=line.amount_high,
        hold_s=line.hold_s,
        pace_s=Decimal(line.pace_s),
        rest_s=line.rest_s,
        load_g=line.load_g,
        load_means=line.load_means,
        sessions_per_day=line.sessions_per_day,
        weekdays=line.weekday_set,
        note_patient=line.note_patient,
        note_staff=line.note_staff,
        orthosis=line.orthosis,
        stop_motion=line.stop_motion,
        stop_deg=line.stop_deg,
        easier_allowed=line.easier_allowed,
        more_if_easy=line.more_if_easy,
    )
