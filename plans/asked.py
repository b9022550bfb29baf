"""What a plan asks of each joint in a week, against the version before it, and in all. Pure.

Repetitions, seconds of hold and load volume (kg × repetitions: 0 without a weight) are never added
to one another; each is counted at the low end of the range, as volume is. A joint that a line moves
in two motions counts the line once.

>>> from patients.motions import Effort
>>> bend = PrescribedLine(
...     key="a",
...     exercise="curl",
...     name="Elbow bend",
...     side=Side.LEFT,
...     step=Effort.RESISTED,
...     unit=Unit.REPETITIONS,
...     sets=2,
...     amount_low=8,
...     amount_high=10,
...     hold_s=0,
...     pace_s=4,
...     load_g=1000,
...     sessions_per_day=1,
...     weekdays=frozenset({0, 2, 4}),
...     moves=("elbow_flexion",),
...     loads=(),
... )
>>> (row,) = folded(asked_of_joints([], [bend]))
>>> row.now.repetitions, row.now.load_volume_kg
(48, 48.0)
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import NamedTuple

from patients.motions import MOTIONS, Joint, Side
from plans.dose import PlanTime
from plans.schedule import PrescribedLine, Unit
from plans.threshold import Threshold, threshold_file

_JOINTS = list(Joint)


class Place(NamedTuple):
    """Where a line counts: a motion of one side, or (``motion`` None) the joint as a whole.

    ``is_moved`` is False where the joint is loaded without being moved.
    """

    joint: Joint
    motion: str | None
    side: Side
    is_moved: bool

    @property
    def order(self) -> tuple[int, bool, str, Side]:
        """From the trunk outwards, the whole joint before its motions."""
        return _JOINTS.index(self.joint), not self.is_moved, self.motion or "", self.side

    @property
    def words(self) -> str:
        """The place in words."""
        name = MOTIONS[self.motion].label if self.motion else self.joint.label
        return f"{self.side.value} {name}{'' if self.is_moved else ', carrying'}"


def places(line: PrescribedLine) -> tuple[Place, ...]:
    """Return where a line counts; one of both sides counts once on each."""
    return tuple(
        Place(joint, motion, side, is_moved)
        for side in line.side.parts
        for joint, motion, is_moved in (
            *((MOTIONS[motion].joint, motion, True) for motion in dict.fromkeys(line.moves)),
            *((joint, None, True) for joint in line.joints_moved),
            *((joint, None, False) for joint in line.joints_only_loaded),
        )
    )


def change_percent(before: float, now: float) -> float | None:
    """Return by how many per cent ``now`` is more than ``before``; None from nothing."""
    return 100 * (now - before) / before if before else None


@dataclass(frozen=True)
class Weekly:
    """What a week asks: repetitions, seconds of hold lines, load volume and heaviest weight."""

    repetitions: int = 0
    held_s: int = 0
    load_volume_g: int = 0
    heaviest_g: int = 0

    @property
    def load_volume_kg(self) -> float:
        """Load volume in kg × repetitions."""
        return self.load_volume_g / 1000

    @property
    def heaviest_kg(self) -> float:
        """The heaviest weight in kg."""
        return self.heaviest_g / 1000


@dataclass(frozen=True)
class AskedRow:
    """What is asked of one place a week; ``before`` by the version before.

    ``motions`` are those of a joint that it stands for: what is asked of them is the same.
    """

    place: Place
    before: Weekly
    now: Weekly
    motions: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The place in words, with the motions that it stands for besides."""
        word = f"{self.place.joint.value.removesuffix('s')}_"
        names = ", ".join(key.removeprefix(word).replace("_", " ") for key in self.motions)
        return f"{self.place.words}: {names}" if names else self.place.words

    @property
    def heaviest(self) -> str:
        """The heaviest weight in words."""
        return f"{self.now.heaviest_kg:g} kg"

    @property
    def repetitions_percent(self) -> float | None:
        """By how much more repetitions are asked; None from nothing."""
        return change_percent(self.before.repetitions, self.now.repetitions)

    @property
    def held_percent(self) -> float | None:
        """By how much longer holds are asked; None from nothing."""
        return change_percent(self.before.held_s, self.now.held_s)

    @property
    def load_percent(self) -> float | None:
        """By how much more load volume is asked; None from nothing."""
        return change_percent(self.before.load_volume_g, self.now.load_volume_g)

    @property
    def heaviest_percent(self) -> float | None:
        """By how much heavier the heaviest weight is; None from nothing."""
        return change_percent(self.before.heaviest_g, self.now.heaviest_g)


def asked_of_joints(
    before: Iterable[PrescribedLine], now: Iterable[PrescribedLine]
) -> tuple[AskedRow, ...]:
    """Return what a week asks of each joint and motion, from the trunk outwards."""
    was, is_now = _weekly(before), _weekly(now)
    return tuple(
        AskedRow(place, was.get(place, Weekly()), is_now.get(place, Weekly()))
        for place in sorted(was | is_now, key=lambda place: place.order)
    )


def folded(rows: Sequence[AskedRow]) -> tuple[AskedRow, ...]:
    """Return rows with each motion that is asked for as its whole joint is folded into that one."""
    whole = {
        (row.place.joint, row.place.side): row
        for row in rows
        if row.place.motion is None and row.place.is_moved
    }
    inside: dict[Place, list[str]] = {}
    kept = []
    for row in rows:
        joint = whole.get((row.place.joint, row.place.side))
        if row.place.motion and joint and (row.before, row.now) == (joint.before, joint.now):
            inside.setdefault(joint.place, []).append(row.place.motion)
        else:
            kept.append(row)
    return tuple(replace(row, motions=tuple(inside.get(row.place, ()))) for row in kept)


def _weekly(lines: Iterable[PrescribedLine]) -> dict[Place, Weekly]:
    found: dict[Place, Weekly] = {}
    for line in lines:
        amount = line.prescribed_per_occasion * line.sessions_per_day * len(line.weekdays)
        if line.unit is Unit.REPETITIONS:
            adds = Weekly(amount, 0, amount * line.load_g, line.load_g)
        elif line.unit is Unit.SECONDS:
            adds = Weekly(0, amount, 0, line.load_g)
        else:
            continue  # an activity in minutes or times is no volume
        for place in places(line):
            had = found.get(place, Weekly())
            found[place] = Weekly(
                had.repetitions + adds.repetitions,
                had.held_s + adds.held_s,
                had.load_volume_g + adds.load_volume_g,
                max(had.heaviest_g, adds.heaviest_g),
            )
    return found


@dataclass(frozen=True)
class AskLimits:
    """From where a plan is said to jump, or to ask much."""

    volume_jump_percent: Threshold
    load_jump_percent: Threshold
    many_exercises: Threshold
    long_session_min: Threshold
    long_week_min: Threshold

    def all(self) -> tuple[Threshold, ...]:
        """Every limit, in the order of the file that is shipped."""
        return tuple(getattr(self, field.name) for field in fields(self))


_BOUNDS = {
    "volume_jump_percent": (1, 1000),
    "load_jump_percent": (1, 1000),
    "many_exercises": (1, 60),
    "long_session_min": (1, 600),
    "long_week_min": (1, 6000),
}


def read_ask_limits(path: Path) -> AskLimits:
    """Return the limits of a file; ThresholdsError names the first thing wrong with it."""
    return AskLimits(**threshold_file(path, _BOUNDS))


class Note(NamedTuple):
    """Something to look at before a plan is issued, with where its limit comes from."""

    words: str
    source: str


def jumps(rows: Sequence[AskedRow], limits: AskLimits) -> tuple[Note, ...]:
    """Return which joints are asked for so much more in a week that it is worth a look.

    By whole joints; what begins from nothing is no jump.
    """
    notes = []
    for row in rows:
        if row.place.motion or not row.place.is_moved:
            continue
        volume, load = limits.volume_jump_percent, limits.load_jump_percent
        for what, percent, now, limit in (
            ("repetitions", row.repetitions_percent, f"{row.now.repetitions} a week", volume),
            ("seconds of hold", row.held_percent, f"{row.now.held_s} s a week", volume),
            ("load volume", row.load_percent, f"{row.now.load_volume_kg:g} kg × times", volume),
            ("heaviest weight", row.heaviest_percent, f"{row.now.heaviest_kg:g} kg", load),
        ):
            if percent is not None and percent > limit.value:
                words = f"{row.place.words[:1].upper()}{row.place.words[1:]}: {what} up by "
                words += f"{percent:.0f} %, to {now} (looked at above {limit.value} %)."
                notes.append(Note(words, limit.source))
    return tuple(notes)


def asks_much(lines: int, time: PlanTime, limits: AskLimits) -> Note | None:
    """Return why a plan asks much in all, if it does; long plans are not done."""
    session_min, week_min = time.session_high_s / 60, time.week_high_s / 60
    over = [
        (words, limit.source)
        for words, value, limit in (
            (f"{lines} exercises", lines, limits.many_exercises),
            (f"{time.session} a session", session_min, limits.long_session_min),
            (f"{time.week} a week", week_min, limits.long_week_min),
        )
        if value > limit.value
    ]
    if not over:
        return None
    words = ", ".join(words for words, _ in over)
    sources = "; ".join(dict.fromkeys(source for _, source in over))
    return Note(f"{words}: this asks much, and long plans are not done.", sources)
