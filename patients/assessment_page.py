"""What the pages of an assessment show: each measure in words, and what changed since the last.

Only a difference beyond measurement error is told as a change. Reads rows that came with their
measures; asks the database nothing.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from patients.assessment import Grade, NotTested, activity_mean, muscle_group
from patients.assessment_cells import (
    Cell,
    SideCells,
    degrees,
    grade_cell,
    how_measured,
    range_cell,
    why_not,
)
from patients.assessment_queries import taking_of
from patients.assessment_rows import joints_of, motion_word, motions_of
from patients.grip_norms import GripStanding, grip_standing, to_kg
from patients.measurement_error import (
    Change,
    ErrorRules,
    Measured,
    activities_change,
    activity_change,
    grade_change,
    grip_change,
    pain_change,
    range_change,
)
from patients.measures_models import (
    Assessment,
    GripMeasure,
    MotionMeasure,
    ToneMeasure,
)
from patients.models import Patient
from patients.motions import MOTIONS, Joint, Side
from patients.queries import age_years


@dataclass(frozen=True)
class MotionRow:
    """A motion with its sides."""

    motion: str
    word: str
    usual_deg: int | None
    sides: tuple[SideCells, ...]


@dataclass(frozen=True)
class JointTable:
    """A joint, how it was measured, and its motions."""

    joint: Joint
    how: str
    sides: tuple[str, ...]
    rows: tuple[MotionRow, ...]


@dataclass(frozen=True)
class GripRow:
    """A hand's grip."""

    side: str
    trials: str
    standing: GripStanding | None
    not_tested: str
    cell: Cell


@dataclass(frozen=True)
class Activity:
    """One of the patient's own activities."""

    words: str
    cell: Cell


@dataclass(frozen=True)
class Activities:
    """The patient's own activities, and their mean where any was scored."""

    rows: tuple[Activity, ...]
    mean: Fraction | None
    change: Change | None

    @property
    def mean_words(self) -> str:
        """The mean to a tenth."""
        return "" if self.mean is None else f"{float(self.mean):.1f}"


@dataclass(frozen=True)
class AssessmentPage:
    """One assessment with all that it changed against those before it."""

    assessment: Assessment
    joints: tuple[JointTable, ...]
    pain: tuple[tuple[str, Cell], ...]
    grips: tuple[GripRow, ...]
    activities: Activities
    tones: tuple[tuple[str, Cell], ...]
    has_earlier: bool


def side_order(patient: Patient) -> tuple[str, ...]:
    """Return the sides, the affected one first."""
    return ("right", "left") if patient.affected_side == Side.RIGHT.value else ("left", "right")


def assessment_page(
    patient: Patient,
    assessment: Assessment,
    earlier: Sequence[Assessment],
    rules: ErrorRules,
) -> AssessmentPage:
    """Return an assessment against the standing ones before it, latest first."""
    order = side_order(patient)
    return AssessmentPage(
        assessment=assessment,
        joints=tuple(
            _joint(assessment, joint, order, earlier, rules) for joint in joints_of(assessment)
        ),
        pain=_pain(assessment, earlier, rules),
        grips=_grips(patient, assessment, order, earlier, rules),
        activities=_activities(assessment, earlier, rules),
        tones=tuple(_tone(row, earlier) for row in assessment.tones.all()),
        has_earlier=bool(earlier),
    )


def before(assessment: Assessment, standing: Iterable[Assessment]) -> list[Assessment]:
    """Return those of ``standing`` (latest first) that came before an assessment.

    The one that it corrects, and those measured later, are not among them.
    """
    return [
        other
        for other in standing
        if other.pk not in (assessment.pk, assessment.supersedes_id)
        and (other.measured_day, other.pk) < (assessment.measured_day, assessment.pk)
    ]


def _joint(
    assessment: Assessment,
    joint: Joint,
    order: Sequence[str],
    earlier: Sequence[Assessment],
    rules: ErrorRules,
) -> JointTable:
    measures = {(row.motion, row.side): row for row in assessment.motions.all()}
    here = [row for row in measures.values() if MOTIONS[row.motion].joint is joint]
    # The same sides in every table, so that their columns stand below each other.
    sides = tuple(side for side in order if any(row.side == side for row in measures.values()))
    rows = []
    for motion in motions_of(joint):
        if any((motion, side) in measures for side in sides):
            cells = tuple(
                _side(assessment, measures.get((motion, side)), side, earlier, rules)
                for side in sides
            )
            usual_deg = MOTIONS[motion].usual_range_deg
            rows.append(MotionRow(motion, motion_word(motion), usual_deg, cells))
    return JointTable(joint, how_measured(here[0]), sides, tuple(rows))


def _side(
    assessment: Assessment,
    row: MotionMeasure | None,
    side: str,
    earlier: Sequence[Assessment],
    rules: ErrorRules,
) -> SideCells:
    if row is None:
        return SideCells(side, Cell(), Cell(), Cell())
    return SideCells(
        side,
        active=_range_cell(assessment, row, "active", earlier, rules),
        passive=_range_cell(assessment, row, "passive", earlier, rules),
        grade=_grade_cell(assessment, row, earlier, rules),
    )


def _range_cell(
    assessment: Assessment,
    row: MotionMeasure,
    what: str,
    earlier: Sequence[Assessment],
    rules: ErrorRules,
) -> Cell:
    shown = range_cell(row, what)
    now = _measured(assessment, row, what)
    if now is None:
        return shown
    for other in earlier:
        was_row = _same(other, row)
        was = _measured(other, was_row, what) if was_row else None
        if was is not None:
            change = range_change(rules, row.motion, was, now)
            day = other.measured_day
            return Cell(shown.value, shown.note, change, degrees(was.value_deg), day)
    return shown


def _grade_cell(
    assessment: Assessment, row: MotionMeasure, earlier: Sequence[Assessment], rules: ErrorRules
) -> Cell:
    shown = grade_cell(row)
    if not row.grade:
        return shown
    for other in earlier:
        was = _same(other, row)
        if was and was.grade:
            # A grade is felt, not read off: only the rater decides, not the tool for angles.
            one = assessment.measured_by_id is not None and (
                assessment.measured_by_id == other.measured_by_id
            )
            old, new = Grade.from_text(was.grade), Grade.from_text(row.grade)
            change = grade_change(rules, old, new, one_rater=one)
            return Cell(shown.value, shown.note, change, old.label, other.measured_day)
    return shown


def _same(assessment: Assessment, row: MotionMeasure) -> MotionMeasure | None:
    return next(
        (
            other
            for other in assessment.motions.all()
            if (other.motion, other.side) == (row.motion, row.side)
        ),
        None,
    )


def _measured(assessment: Assessment, row: MotionMeasure, what: str) -> Measured | None:
    value = getattr(row, f"{what}_deg")
    if value is None:
        return None
    joint = MOTIONS[row.motion].joint
    painful = any(
        other.active_pain
        or other.passive_pain
        or NotTested.PAIN.value in (other.active_not_tested, other.passive_not_tested)
        for other in assessment.motions.all()
        if other.side == row.side and MOTIONS[other.motion].joint is joint
    )
    return Measured(value, taking_of(assessment, row), painful)


def _pain(
    assessment: Assessment, earlier: Sequence[Assessment], rules: ErrorRules
) -> tuple[tuple[str, Cell], ...]:
    rows = []
    for label, name in (("At rest", "pain_at_rest"), ("On movement", "pain_on_movement")):
        now: int | None = getattr(assessment, name)
        why = getattr(assessment, f"{name}_not_tested")
        if now is None and not why:
            continue
        cell = Cell("" if now is None else str(now), why_not(why))
        for other in earlier:
            was: int | None = getattr(other, name)
            if now is not None and was is not None:
                change = pain_change(rules, was, now)
                cell = Cell(cell.value, cell.note, change, str(was), other.measured_day)
                break
        rows.append((label, cell))
    return tuple(rows)


def _grips(
    patient: Patient,
    assessment: Assessment,
    order: Sequence[str],
    earlier: Sequence[Assessment],
    rules: ErrorRules,
) -> tuple[GripRow, ...]:
    rows = {row.side: row for row in assessment.grips.all()}
    return tuple(
        _grip(patient, assessment, rows[side], earlier, rules) for side in order if side in rows
    )


def _grip(
    patient: Patient,
    assessment: Assessment,
    row: GripMeasure,
    earlier: Sequence[Assessment],
    rules: ErrorRules,
) -> GripRow:
    if not row.trials:
        return GripRow(
            row.side, "", None, why_not(row.not_tested), Cell(note=why_not(row.not_tested))
        )
    standing = grip_standing(
        row.trials,
        row.unit,
        age_years=age_years(patient.birth_date, assessment.measured_day),
        sex=patient.sex,
        side=Side(row.side),
    )
    trials = ", ".join(f"{trial.normalize():f}" for trial in row.trials) + f" {row.unit}"
    value = f"{standing.mean_kg:.1f} kg ({standing.mean_lb:.1f} lb)"
    cell = Cell(value)
    for other in earlier:
        was = next((g for g in other.grips.all() if g.side == row.side and g.trials), None)
        if was:
            old = sum((to_kg(t, was.unit) for t in was.trials), Decimal(0)) / len(was.trials)
            dominant = {"": None, "both": None}.get(
                patient.dominant_side, patient.dominant_side == row.side
            )
            change = grip_change(rules, old, standing.mean_kg, dominant=dominant)
            cell = Cell(value, "", change, f"{old:.1f} kg", other.measured_day)
            break
    return GripRow(row.side, trials, standing, "", cell)


def _scores(assessment: Assessment) -> dict[str, int]:
    return {
        row.words.casefold(): row.score
        for row in assessment.activities.all()
        if row.score is not None
    }


def _activities(
    assessment: Assessment, earlier: Sequence[Assessment], rules: ErrorRules
) -> Activities:
    last = next((other for other in earlier if _scores(other)), None)
    now, was = _scores(assessment), _scores(last) if last else {}
    rows = []
    for row in assessment.activities.all():
        cell = Cell("" if row.score is None else str(row.score), why_not(row.not_tested))
        old = was.get(row.words.casefold())
        if last and old is not None and row.score is not None:
            change = activity_change(rules, old, row.score)
            cell = Cell(cell.value, cell.note, change, str(old), last.measured_day)
        rows.append(Activity(row.words, cell))
    both = [words for words in now if words in was]
    return Activities(
        rows=tuple(rows),
        mean=activity_mean(list(now.values())),
        change=activities_change(rules, [was[w] for w in both], [now[w] for w in both]),
    )


def _tone(row: ToneMeasure, earlier: Sequence[Assessment]) -> tuple[str, Cell]:
    name = f"{muscle_group(row.motion).capitalize()}, {row.side}"
    value = row.get_tone_display() if row.tone else ""
    for other in earlier:
        for was in other.tones.all():
            if was.tone and row.tone and (was.motion, was.side) == (row.motion, row.side):
                note = "" if was.tone == row.tone else f"was {was.get_tone_display()}"
                return name, Cell(value, note, before_day=other.measured_day)
    return name, Cell(value, why_not(row.not_tested))
