"""A movement that turns back where one motion comes to an angle: the same exercise, shorter. Pure.

What a line with a stop is checked, drawn and counted as. The way there is the movement's own, up to
the first pose at that angle, and the way back is the same one backwards.

>>> from plans.exercise import read_movement
>>> lift = read_movement(
...     {
...         "effort": "active",
...         "position": "sitting",
...         "moves": ["shoulder_flexion"],
...         "poses": [{"at": 0, "plane": 90}, {"at": 3, "elevation": 150}, {"at": 6}],
...     },
...     where="lift",
... )
>>> short = stopped(lift, ("shoulder_flexion", 90))
>>> short.range_deg()["shoulder_flexion"], short.own_pace_s < lift.own_pace_s
((6.0, 90.0), True)
>>> stopped(lift, ("shoulder_flexion", 160)) is lift, stopped(lift, None) is lift
(True, True)
"""

from dataclasses import replace

import numpy as np

from plans import clinical
from plans.arm import Floats
from plans.catalogue import Exercise, Step
from plans.exercise import Movement, movement_of
from plans.poses import KeyPose

type Stop = tuple[str, int]
"""A motion, and the angle in degrees at which the movement turns back."""

SLACK_DEG = 0.05
"""Less than this beyond an angle is rounding."""

LOOKS = 481
"""How many poses of a repetition are looked at for the first one beyond the angle."""

CLOSER = 17
"""How many poses are looked at between the last one within the angle and the first beyond it."""

ALONG = 8
"""Poses kept on the way to the stop, so that it is the same way."""

LEAST_S = 0.05
"""A movement that is there at once has nothing to stop: it begins at the angle."""


def stopped(movement: Movement, stop: Stop | None) -> Movement:
    """Return the movement as it is when it turns back at an angle of a motion.

    Unchanged where it begins beyond that angle already, never comes to it, or there is no stop.
    """
    turn_s = _turn_s(movement, *stop) if stop else None
    if turn_s is None:
        return movement
    before = [pose for pose in movement.poses if pose.at_s < turn_s]
    is_held = any(pose.hold for pose in movement.poses if pose.at_s >= turn_s)
    kept_s = {pose.at_s for pose in before}
    along = {float(at_s) for at_s in np.linspace(0.0, turn_s, ALONG + 2)} | kept_s | {turn_s}
    times_s = np.array(sorted(along))
    rows = movement.coordinates_at(times_s)
    holds = {pose.at_s for pose in before if pose.hold} | ({turn_s} if is_held else set())
    there = [
        KeyPose(float(at_s), tuple(map(float, row)), float(at_s) in holds)
        for at_s, row in zip(times_s, rows, strict=True)
    ]
    back = [replace(pose, at_s=2 * turn_s - pose.at_s, hold=False) for pose in there[-2::-1]]
    return replace(movement, poses=(*there, *back))


def line_movement(exercise: Exercise, step: Step, stop: Stop | None = None) -> Movement:
    """Return what a line does: its step's movement, up to its stop; MovementError as there."""
    return stopped(movement_of(exercise, step), stop)


def begins_at_deg(movement: Movement, motion: str) -> float | None:
    """Return the angle of a motion that a movement begins at; None where it has none."""
    angle_deg = float(_highest(movement, motion, np.zeros(1))[0])
    return angle_deg if np.isfinite(angle_deg) else None


def _turn_s(movement: Movement, motion: str, stop_deg: int) -> float | None:
    """When the movement first comes to the angle; None where there is nothing to stop."""
    times_s = np.union1d(
        np.linspace(0.0, movement.own_pace_s, LOOKS), [pose.at_s for pose in movement.poses]
    )
    for _ in range(3):  # each look is closer by the number of poses
        beyond = np.flatnonzero(_highest(movement, motion, times_s) > stop_deg + SLACK_DEG)
        if not beyond.size or not beyond[0]:
            return None
        within_s = float(times_s[beyond[0] - 1])
        times_s = np.linspace(within_s, float(times_s[beyond[0]]), CLOSER)
    return within_s if within_s >= LEAST_S else None


def _highest(movement: Movement, motion: str, times_s: Floats) -> Floats:
    """A motion's angle at those times; minus infinity where the pose has none."""
    rows = movement.coordinates_at(times_s)
    high = clinical.motion_angles(rows, movement.chain(rows)).get(motion)
    if high is None:
        return np.full(len(times_s), -np.inf)
    found: Floats = np.nan_to_num(high[1], nan=-np.inf)
    return found
