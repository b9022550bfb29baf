"""Whether a person could do a movement: joints within range, no limb through bed or trunk. Pure.

Ranges are those of the AAOS (in Norkin & White, Measurement of Joint Motion) where it gives one;
the rest are plausibility limits of ours (common practice, no source). Whoever is stiff or painful
can do less: that is what precautions and assessments are for, not these limits.
"""

from collections.abc import Sequence

import numpy as np

from patients.motions import MOTIONS
from plans import clinical
from plans.arm import COLUMN, COORDINATES, FINGERS, POSITIONS, Chain, Floats, chain
from plans.poses import KeyPose
from plans.segments import Body

SLACK_DEG = 0.5

OWN_LIMITS_DEG: dict[str, float] = {
    "shoulder_blade_protraction": 25,
    "shoulder_blade_retraction": 20,
    "shoulder_blade_elevation": 35,
    "shoulder_blade_depression": 10,
    "shoulder_adduction": 50,
    "shoulder_horizontal_adduction": 135,
    "shoulder_horizontal_abduction": 45,
    "thumb_opposition": 75,
}
"""Where the AAOS gives none."""

JOINT_LIMITS_DEG: dict[str, tuple[float, float]] = {
    "mcp": (-45, 90),
    "pip": (0, 100),
    "dip": (0, 90),
    "spread": (-15, 30),
    "thumb_out": (10, 80),
    "thumb_front": (0, 70),
    "thumb_mcp": (-10, 50),
    "thumb_ip": (-15, 80),
}
"""Single joints of fingers and thumb: AAOS; spreading and the thumb's straightening: ours."""

WHOLE_TURN_DEG = (-180.0, 180.0)
"""Of the other joints, whose directions are limited above: beyond these they'd begin anew."""

BED_M = {"lying_back": -0.105, "lying_side": -0.27}
"""Height of the bed's top from the middle of the hips."""

TRUNK_HALF_M = (0.095, 0.150)
"""Half the trunk's depth and width, as an oval."""
HEAD_M, HEAD_RADIUS_M = (0.02, 0.72, 0.0), 0.085

RESTING_SPREAD_M = 0.07
"""How much a resting part's height may change before it no longer rests."""


def problems_of(
    poses: Sequence[KeyPose], position: str, rests: str, times_s: Floats, rows: Floats
) -> list[str]:
    """What no person could do in a movement, each with its pose; empty if nothing.

    ``times_s`` and ``rows`` are samples of the movement between its key poses.
    """
    trunk = POSITIONS[position]
    key_rows = np.array([pose.coordinates for pose in poses])
    problems = _limit_problems(key_rows, trunk)
    for name, begins, ends in zip(
        COORDINATES, poses[0].coordinates, poses[-1].coordinates, strict=True
    ):
        if abs(ends - begins) > SLACK_DEG:
            problems.append(f"pose {len(poses)}: {name} must end where it begins")
    arm = chain(rows, trunk, Body())
    for index, message in _collisions(arm, position):
        before = sum(pose.at_s <= times_s[index] + 1e-9 for pose in poses)
        problems.append(f"pose {before}, at {times_s[index]:.1f} s: {message}")
    return problems + _resting_problems(arm, rests)


def _limit_problems(rows: Floats, trunk: Floats) -> list[str]:
    found: list[tuple[int, str]] = []
    for motion, (_, high) in clinical.motion_angles(rows, chain(rows, trunk, Body())).items():
        if motion.startswith(("finger_", "thumb_f", "thumb_e", "thumb_a")):
            continue  # joint by joint, below
        limit = OWN_LIMITS_DEG.get(motion, MOTIONS[motion].usual_range_deg)
        if limit is None:
            continue
        found += [
            (int(pose), f"{motion} {high[pose]:.0f} is beyond {limit:.0f} degrees")
            for pose in np.flatnonzero(high > limit + SLACK_DEG)
        ]
    fingers = {f"{finger}_{joint}": joint for finger in FINGERS for joint in JOINT_LIMITS_DEG}
    for name, column in COLUMN.items():
        low, top = JOINT_LIMITS_DEG.get(fingers.get(name, name), WHOLE_TURN_DEG)
        values = rows[:, column]
        found += [
            (int(pose), f"{name} {values[pose]:.0f} is not within {low:.0f} to {top:.0f} degrees")
            for pose in np.flatnonzero((values < low - SLACK_DEG) | (values > top + SLACK_DEG))
        ]
    return [f"pose {pose + 1}: {message}" for pose, message in sorted(found)]


def _collisions(arm: Chain, position: str) -> list[tuple[int, str]]:
    """The first pose (by index) at which a part of the arm is where it can't be, for each way."""
    palm = arm.wrist + arm.hand_direction * 0.08
    points = {
        "elbow": arm.elbow,
        "forearm": (arm.elbow + arm.wrist) / 2,
        "wrist": arm.wrist,
        "hand": palm,
    }
    found: list[tuple[int, str]] = []
    for name, place in points.items():
        front, head, right = (place @ arm.trunk).T
        depth, width = TRUNK_HALF_M
        level = (head > 0.02) & (head < float((arm.sternum @ arm.trunk)[1]))
        inside = level & ((front / depth) ** 2 + (right / width) ** 2 < 1)
        if inside.any():
            found.append((int(inside.argmax()), f"the {name} goes through the trunk"))
        if name in ("wrist", "hand"):
            away = np.linalg.norm(place @ arm.trunk - np.array(HEAD_M), axis=1)
            if (away < HEAD_RADIUS_M).any():
                found.append((int(away.argmin()), f"the {name} goes through the head"))
        bed_m = BED_M.get(position)
        if bed_m is not None and (place[:, 2] < bed_m).any():
            found.append((int(place[:, 2].argmin()), f"the {name} goes through the bed"))
    return found


def resting_points(arm: Chain, rests: str) -> list[Floats]:
    """The joints of a part that rests, in every pose."""
    palm = arm.wrist + arm.hand_direction * 0.08
    return {
        "": [],
        "upper_arm": [arm.elbow],
        "forearm": [arm.elbow, arm.wrist],
        "hand": [palm],
        "arm": [arm.elbow, arm.wrist, palm],
    }[rests]


def _resting_problems(arm: Chain, rests: str) -> list[str]:
    points = resting_points(arm, rests)
    if not points:
        return []
    apart_m = float(np.ptp(np.concatenate([place[:, 2] for place in points])))
    if apart_m <= RESTING_SPREAD_M:
        return []
    part = rests.replace("_", " ")
    return [f"pose 1: the {part} rests, but its height changes by {100 * apart_m:.0f} cm"]
