"""Between what is typed on the assessment page and the rows of a record, both ways."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from clinic.models import User
from patients.assessment import REASON_LETTERS, GradeReading, NotTested, RangeReading
from patients.assessment_actions import Measures
from patients.measures_models import (
    ActivityScore,
    Assessment,
    GripMeasure,
    MotionMeasure,
    ToneMeasure,
)
from patients.motions import MOTIONS, Joint

ACTIVITIES = 5
"""At most so many activities: Stratford et al. (1995) ask for three to five."""

TONE_ROWS = 4
SOMEONE_ELSE = "other"
"""What stands for a rater who is not on the list."""

_LETTER = {why.value: letter for letter, why in REASON_LETTERS.items()}


def motions_of(joint: Joint) -> list[str]:
    """Return the motions of a joint, in the order that they are measured in."""
    return [key for key, motion in MOTIONS.items() if motion.joint is joint]


def motion_word(motion: str) -> str:
    """Return a motion's name without its joint.

    >>> motion_word("shoulder_blade_elevation"), motion_word("finger_flexion")
    ('elevation', 'flexion')
    """
    known = MOTIONS[motion]
    first = known.label if known.joint is not Joint.SHOULDER_BLADE else known.label[9:]
    return first.partition(" ")[2]


def assessment_row(
    data: Mapping[str, Any], *, rater: User | None, corrects: Assessment | None
) -> Assessment:
    """Return the unsaved record of what a form read."""
    rest, moving = data["pain_at_rest"], data["pain_on_movement"]
    return Assessment(
        measured_day=data["measured_day"],
        measured_by=rater,
        measured_by_other="" if rater else data["measured_by_other"],
        supersedes=corrects,
        correction_reason=data["correction_reason"] if corrects else "",
        pain_at_rest=rest.score,
        pain_at_rest_not_tested=rest.not_tested or "",
        pain_on_movement=moving.score,
        pain_on_movement_not_tested=moving.not_tested or "",
        notes=data["notes"],
    )


def measures_of(data: Mapping[str, Any], joints: Sequence[Joint], sides: Sequence[str]) -> Measures:
    """Return the unsaved rows of what a form read."""
    return Measures(
        motions=list(_motion_rows(data, joints, sides)),
        grips=list(_grip_rows(data, sides)),
        tones=list(_tone_rows(data)),
        activities=list(_activity_rows(data)),
    )


def motion_row(
    motion: str, side: str, active: RangeReading, passive: RangeReading, grade: GradeReading
) -> MotionMeasure:
    """Return the unsaved row of what was typed for a motion of one side."""
    return MotionMeasure(
        motion=motion,
        side=side,
        active_deg=active.value_deg,
        active_pain=active.pain,
        active_not_tested=active.not_tested or "",
        passive_deg=passive.value_deg,
        passive_pain=passive.pain,
        passive_not_tested=passive.not_tested or "",
        grade=grade.grade.text if grade.grade else "",
        grade_rank=grade.grade.rank if grade.grade else None,
        grade_not_tested=grade.not_tested or "",
    )


def _motion_rows(
    data: Mapping[str, Any], joints: Sequence[Joint], sides: Sequence[str]
) -> Iterator[MotionMeasure]:
    for joint in joints:
        for motion in motions_of(joint):
            for side in sides:
                start = f"{motion}-{side}"
                active, passive = data[f"{start}-active"], data[f"{start}-passive"]
                row = motion_row(motion, side, active, passive, data[f"{start}-grade"])
                row.method = data[f"{joint}-method"]
                row.measured_in = data[f"{joint}-measured_in"]
                if row.says_something:
                    yield row


def _grip_rows(data: Mapping[str, Any], sides: Sequence[str]) -> Iterator[GripMeasure]:
    for side in sides:
        trials, why = data[f"grip-{side}"]
        if trials or why:
            padded = [*trials, None, None, None]
            yield GripMeasure(
                side=side,
                unit=data["grip_unit"],
                trial_1=padded[0],
                trial_2=padded[1],
                trial_3=padded[2],
                not_tested=why or "",
            )


def _tone_rows(data: Mapping[str, Any]) -> Iterator[ToneMeasure]:
    reasons = {why.value for why in NotTested}
    for number in range(1, TONE_ROWS + 1):
        motion, side, tone = (data[f"tone-{number}-{what}"] for what in ("motion", "side", "tone"))
        if motion and tone:
            is_reason = tone in reasons
            yield ToneMeasure(
                motion=motion,
                side=side,
                tone="" if is_reason else tone,
                not_tested=tone if is_reason else "",
            )


def _activity_rows(data: Mapping[str, Any]) -> Iterator[ActivityScore]:
    for number in range(1, ACTIVITIES + 1):
        words, score = data[f"activity-{number}-words"].strip(), data[f"activity-{number}-score"]
        if words and (score.score is not None or score.not_tested):
            yield ActivityScore(
                position=number,
                words=words,
                score=score.score,
                not_tested=score.not_tested or "",
            )


def joints_of(assessment: Assessment) -> list[Joint]:
    """Return the joints that an assessment measured, from the trunk outwards."""
    measured = {MOTIONS[row.motion].joint for row in assessment.motions.all()}
    return [joint for joint in Joint if joint in measured]


def carried_over(assessment: Assessment) -> dict[str, object]:
    """Return what the next assessment begins with: the same activities, ways and unit.

    No earlier figure is among them, so that nobody reads what they are about to measure.
    """
    typed: dict[str, object] = {}
    for row in assessment.motions.all():
        joint = MOTIONS[row.motion].joint
        typed[f"{joint}-method"] = row.method
        typed[f"{joint}-measured_in"] = row.measured_in
    for score in assessment.activities.all():
        typed[f"activity-{score.position}-words"] = score.words
    for grip in assessment.grips.all():
        typed["grip_unit"] = grip.unit
    return typed


def typed_again(assessment: Assessment) -> dict[str, object]:
    """Return all of an assessment as it would be typed, for correcting it."""
    typed = carried_over(assessment) | {
        "measured_day": assessment.measured_day,
        "measured_by": str(assessment.measured_by_id or SOMEONE_ELSE),
        "measured_by_other": assessment.measured_by_other,
        "pain_at_rest": _typed(assessment.pain_at_rest, assessment.pain_at_rest_not_tested),
        "pain_on_movement": _typed(
            assessment.pain_on_movement, assessment.pain_on_movement_not_tested
        ),
        "notes": assessment.notes,
    }
    for row in assessment.motions.all():
        start = f"{row.motion}-{row.side}"
        typed[f"{start}-active"] = _typed(row.active_deg, row.active_not_tested, row.active_pain)
        typed[f"{start}-passive"] = _typed(
            row.passive_deg, row.passive_not_tested, row.passive_pain
        )
        typed[f"{start}-grade"] = row.grade or _LETTER.get(row.grade_not_tested, "")
    for grip in assessment.grips.all():
        for number, trial in enumerate(grip.trials, 1):
            typed[f"grip-{grip.side}-{number}"] = str(trial)
        if grip.not_tested:
            typed[f"grip-{grip.side}-1"] = _LETTER[grip.not_tested]
    for score in assessment.activities.all():
        typed[f"activity-{score.position}-score"] = _typed(score.score, score.not_tested)
    for number, tone in enumerate(assessment.tones.all(), 1):
        typed[f"tone-{number}-motion"], typed[f"tone-{number}-side"] = tone.motion, tone.side
        typed[f"tone-{number}-tone"] = tone.tone or tone.not_tested
    return typed


def _typed(value: int | None, not_tested: str, pain: bool = False) -> str:
    if value is None:
        return _LETTER.get(not_tested, "")
    return f"{value}{'p' if pain else ''}"
