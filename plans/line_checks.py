"""One line against limits: what breaks one, in which pose and by how much. Pure.

The treated arm is checked against its step's poses, effort, load and position, not its name; the
other arm where it helps or leans. Unknown counts as the higher (common practice, no source).
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np

from patients.motions import MOTIONS, Effort, Joint, Side
from patients.precautions import Kind, Limit, degrees
from plans.catalogue import Exercise, Step
from plans.described import GRIPPING, HELPING, SLACK_DEG, Described, described
from plans.moments import WEIGHTED_MEANS
from plans.stopped import Stop


class Level(IntEnum):
    """Efforts as precautions order them."""

    PASSIVE = 1
    SELF_ASSISTED = 2
    ACTIVE = 3
    RESISTED = 4


_MEANS_WORDS = {"band": "a band", "putty": "putty", "other_hand": "the other hand"}

_OTHER = {Side.LEFT: Side.RIGHT, Side.RIGHT: Side.LEFT}

_LEVELS = {
    Effort.PASSIVE: Level.PASSIVE,
    Effort.SELF_ASSISTED: Level.SELF_ASSISTED,
    Effort.GRAVITY_REDUCED: Level.ACTIVE,
    Effort.ACTIVE: Level.ACTIVE,
    Effort.RESISTED: Level.RESISTED,
}


@dataclass(frozen=True)
class CheckedLine:
    """A line as the checks see it. ``load_g`` of 0 on a resisted step is an unknown load.

    ``orthosis`` is "on", "off" or "" (none said); the movement turns back where ``stop_motion``
    comes to ``stop_deg``.
    """

    key: str
    exercise: Exercise
    step: Step
    side: Side
    load_g: int = 0
    load_means: str = ""
    orthosis: str = ""
    stop_motion: str = ""
    stop_deg: int | None = None

    @property
    def stop(self) -> Stop | None:
        """The motion and angle at which it turns back, if any."""
        return (self.stop_motion, self.stop_deg) if self.stop_deg is not None else None

    @property
    def means(self) -> str:
        """What gives the load; of a resisted step what its exercise says."""
        if self.load_means or self.step.effort is not Effort.RESISTED:
            return self.load_means
        return self.step.load_means.value if self.step.load_means else "other_hand"


@dataclass(frozen=True)
class Pass:
    """What would pass: an easier ``step``, a ``stop``, the ``orthosis``, another ``exercise``."""

    kind: str
    words: str
    exercise: str = ""
    effort: str = ""
    stop_motion: str = ""
    stop_deg: int | None = None

    @property
    def key(self) -> str:
        """It as one short text, for a button to send."""
        said = {
            "step": self.effort,
            "stop": f"{self.stop_motion}:{self.stop_deg}",
            "exercise": f"{self.exercise}:{self.effort}",
        }.get(self.kind, "")
        return f"{self.kind}:{said}"


@dataclass(frozen=True)
class Finding:
    """One line against one limit (``None``: a rule of care of our own).

    ``at_s`` and ``angle_deg`` name the pose, where it is one; ``beyond_deg`` by how much.
    ``is_unchecked`` asks for a person's confirmation, since the model can't look.
    """

    line_key: str
    limit: Limit | None
    side: Side
    words: str
    is_hard: bool
    is_unchecked: bool = False
    is_other_arm: bool = False
    at_s: float | None = None
    angle_deg: float | None = None
    beyond_deg: float | None = None
    passes: tuple[Pass, ...] = ()

    @property
    def evidence(self) -> dict[str, object]:
        """It as JSON can hold it, to be kept beside an override."""
        return {
            "limit": self.limit.words if self.limit else "",
            "side": self.side.value,
            "words": self.words,
            "other_arm": self.is_other_arm,
            "at_s": self.at_s,
            "angle_deg": self.angle_deg,
            "beyond_deg": self.beyond_deg,
            "passes": [each.words for each in self.passes],
        }


def line_findings(line: CheckedLine, limits: Sequence[Limit]) -> Iterator[Finding]:
    """Yield what one line breaks, limit by limit; MovementError where its poses can't be done."""
    poses = described(line.exercise, line.step, line.stop)
    treated = set(line.side.parts)
    # Done on each side in turn, each arm is the other one once.
    others = {_OTHER[side] for side in treated}
    if poses.other_arm == "same":
        treated, others = {Side.LEFT, Side.RIGHT}, set()
    unchecked: list[Limit] = []
    for limit in limits:
        sides = [side for side in (Side.LEFT, Side.RIGHT) if limit.concerns(side)]
        if limit.kind is Kind.POSITION:
            if line.step.position.value == limit.position:
                words = f"Done {line.step.position.label}."
                yield Finding(line.key, limit, limit.side, words, limit.is_hard)
            continue
        for side in sides:
            if side in treated:
                yield from _Arm(line, poses, side).findings(limit)
                if not poses.is_checked and limit not in unchecked:
                    unchecked.append(limit)
            if side in others and poses.other_arm in (*HELPING, "leans"):
                finding = _other_arm_finding(line, poses, limit, side)
                if finding:
                    yield finding
    if unchecked:
        words = "Not checked by the model: confirm that it keeps the precautions."
        yield Finding(line.key, None, line.side, words, is_hard=False, is_unchecked=True)


@dataclass(frozen=True)
class _Arm:
    """The treated arm of one side, in one line."""

    line: CheckedLine
    poses: Described
    side: Side

    def findings(self, limit: Limit) -> Iterator[Finding]:
        """What breaks one limit on this arm."""
        check = _CHECKS.get(limit.kind)
        finding = check(self, limit) if check else None
        if finding:
            yield finding

    def _finding(self, limit: Limit, words: str, **more: float | None) -> Finding:
        return Finding(self.line.key, limit, self.side, words, limit.is_hard, **more)  # type: ignore[arg-type]

    def _angle(self, limit: Limit) -> Finding | None:
        most = limit.limit_deg or 0
        # Most lines are within every limit, so the largest angle is asked first.
        if self.poses.highest.get(limit.motion, -np.inf) <= most + SLACK_DEG:
            return None
        if limit.only_when_moved and level(self.line, self.poses, limit) > Level.SELF_ASSISTED:
            return None
        high = self.poses.high[limit.motion]
        at = int(np.nanargmax(high))
        angle_deg, at_s = float(high[at]), float(self.poses.times_s[at])
        beyond_deg = angle_deg - most
        words = (
            f"At {at_s:.1f} s {MOTIONS[limit.motion].label} is {degrees(angle_deg)}, "
            f"{max(1, round(beyond_deg))}° beyond {degrees(most)}."
        )
        return self._finding(limit, words, at_s=at_s, angle_deg=angle_deg, beyond_deg=beyond_deg)

    def _together(self, limit: Limit) -> Finding | None:
        if not self.poses.is_checked:
            return None
        # Where a pose has no such angle it can't be ruled out, so it counts.
        is_broken = np.ones(len(self.poses.times_s), dtype=bool)
        is_told = np.zeros(len(self.poses.times_s), dtype=bool)
        for each in limit.together:
            high = self.poses.high[each.motion]
            is_broken &= np.isnan(high) | (high > each.beyond_deg + SLACK_DEG)
            is_told |= np.isfinite(high)
        at = np.flatnonzero(is_broken & is_told)
        if not at.size:
            return None
        at_s = float(self.poses.times_s[at[0]])
        angles = ", ".join(
            f"{MOTIONS[each.motion].label} {degrees(float(self.poses.high[each.motion][at[0]]))}"
            for each in limit.together
            if np.isfinite(self.poses.high[each.motion][at[0]])
        )
        return self._finding(limit, f"From {at_s:.1f} s together: {angles}.", at_s=at_s)

    def _effort(self, limit: Limit) -> Finding | None:
        allowed = Level[limit.effort.upper()]
        asked = level(self.line, self.poses, limit)
        if asked <= allowed or not self._works(limit, allowed):
            return None
        own = self.line.step.effort
        words = "isometric" if self.poses.is_isometric else own.label
        if words != asked.name.lower().replace("_", "-"):
            words += f", which counts as {asked.name.lower().replace('_', '-')}"
        joint = _joint(limit)
        if joint and joint in self.poses.holds_up:
            words += f" ({joint.label}: it holds the arm's weight)"
        return self._finding(limit, f"{words[0].upper()}{words[1:]}.")

    def _works(self, limit: Limit, allowed: Level) -> bool:
        """Whether what the limit is about has to work in this step."""
        joint = _joint(limit)
        if joint is None:
            return True
        if joint not in self.poses.works:
            return False
        if joint in GRIPPING and joint in self.poses.holds_up and self.line.orthosis == "on":
            return False  # the orthosis holds it
        if not limit.motion or self.poses.is_isometric or not self.poses.is_checked:
            return True
        named = {*self.line.exercise.moves, *self.poses.groups}
        if limit.motion in named:
            return True
        if allowed < Level.ACTIVE and limit.motion in self.poses.moved:
            return True  # there and back: both ways are moved actively
        return MOTIONS[limit.motion].opposite not in named

    def _load(self, limit: Limit) -> Finding | None:
        means = self.line.means
        if not means and not self.line.load_g:
            return None
        joint = _joint(limit)
        if joint and means == "cuff" and joint in GRIPPING:
            return None  # a cuff lies nearer to the trunk than these
        if joint and means not in WEIGHTED_MEANS and joint not in self.poses.works:
            return None
        limit_g = limit.limit_g or 0
        if means not in WEIGHTED_MEANS or not self.line.load_g:
            how = _MEANS_WORDS.get(means, "a weight")
            return self._finding(limit, f"Resisted by {how}, by an unknown load.")
        if self.line.load_g <= limit_g:
            return None
        over_kg = (self.line.load_g - limit_g) / 1000
        words = f"{self.line.load_g / 1000:g} kg"
        words += (
            f", {over_kg:g} kg above {limit_g / 1000:g} kg."
            if limit_g
            else ", where none is allowed."
        )
        return self._finding(limit, words)

    def _bearing(self, limit: Limit) -> Finding | None:
        if self.poses.presses:
            return self._finding(limit, "It pushes against something.")
        if self.poses.leans_on_wall:
            return self._finding(limit, "The hand is on a wall and may take the body's weight.")
        return None

    def _traction(self, limit: Limit) -> Finding | None:
        at_s = self.poses.hangs_at_s
        is_weighted = bool(self.line.means in WEIGHTED_MEANS)
        if at_s is None or not (self.poses.is_pendulum or is_weighted):
            return None
        why = "its own weight" if self.poses.is_pendulum else "a weight"
        return self._finding(limit, f"From {at_s:.1f} s the arm hangs, pulled by {why}.", at_s=at_s)

    def _orthosis(self, limit: Limit) -> Finding | None:
        if self.line.orthosis == "on":
            return None
        if self.line.orthosis == "off":
            return replace(self._finding(limit, "The orthosis comes off for it."), is_hard=True)
        return self._finding(limit, "Nothing says that the orthosis is on.")


_CHECKS: dict[Kind, Callable[[_Arm, Limit], Finding | None]] = {
    Kind.ANGLE: _Arm._angle,
    Kind.EFFORT: _Arm._effort,
    Kind.LOAD: _Arm._load,
    Kind.BEARING: _Arm._bearing,
    Kind.TRACTION: _Arm._traction,
    Kind.TOGETHER: _Arm._together,
    Kind.ORTHOSIS: _Arm._orthosis,
}


def level(line: CheckedLine, poses: Described, limit: Limit) -> Level:
    """Return the effort that a step asks of what a limit is about, as precautions order it."""
    own = _LEVELS[line.step.effort]
    if poses.is_isometric:
        return Level.ACTIVE if limit.isometric_is_active else Level.RESISTED
    if poses.is_checked and own < Level.ACTIVE and poses.help_share == 0:
        return Level.ACTIVE  # nobody moves it for the patient
    joint = _joint(limit)
    if own is Level.RESISTED and line.means == "cuff" and joint in GRIPPING:
        named = {MOTIONS[motion].joint for motion in line.exercise.moves}
        return own if joint in named else Level.ACTIVE
    return own


def _joint(limit: Limit) -> Joint | None:
    return MOTIONS[limit.motion].joint if limit.motion else limit.joint


def _other_arm_finding(
    line: CheckedLine, poses: Described, limit: Limit, side: Side
) -> Finding | None:
    """What a limit of the other arm has to say where that arm helps or leans."""
    words, is_unchecked = "", False
    lifts = f" It lifts about {poses.helping_kg:g} kg (an estimate)." if poses.helping_kg else ""
    if poses.other_arm == "leans":
        if limit.kind is Kind.BEARING:
            words = f"The {side.value} arm leans."
    elif limit.kind is Kind.EFFORT:
        words = f"The {side.value} arm helps, which counts as resisted.{lifts}"
    elif limit.kind is Kind.LOAD and poses.helping_kg * 1000 > (limit.limit_g or 0):
        words = f"The {side.value} arm helps.{lifts}"
    elif limit.kind is Kind.BEARING and poses.presses:
        words = f"The {side.value} arm pushes."
    elif limit.kind in (Kind.ANGLE, Kind.TOGETHER):
        words = f"The {side.value} arm helps: its angles are not checked by the model."
        is_unchecked = True
    elif limit.kind is Kind.ORTHOSIS:
        words = f"The {side.value} arm helps: confirm that its orthosis stays on."
        is_unchecked = True
    if not words:
        return None
    return Finding(
        line.key,
        limit,
        side,
        words,
        is_hard=limit.is_hard and not is_unchecked,
        is_unchecked=is_unchecked,
        is_other_arm=True,
    )
