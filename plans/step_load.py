"""What one step of an exercise asks of each muscle group, from its poses. Pure."""

from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass

from patients.motions import MOTIONS, Effort, Joint
from plans.catalogue import Exercise, Step
from plans.exercise import movement_of
from plans.moments import WEIGHTED_MEANS
from plans.peaks import PeakMoment

TRIAL_LOAD_KG = 1.0
"""A weight that shows which muscle groups a hand weight or cuff calls on."""


@dataclass(frozen=True)
class StepLoad:
    """What one step's poses ask of each muscle group: bare arm, gravity alone, without help.

    ``share_percent`` compares with the bare arm held straight out, so it hardly depends on the
    body; ``peak`` says where it is greatest. ``rub_percent`` is what sliding adds at the joints
    moved, in that measure; ``with_weight`` are the groups that a weight calls on.
    """

    effort: Effort
    position: str
    is_checked: bool
    share_percent: Mapping[str, int]
    peak: Mapping[str, str]
    with_weight: frozenset[str]
    rub_percent: int
    reach_deg: Mapping[str, float]


def step_load(exercise: Exercise, step: Step) -> StepLoad:
    """Return what a step asks; MovementError where its poses can't be done."""
    if not step.poses:
        return StepLoad(step.effort, step.position.label, False, {}, {}, frozenset(), 0, {})
    movement = movement_of(exercise, step)
    bare = movement.group_peaks(friction=0.0, help_share=0.0)
    moved = {MOTIONS[motion].joint for motion in exercise.moves}
    rubbed = movement.group_peaks(help_share=0.0) if movement.rests else bare
    is_weight = step.load_means is not None and step.load_means.value in WEIGHTED_MEANS
    loaded = movement.group_peaks(load_kg=TRIAL_LOAD_KG, friction=0.0) if is_weight else ()
    return StepLoad(
        effort=step.effort,
        position=step.position.label,
        is_checked=True,
        share_percent={peak.group: peak.share_percent or 0 for peak in bare},
        peak={peak.group: _where(peak) for peak in bare},
        with_weight=frozenset(peak.group for peak in loaded),
        rub_percent=max(0, _most(rubbed, moved) - _most(bare, moved)),
        reach_deg={motion: high for motion, (_, high) in movement.range_deg().items()},
    )


def _where(peak: PeakMoment) -> str:
    if peak.angle_deg is None:  # as the abduction of an arm held to the front
        return "in this position"
    return f"at {peak.angle_deg:.0f}° of {MOTIONS[peak.angle_motion].label}"


def _most(peaks: Iterable[PeakMoment], joints: Set[Joint]) -> int:
    return max((peak.share_percent or 0 for peak in peaks if peak.joint in joints), default=0)


def ladder_loads(exercise: Exercise) -> tuple[StepLoad, ...]:
    """Return what each step of an exercise asks, from the lowest."""
    return tuple(step_load(exercise, step) for step in exercise.steps)
