"""One step of an exercise as a movement: from its poses its range, load, work and own pace. Pure.

Loads are estimates (see ``plans.moments``): static, for an average body of that height and weight.

>>> lift = read_movement(
...     {
...         "effort": "active",
...         "position": "lying_back",
...         "moves": ["shoulder_flexion"],
...         "poses": [{"at": 0, "elbow": 0}, {"at": 3, "elevation": 90}, {"at": 6}],
...     },
...     where="lift",
... )
>>> lift.range_deg()["shoulder_flexion"]
(-7.0, 90.0)
>>> [(str(peak.joint), peak.group, peak.share_percent) for peak in lift.peak_moments()][1]
('shoulder', 'shoulder_flexion', 100)
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from patients.motions import Effort, Joint
from plans import clinical
from plans.arm import POSITIONS, Chain, Floats, chain
from plans.cameras import VIEWS
from plans.catalogue import Exercise, Step
from plans.envelope import problems_of
from plans.moments import (
    FRICTION,
    RESTS,
    SELF_ASSISTED_SHARE,
    Load,
    Support,
    demands_nm,
    friction_nm,
    height_energy_j,
    reference_nm,
)
from plans.peaks import CurvePoint, PeakMoment, group_curve, group_peaks
from plans.poses import KeyPose, between, read_poses
from plans.segments import Body

SAMPLES = 49
"""Poses that a repetition is computed at; odd, so that the middle one is among them."""

HAMMER_M = 0.12
"""How far beyond the grip the middle of a weight held by one end lies; common practice."""

MOVES_DEG = 5.0
"""A motion that changes by less than this does not count as moved; common practice, no source."""

OTHER_ARM = ("rests", "helps", "same", "stick", "band", "helper", "leans")
HOLDS = ("", "weight", "cuff", "cup", "putty", "bead", "roll", "card", "paper", "hammer")
HELD_THINGS = {
    "hand_weight": "weight",
    "cuff_weight": "cuff",
    "cup": "cup",
    "putty": "putty",
    "cards": "card",
    "paper": "paper",
}
"""What an exercise's equipment puts in the weak hand, or round its wrist."""
HELPS_AT = ("elbow", "forearm", "wrist", "hand", "finger")
DEFAULT_BODY = Body()


class MovementError(ValueError):
    """Poses that make no movement a person could do; each problem names file, step and pose."""

    def __init__(self, problems: Sequence[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(self.problems))


@dataclass(frozen=True)
class Movement:
    """Poses over time of one step, and how the arm is carried through them."""

    where: str
    effort: Effort
    position: str
    poses: tuple[KeyPose, ...]
    moves: tuple[str, ...] = ()
    rests: str = ""
    help_share: float = 0.0
    helps_at: str = "wrist"
    other_arm: str = "rests"
    holds: str = ""
    anchor_m: tuple[float, float, float] | None = None
    press: tuple[float, float, float] | None = None
    equipment: tuple[str, ...] = ()
    load_means: str | None = None
    view: str | None = None

    @cached_property
    def _times_s(self) -> Floats:
        return np.array([pose.at_s for pose in self.poses])

    @cached_property
    def _rows(self) -> Floats:
        return np.array([pose.coordinates for pose in self.poses])

    @property
    def own_pace_s(self) -> float:
        """Seconds of one repetition as the poses were written."""
        return self.poses[-1].at_s

    def coordinates_at(self, times_s: Floats) -> Floats:
        """Joint angles (rows) at times within a repetition at its own pace."""
        return between(self._times_s, self._rows, times_s)

    @cached_property
    def samples(self) -> tuple[Floats, Floats]:
        """Times (s) and joint angles (rows) through a repetition, evenly spaced."""
        times_s = np.linspace(0.0, self.own_pace_s, SAMPLES)
        return times_s, self.coordinates_at(times_s)

    def chain(self, coordinates: Floats, body: Body = DEFAULT_BODY) -> Chain:
        """Where the arm is in the world in each of those poses."""
        return chain(coordinates, POSITIONS[self.position], body)

    @cached_property
    def _angles(self) -> dict[str, tuple[Floats, Floats]]:
        times_s = np.union1d(self.samples[0], self._times_s)
        rows = self.coordinates_at(times_s)
        return clinical.motion_angles(rows, self.chain(rows))

    @cached_property
    def _sampled_angles(self) -> dict[str, tuple[Floats, Floats]]:
        rows = self.samples[1]
        return clinical.motion_angles(rows, self.chain(rows))

    def range_deg(self) -> dict[str, tuple[float, float]]:
        """Lowest and highest clinical angle of every motion that has one in this movement.

        Both ways are told: of an elbow that goes from 10 to 90, flexion is (10, 90) and extension
        (-90, -10). A motion without an angle in any pose is left out.
        """
        ranges = {}
        for motion, (low, high) in self._angles.items():
            if np.isfinite(low).any():
                lowest, highest = float(np.nanmin(low)), float(np.nanmax(high))
                ranges[motion] = (round(lowest, 1) + 0.0, round(highest, 1) + 0.0)
        return ranges

    def moved(self) -> set[str]:
        """The motions whose angle changes, by key; of opposites, both."""
        changed = set()
        for motion, (low, high) in self._angles.items():
            for angle in (low, high):
                known = angle[np.isfinite(angle)]
                if known.size and np.ptp(known) >= MOVES_DEG:
                    changed.add(motion)
        return changed

    def _load(self, load_kg: float) -> Load:
        beyond_m = HAMMER_M if self.holds == "hammer" else 0.0
        return Load(load_kg, self.load_means or "held", beyond_m)

    def _support(self, friction: float, help_share: float | None) -> Support:
        share = self.help_share if help_share is None else help_share
        return Support(rests=self.rests, help_share=share, friction=friction)

    def demands(
        self,
        body: Body = DEFAULT_BODY,
        load_kg: float = 0.0,
        *,
        friction: float = FRICTION,
        help_share: float | None = None,
    ) -> Floats:
        """Moments (N·m) through a repetition: a row a sample, a column for each of ``AXES``."""
        times_s, rows = self.samples
        arm, parts = self.chain(rows, body), body.arm
        load, support = (
            self._load(load_kg),
            self._support(friction, help_share),
        )
        gravity = demands_nm(arm, parts, load=load, support=support)
        if not self.rests:
            return gravity
        return gravity + friction_nm(arm, parts, times_s, load=load, support=support)

    def group_peaks(
        self,
        body: Body = DEFAULT_BODY,
        load_kg: float = 0.0,
        *,
        friction: float = FRICTION,
        help_share: float | None = None,
    ) -> tuple[PeakMoment, ...]:
        """The peak of each muscle group that has to work, from the trunk outwards."""
        demand = self.demands(body, load_kg, friction=friction, help_share=help_share)
        times_s, rows = self.samples
        return group_peaks(times_s, rows, demand, self._sampled_angles, reference_nm(body))

    def peak_moments(
        self,
        body: Body = DEFAULT_BODY,
        load_kg: float = 0.0,
        *,
        friction: float = FRICTION,
        help_share: float | None = None,
    ) -> tuple[PeakMoment, ...]:
        """The largest moment at each loaded joint, from the trunk outwards."""
        largest: dict[Joint, PeakMoment] = {}
        for peak in self.group_peaks(body, load_kg, friction=friction, help_share=help_share):
            if peak.joint not in largest or largest[peak.joint].moment_nm < peak.moment_nm:
                largest[peak.joint] = peak
        return tuple(largest.values())

    def curve(
        self, group: str, body: Body = DEFAULT_BODY, load_kg: float = 0.0
    ) -> tuple[CurvePoint, ...]:
        """The moment of one muscle group over a repetition; below 0 its opposite has to work."""
        times_s, rows = self.samples
        motion = self._sampled_angles[group][1]
        return group_curve(group, times_s, rows, self.demands(body, load_kg), motion)

    def work_j(
        self,
        body: Body = DEFAULT_BODY,
        load_kg: float = 0.0,
        *,
        help_share: float | None = None,
    ) -> float:
        """Work (J) of one repetition in lifting arm and weight, less the help's share.

        What is got back on the way down is not taken off: muscles don't store it.
        """
        _, rows = self.samples
        load = self._load(load_kg)
        height = height_energy_j(self.chain(rows, body), body.arm, load=load)
        rises = np.diff(height)
        share = self.help_share if help_share is None else help_share
        return float(rises[rises > 0].sum()) * (1.0 - share)


def _choice(value: object, allowed: Sequence[str], name: str, problems: list[str]) -> str:
    if isinstance(value, str) and value in allowed:
        return value
    problems.append(f"pose 1: {name} must be one of {', '.join(filter(None, allowed))}")
    return allowed[0]


def _triple(
    first: Mapping[str, object], name: str, problems: list[str]
) -> tuple[float, float, float] | None:
    value = first.get(name)
    if value is None:
        return None
    if isinstance(value, list | tuple):
        numbers = [float(each) for each in value if isinstance(each, int | float)]
        if len(numbers) == len(value) == 3:
            return (numbers[0], numbers[1], numbers[2])
    problems.append(f"pose 1: {name} must be three numbers: to the front, up and right")
    return None


def _texts(value: object) -> tuple[str, ...]:
    return tuple(str(each) for each in value) if isinstance(value, list | tuple) else ()


def read_movement(table: Mapping[str, object], *, where: str) -> Movement:
    """Return the movement of one step's table: ``effort``, ``position``, ``poses``.

    It may also hold ``moves`` (motions that the exercise claims, each of which must move),
    ``equipment``, ``load_means`` and ``view``. ``where`` names the file and exercise in messages.
    Raises MovementError with every problem found: a joint beyond its range, an arm through bed,
    table or trunk, a movement that doesn't end where it begins, a claimed motion that rests.
    """
    problems: list[str] = []
    effort = Effort.from_key(str(table["effort"]))
    where = f"{where}: {effort.key}"
    position = str(table["position"])
    tables = table.get("poses")
    if not isinstance(tables, list | tuple) or not tables:
        raise MovementError([f"{where}: it has no poses"])
    first = tables[0]
    poses = read_poses(tables, position, problems=problems)
    assisted = {Effort.PASSIVE: 1.0, Effort.SELF_ASSISTED: SELF_ASSISTED_SHARE}
    help_share = first.get("help", assisted.get(effort, 0.0))
    if isinstance(help_share, bool) or not isinstance(help_share, int | float):
        problems.append("pose 1: help must be a number from 0 to 1")
        help_share = 0.0
    if not 0 <= help_share <= 1:
        problems.append("pose 1: help must be a number from 0 to 1")
    equipment = _texts(table.get("equipment"))
    other = {Effort.PASSIVE: "helper", Effort.SELF_ASSISTED: "helps"}.get(effort, "rests")
    if table.get("done_by") == "self" and other == "helper":
        other = "helps"
    if "stick" in equipment:
        other = "stick"
    holds = next((HELD_THINGS[thing] for thing in equipment if thing in HELD_THINGS), "")
    load_means, view = table.get("load_means"), first.get("view", table.get("view"))
    movement = Movement(
        where=where,
        effort=effort,
        position=position,
        poses=tuple(poses),
        moves=_texts(table.get("moves")),
        rests=_choice(first.get("rests", ""), RESTS, "rests", problems),
        help_share=float(help_share),
        helps_at=_choice(first.get("helps_at", "wrist"), HELPS_AT, "helps_at", problems),
        other_arm=_choice(first.get("other", other), OTHER_ARM, "other", problems),
        holds=_choice(first.get("holds", holds), HOLDS, "holds", problems),
        anchor_m=_triple(first, "anchor", problems),
        press=_triple(first, "press", problems),
        equipment=equipment,
        load_means=load_means if isinstance(load_means, str) else None,
        view=None if view is None else _choice(view, tuple(VIEWS), "view", problems),
    )
    if not problems:
        times_s, rows = movement.samples
        problems += problems_of(poses, movement.position, movement.rests, times_s, rows)
        moved = movement.moved()
        problems += [
            f"poses: {motion} is claimed to move and does not"
            for motion in movement.moves
            if motion not in moved
        ]
    if problems:
        raise MovementError([f"{where}: {problem}" for problem in problems])
    return movement


def movement_of(exercise: Exercise, step: Step) -> Movement:
    """Return the movement of a step of the catalogue; MovementError where it can't be done."""
    table = step.as_table() | {
        "moves": exercise.moves,
        "equipment": [thing.value for thing in (*exercise.equipment, *step.equipment)],
        "view": exercise.view,
    }
    return read_movement(table, where=exercise.key)
