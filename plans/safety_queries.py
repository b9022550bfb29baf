"""Reads for safety: a version's lines against the precautions of the day, and what was overridden.

Findings are computed on reading; only overrides are stored.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from django.db.models import QuerySet

from clinic.queries import clinic_profile
from patients.assessment import Grade
from patients.assessment_queries import latest_measures
from patients.models import Patient
from patients.motions import Side
from patients.precaution_models import Precaution
from patients.precaution_queries import precautions_on
from patients.precautions import Limit
from plans.catalogue import DoneBy, Exercise, Step
from plans.dose import dose_gaps, reasons_against_more
from plans.line_checks import CheckedLine, Finding
from plans.models import Line, PlanVersion
from plans.queries import exercise_of, exercises_in_use
from plans.safety import Strength, findings
from plans.safety_models import PrecautionOverride, Withdrawal

OverrideKey = tuple[str, int]
"""A line's key and a precaution's: what an override is about."""


def step_of(line: Line) -> Step:
    """Return the step that a line prescribes; of a line that names none, the lowest."""
    steps = exercise_of(line.revision).steps
    return next((step for step in steps if step.effort.key == line.step), steps[0])


def easier_step(line: Line) -> Step | None:
    """Return the ladder's next lower step below a line's, whether or not it is allowed."""
    return exercise_of(line.revision).below(line.step)


def line_title(exercise: Exercise, side: str) -> str:
    """Return what a line is called: exercise and side."""
    name = exercise.words("en").name
    if not exercise.sided:
        return name
    return f"{name}, {'both sides' if side == 'both' else side}"


def title_of(line: Line) -> str:
    """Return what a line is called."""
    return line_title(exercise_of(line.revision), line.side)


def line_gaps(line: Line) -> tuple[str, ...]:
    """Return what a line still lacks before a patient may follow it."""
    return dose_gaps(
        load_means=line.load_means,
        load_g=line.load_g,
        by_helper=any(step.done_by is DoneBy.HELPER for step in _steps_to_do(line)),
        helper_named=line.home_helper_id is not None,
    )


def _steps_to_do(line: Line) -> list[Step]:
    """The step that a line prescribes, and the easier one where the patient may do that."""
    easier = easier_step(line) if line.easier_allowed else None
    return [step_of(line), *([easier] if easier else [])]


def easier_line(line: Line) -> CheckedLine | None:
    """Return a line's easier step as the checks take it; None where it isn't allowed."""
    easier = easier_step(line) if line.easier_allowed else None
    if easier is None:
        return None
    means = easier.load_means.value if easier.load_means else ""
    return replace(checked_line(line), step=easier, load_g=0, load_means=means)


def checked_line(line: Line) -> CheckedLine:
    """Return a line as the checks take it."""
    return CheckedLine(
        key=line.key,
        exercise=exercise_of(line.revision),
        step=step_of(line),
        side=Side(line.side),
        load_g=line.load_g,
        load_means=line.load_means,
        orthosis=line.orthosis,
        stop_motion=line.stop_motion,
        stop_deg=line.stop_deg,
    )


@dataclass(frozen=True)
class StoodFinding:
    """A finding in one version, with its precaution and, where there is one, its override.

    ``is_later`` says that the version was issued before the precaution was set or began.
    """

    finding: Finding
    precaution: Precaution | None
    override: PrecautionOverride | None
    is_later: bool

    @property
    def blocks(self) -> bool:
        """Whether it is hard and nobody has overridden it."""
        return self.finding.is_hard and self.override is None


@dataclass(frozen=True)
class Safety:
    """What is found in a version against the precautions of a day."""

    precautions: tuple[Precaution, ...]
    by_line: Mapping[str, tuple[StoodFinding, ...]]

    def of(self, line_key: str) -> tuple[StoodFinding, ...]:
        """Return what is found in one line."""
        return self.by_line.get(line_key, ())

    @property
    def hard(self) -> dict[OverrideKey, tuple[Finding, ...]]:
        """The hard findings of each line against each precaution, overridden or not."""
        found: dict[OverrideKey, tuple[Finding, ...]] = {}
        for key, stood in self.by_line.items():
            for each in stood:
                if each.finding.is_hard and each.precaution:
                    about = (key, each.precaution.pk)
                    found[about] = (*found.get(about, ()), each.finding)
        return found

    @property
    def unchecked(self) -> tuple[str, ...]:
        """The lines, by key, that a person has to confirm."""
        return tuple(
            key
            for key, stood in self.by_line.items()
            if any(each.finding.is_unchecked for each in stood)
        )

    @property
    def blocking(self) -> tuple[StoodFinding, ...]:
        """Every hard finding that nobody has overridden."""
        return tuple(each for stood in self.by_line.values() for each in stood if each.blocks)


def safety_of(version: PlanVersion, lines: Iterable[Line], day: date) -> Safety:
    """Return what is found in a version's lines on a day.

    Up to six queries, however many lines: precautions with their episodes and reviews, grades, the
    exercises that may be offered instead, and the overrides of an issued version.
    """
    lines = list(lines)
    precautions = precautions_on(version.patient, day)
    checked = [checked_line(line) for line in lines]
    found = findings(
        checked,
        [precaution.limit for precaution in precautions],
        strength=_strength(version.patient) if lines else Strength({}, {}),
        neighbours=_neighbours(checked) if precautions else {},
    )
    found += _easier_findings(lines, [precaution.limit for precaution in precautions])
    by_key = {precaution.pk: precaution for precaution in precautions}
    overrides = {
        (each.line_key, each.precaution_id): each
        for each in (standing_overrides(version) if precautions else ())
    }
    by_line: dict[str, list[StoodFinding]] = {}
    for finding in found:
        precaution = by_key.get(finding.limit.key) if finding.limit else None
        about = (finding.line_key, precaution.pk if precaution else 0)
        by_line.setdefault(finding.line_key, []).append(
            StoodFinding(
                finding=finding,
                precaution=precaution,
                override=overrides.get(about) if finding.is_hard else None,
                is_later=bool(precaution) and _is_later(version, precaution),
            )
        )
    return Safety(tuple(precautions), {key: tuple(stood) for key, stood in by_line.items()})


def _easier_findings(lines: Iterable[Line], limits: Sequence[Limit]) -> tuple[Finding, ...]:
    """What is found in the easier steps that patients may do; the remedy is not to allow them."""
    allowed = [easier for line in lines if (easier := easier_line(line))]
    return tuple(
        replace(each, words=f"In the easier step: {each.words}", passes=())
        for each in findings(allowed, limits)
    )


def _is_later(version: PlanVersion, precaution: Precaution | None) -> bool:
    issued_at: datetime | None = version.issued_at
    if precaution is None or issued_at is None or version.state == PlanVersion.State.DRAFT:
        return False
    first_day = precaution.span.first_day
    began_later = bool(first_day and version.effective_day and first_day > version.effective_day)
    return precaution.recorded_at > issued_at or began_later


def _strength(patient: Patient) -> Strength:
    elbow: dict[Side, Grade] = {}
    grip: dict[Side, Grade] = {}
    for (motion, side), measure in latest_measures(patient).items():
        if measure.grade and motion in ("elbow_extension", "finger_flexion"):
            grades = elbow if motion == "elbow_extension" else grip
            grades[Side(side)] = Grade.from_text(measure.grade)
    return Strength(elbow, grip)


def _neighbours(lines: Collection[CheckedLine]) -> dict[str, Exercise]:
    keys = {line.exercise.easier for line in lines} | {line.exercise.harder for line in lines}
    return exercises_in_use([key for key in keys if key])


FRACTURES = ("S42", "S52", "S62")
"""ICD-10 (WHO): fractures of shoulder and upper arm, of forearm, of wrist and hand."""


def against_more(patient: Patient, day: date, precautions: Collection[Precaution]) -> str:
    """Return why a patient is better not invited to do more now; empty where nothing is.

    One query: the open episodes. ``precautions`` are those that hold on the day.
    """
    operations, injuries = [], []
    for episode in patient.episodes.filter(closed_day__isnull=True):
        is_fracture = episode.icd10.upper().startswith(FRACTURES)
        is_fracture |= "fractur" in episode.diagnosis.lower()
        if episode.operation_day and episode.operation_day <= day:
            operations.append(episode.operation_day)
        elif is_fracture and episode.onset_day and episode.onset_day <= day:
            injuries.append(episode.onset_day)
    return reasons_against_more(
        precautions=len(precautions),
        operation_weeks=(day - max(operations)).days // 7 if operations else None,
        injury_weeks=(day - max(injuries)).days // 7 if injuries else None,
    )


LOW_PAIN_LIMIT = 2
"""The pain limit while healing tissue is guarded; common practice, no source."""


def usual_pain_limit(patient: Patient, day: date) -> int:
    """Return the pain limit that a patient's first plan begins with (up to four queries).

    Low while a hard precaution holds, or an operation or fracture is recent; else the clinic's own.
    """
    usual = clinic_profile().pain_limit
    hard = [each for each in precautions_on(patient, day) if each.is_hard]
    return min(usual, LOW_PAIN_LIMIT) if against_more(patient, day, hard) else usual


def standing_overrides(version: PlanVersion) -> QuerySet[PrecautionOverride]:
    """Return the overrides of a version's latest issue (one query)."""
    if version.issued_at is None:
        return PrecautionOverride.objects.none()
    return PrecautionOverride.objects.filter(
        version=version, made_at=version.issued_at
    ).select_related("made_by", "precaution")


def withdrawal_of(patient: Patient, pk: int) -> Withdrawal | None:
    """Return one withdrawal of a patient's plans."""
    return Withdrawal.objects.filter(version__patient=patient, pk=pk).first()
