"""A step's real description, for safety: angles pose by pose, what works, what hangs. Pure.

Read once a process for each step and stop; checks then only compare (``plans.safety``).
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from patients.motions import MOTIONS, Effort, Joint
from plans import clinical
from plans.arm import Chain, Floats
from plans.catalogue import Equipment, Exercise, Step
from plans.exercise import Movement
from plans.moments import WEIGHTED_MEANS
from plans.segments import Body
from plans.stopped import Stop, line_movement

POSES = 481
"""How many poses of a repetition are looked at, besides its key poses."""

SLACK_DEG = 0.05
"""Less than this beyond an angle is rounding."""

CARRIES_PERCENT = 50
"""A joint works that moves or is said to carry; so does one whose muscles must hold at least this
share of what holds the bare arm straight out. Common practice, no source."""

HANGS_DEG = 30.0
"""An upper arm within this of straight down hangs; common practice, no source."""

RAISED = 0.5
"""An upper arm that points at least this far up (sine: 30 degrees above level) is overhead."""

TRIAL_LOAD_KG = 1.0
"""A weight that shows which joints a hand weight or cuff loads."""

GRIPPING = frozenset({Joint.WRIST, Joint.FINGERS, Joint.THUMB})
"""Joints that work when the hand holds something."""

HELPING = ("helps", "stick", "band", "same")
"""What the other arm does where it works too."""


@dataclass(frozen=True)
class Described:
    """One step of an exercise, as its poses describe it.

    ``high`` are each motion's angles (degrees) at ``times_s``, ``highest`` their largest. ``works``
    are the joints that move, carry or hold, ``holds_up`` those of them that only gravity makes
    work, ``groups`` the motions whose muscles gravity calls on as much. Times are None where there
    is no such pose. ``helping_kg`` is what the other arm lifts of this one: an estimate for an
    average body. ``is_checked`` is False where there are no poses to look at.
    """

    exercise: Exercise
    step: Step
    is_checked: bool
    times_s: Floats
    high: Mapping[str, Floats]
    highest: Mapping[str, float]
    moved: frozenset[str]
    works: frozenset[Joint]
    holds_up: frozenset[Joint] = frozenset()
    groups: frozenset[str] = frozenset()
    help_share: float = 0.0
    other_arm: str = "rests"
    helping_kg: float = 0.0
    presses: bool = False
    leans_on_wall: bool = False
    is_pendulum: bool = False
    hangs_at_s: float | None = None
    overhead_at_s: float | None = None
    above_face_at_s: float | None = None

    @property
    def is_isometric(self) -> bool:
        """Whether muscles work without a joint moving."""
        return self.is_checked and not self.moved and self.step.effort >= Effort.ACTIVE


_kept: dict[tuple[int, Effort, Stop | None], Described] = {}
_MOST_KEPT = 5_000


def described(exercise: Exercise, step: Step, stop: Stop | None = None) -> Described:
    """Return what a step's poses say, up to a stop; MovementError where they can't be done."""
    key = (id(exercise), step.effort, stop)
    kept = _kept.get(key)
    if kept is None or kept.exercise is not exercise or kept.step is not step:
        if len(_kept) >= _MOST_KEPT:
            _kept.clear()
        kept = _described(exercise, step, stop) if step.poses else _undescribed(exercise, step)
        _kept[key] = kept
    return kept


def _undescribed(exercise: Exercise, step: Step) -> Described:
    named = {MOTIONS[motion].joint for motion in exercise.moves} | set(exercise.loads)
    return Described(
        exercise=exercise,
        step=step,
        is_checked=False,
        times_s=np.zeros(0),
        high={},
        highest={},
        moved=frozenset(exercise.moves),
        works=frozenset(named),
    )


def _described(exercise: Exercise, step: Step, stop: Stop | None) -> Described:
    movement = line_movement(exercise, step, stop)
    times_s = np.union1d(
        np.linspace(0.0, movement.own_pace_s, POSES), [pose.at_s for pose in movement.poses]
    )
    rows = movement.coordinates_at(times_s)
    arm = movement.chain(rows)
    high = {motion: pair[1] for motion, pair in clinical.motion_angles(rows, arm).items()}
    is_weight = step.load_means is not None and step.load_means.value in WEIGHTED_MEANS
    peaks = movement.group_peaks(load_kg=TRIAL_LOAD_KG if is_weight else 0.0, friction=0.0)
    moved = movement.moved()
    named = {MOTIONS[motion].joint for motion in (*exercise.moves, *moved)} | set(exercise.loads)
    named |= GRIPPING if movement.holds and movement.holds != "cuff" else frozenset()
    peaks = tuple(peak for peak in peaks if (peak.share_percent or 0) >= CARRIES_PERCENT)
    held = {peak.joint for peak in peaks}
    up = arm.upper_direction[:, 2]
    is_free = not movement.rests and movement.help_share == 0
    return Described(
        exercise=exercise,
        step=step,
        is_checked=True,
        times_s=times_s,
        high=high,
        highest={
            motion: float(np.nanmax(angle))
            for motion, angle in high.items()
            if np.isfinite(angle).any()
        },
        moved=frozenset(moved),
        works=frozenset(named | held),
        holds_up=frozenset(held - named),
        groups=frozenset(peak.group for peak in peaks),
        help_share=movement.help_share,
        other_arm="leans" if movement.position == "leaning_forward" else movement.other_arm,
        helping_kg=_helping_kg(movement),
        presses=movement.press is not None,
        leans_on_wall=Equipment.WALL in (*exercise.equipment, *step.equipment),
        is_pendulum=movement.position == "leaning_forward",
        hangs_at_s=None
        if movement.rests
        else _first(times_s, up <= -np.cos(np.radians(HANGS_DEG))),
        overhead_at_s=_first(times_s, up >= RAISED) if is_free else None,
        above_face_at_s=_above_face_at_s(movement, times_s, arm),
    )


def _helping_kg(movement: Movement) -> float:
    """What the other arm lifts of this one, for an average body; nothing of a resting arm."""
    if movement.other_arm not in HELPING or movement.rests or movement.helps_at == "finger":
        return 0.0
    parts = Body().arm
    whole = parts.upper_arm.mass_kg + parts.forearm.mass_kg + parts.hand.mass_kg
    return round(movement.help_share * whole, 1)


def _above_face_at_s(movement: Movement, times_s: Floats, arm: Chain) -> float | None:
    """When a hand is over the neck or face of somebody on their back, if it ever is.

    From 5 cm below the shoulders to the crown, within a shoulder's breadth: our own bounds.
    """
    if movement.position != "lying_back" or movement.rests:
        return None
    front, head, right = ((arm.wrist - arm.sternum) @ arm.trunk).T
    return _first(times_s, (front > 0.15) & (head > -0.05) & (head < 0.45) & (np.abs(right) < 0.35))


def _first(times_s: Floats, found: NDArray[np.bool_]) -> float | None:
    at = np.flatnonzero(found)
    return float(times_s[at[0]]) if at.size else None
