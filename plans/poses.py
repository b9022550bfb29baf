"""Key poses of a movement as a file writes them, read into joint angles over time. Pure.

A step's ``poses`` are tables, in order of time. The first says ``at = 0`` and what differs from
lying, sitting or standing at ease in the step's position; each later one says its time (seconds
within one repetition at its own pace) and what differs from the first. A pose may give

* joint angles by their names in ``plans.arm``;
* ``hand``: a named shape; ``fingers = [mcp, pip, dip]`` of all four or of one (``index``,
  ``middle``, ``ring``, ``little``), ``spread``, ``thumb = [out, front, turn, mcp, ip]``;
* ``hold = true``: here a repetition is held as long as the dose says.

The first may also say how the arm is carried and seen:

* ``rests``: what lies on the bed or table (``upper_arm``, ``forearm``, ``hand``, ``arm``);
* ``help``: the share (0 to 1) of the load that another hand takes; ``helps_at``: where it holds
  (``elbow``, ``forearm``, ``wrist``, ``hand``);
* ``other``: what the other arm does: ``rests``, ``helps``, ``same`` (mirrors), holds the other end
  of a ``stick`` or ``band``, ``leans`` on a table; or a ``helper`` holds the arm;
* ``holds``: what the weak hand holds, if not what the equipment says; ``anchor``: where the other
  end of a band is, to the front, up and right of the hips (m); ``press``: which way a hold that
  doesn't move presses, in the same directions;
* ``view``: from where the figure is drawn, if not as the exercise says.

>>> first, last = read_poses([{"at": 0}, {"at": 2, "elbow": 90}], "sitting", problems=[])
>>> (last.at_s, last.coordinates[COLUMN["elbow"]])
(2.0, 90.0)
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from plans.arm import COLUMN, FINGERS, LEAN_DEG, Floats, angles
from plans.hand import SHAPES, spread, thumb

AT_EASE: dict[str, dict[str, float]] = {
    "sitting": {"elevation": 6, "plane": 60, "elbow": 10},
    "standing": {"elevation": 5, "plane": 45, "elbow": 8},
    "sitting_at_table": {"elevation": 35, "plane": 80, "elbow": 55, "supination": -75},
    "lying_back": {"elevation": -7, "plane": 90, "elbow": 8},
    "lying_side": {"elevation": 4, "plane": 90, "elbow": 8},
    "leaning_forward": {"elevation": LEAN_DEG, "plane": 90, "elbow": 4},
}
"""The arm at ease in each position, with a relaxed hand."""

SETTINGS = ("rests", "help", "helps_at", "other", "holds", "anchor", "press", "view")


@dataclass(frozen=True)
class KeyPose:
    """One pose of a movement: when (s within a repetition at its own pace) and every angle."""

    at_s: float
    coordinates: tuple[float, ...]
    hold: bool = False


def read_poses(
    tables: Sequence[Mapping[str, object]], position: str, *, problems: list[str]
) -> list[KeyPose]:
    """Return the key poses of a step; what is wrong is added to ``problems`` ("pose 2: ...")."""
    ease = _as_pairs(angles(AT_EASE[position] | SHAPES["relaxed"]))
    poses: list[KeyPose] = []
    first: dict[str, float] | None = None
    for number, table in enumerate(tables, start=1):
        wrong: list[str] = []
        said = _angles_said(table, wrong, settings_allowed=first is None)
        whole = (ease if first is None else first) | said
        if first is None:
            first = whole
        at_s = _number(table.get("at"), "at", wrong)
        if (at_s == 0) != (number == 1) or (poses and at_s <= poses[-1].at_s):
            wrong.append("times must start at 0 and rise")
        poses.append(
            KeyPose(
                at_s=at_s,
                coordinates=tuple(whole[name] for name in COLUMN),
                hold=table.get("hold") is True,
            )
        )
        problems += [f"pose {number}: {message}" for message in wrong]
    return poses


def _as_pairs(row: Floats) -> dict[str, float]:
    return {name: float(row[0, column]) for name, column in COLUMN.items()}


def _number(value: object, name: str, wrong: list[str]) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        wrong.append(f"{name} must be a number, not {value!r}")
        return 0.0
    return float(value)


def _numbers(value: object, name: str, count: int, wrong: list[str]) -> list[float]:
    if not isinstance(value, Sequence) or isinstance(value, str) or len(value) != count:
        wrong.append(f"{name} must be {count} numbers, not {value!r}")
        return [0.0] * count
    return [_number(each, name, wrong) for each in value]


def _angles_said(
    table: Mapping[str, object], wrong: list[str], *, settings_allowed: bool
) -> dict[str, float]:
    """The joint angles that one pose gives: its hand's shape first, single angles over it."""
    said: dict[str, float] = {}
    if "hand" in table:
        shape = table["hand"]
        if isinstance(shape, str) and shape in SHAPES:
            said |= {name: 0.0 for name in COLUMN if "_" in name and name != "plane"}
            said |= SHAPES[shape]
        else:
            wrong.append(f"hand must be one of {', '.join(SHAPES)}, not {shape!r}")
    # A database may keep keys in any order: what is said of one joint stands over its group.
    for name, value in sorted(
        table.items(), key=lambda said: (said[0] in COLUMN, said[0] in FINGERS)
    ):
        if name in ("at", "hold", "hand"):
            continue
        if name == "fingers" or name in FINGERS:
            bent = _numbers(value, name, 3, wrong)
            for finger in FINGERS if name == "fingers" else (name,):
                joints = (f"{finger}_mcp", f"{finger}_pip", f"{finger}_dip")
                said |= dict(zip(joints, bent, strict=True))
        elif name == "thumb":
            said |= thumb(*_numbers(value, name, 5, wrong))
        elif name == "spread":
            said |= spread(_number(value, name, wrong))
        elif name in COLUMN:
            said[name] = _number(value, name, wrong)
        elif name not in SETTINGS:
            wrong.append(f"{name} is no joint angle or setting")
        elif not settings_allowed:
            wrong.append(f"{name} belongs to the first pose")
    return said


def between(times_s: Floats, values: Floats, asked_s: Floats) -> Floats:
    """Values (rows at rising ``times_s``) at the times asked: smooth, still at both ends.

    Monotone cubic interpolation (Fritsch & Butland 1984, SIAM J Sci Stat Comput 5:300-304): it
    passes through every key pose, turns only at key poses, and never goes beyond them, so the
    range of the key poses is the range of the movement.
    """
    if len(times_s) == 1:
        return np.repeat(values, len(asked_s), axis=0)
    gap = np.diff(times_s)[:, None]
    rise = np.diff(values, axis=0) / gap
    slope = np.zeros_like(values)
    before, after = rise[:-1], rise[1:]
    one = 2 * gap[1:] + gap[:-1]
    two = gap[1:] + 2 * gap[:-1]
    same_way = before * after > 0
    safe_before, safe_after = np.where(same_way, before, 1.0), np.where(same_way, after, 1.0)
    slope[1:-1] = np.where(same_way, (one + two) / (one / safe_before + two / safe_after), 0.0)
    part = np.clip(np.searchsorted(times_s, asked_s, side="right") - 1, 0, len(gap) - 1)
    share = ((asked_s - times_s[part]) / gap[part, 0])[:, None]
    width = gap[part]
    left = (1 + 2 * share) * (1 - share) ** 2 * values[part]
    left = left + share * (1 - share) ** 2 * width * slope[part]
    right = share**2 * (3 - 2 * share) * values[part + 1]
    result: Floats = left + right + share**2 * (share - 1) * width * slope[part + 1]
    return result
