"""The hand's joints: named shapes, and where each finger and the thumb lie. Pure.

Angles in degrees, lengths in metres of an adult hand 18 cm long. A shape is the set of joint
angles that it differs from straight fingers by; its names are the trade's.
"""

from dataclasses import dataclass

import numpy as np

from plans.arm import COLUMN, FINGERS, Chain, Floats, turn_x, turn_y, turn_z

# Lengths of the three bones, and where the knuckle lies: towards the thumb, along the hand.
BONES_M: dict[str, tuple[float, float, float]] = {
    "index": (0.042, 0.026, 0.020),
    "middle": (0.046, 0.029, 0.021),
    "ring": (0.043, 0.027, 0.021),
    "little": (0.034, 0.021, 0.019),
}
KNUCKLES_M: dict[str, tuple[float, float]] = {
    "index": (0.029, 0.088),
    "middle": (0.009, 0.092),
    "ring": (-0.011, 0.088),
    "little": (-0.030, 0.079),
}
THUMB_ROOT_M = (0.022, 0.022, 0.006)
"""Towards the thumb's side, along the hand, and towards the palm's side."""
THUMB_BONES_M = (0.044, 0.032, 0.026)
THUMB_FACES_DEG = 65.0
"""How far the thumb's bending is turned from that of the fingers towards bending across."""


def fingers(mcp: float, pip: float, dip: float) -> dict[str, float]:
    """All four fingers bent alike."""
    return {
        f"{finger}_{joint}": value
        for finger in FINGERS
        for joint, value in (("mcp", mcp), ("pip", pip), ("dip", dip))
    }


def thumb(out: float, front: float, turn: float, mcp: float, ip: float) -> dict[str, float]:
    """The thumb's five angles."""
    names = ("thumb_out", "thumb_front", "thumb_turn", "thumb_mcp", "thumb_ip")
    return dict(zip(names, (out, front, turn, mcp, ip), strict=True))


def spread(angle_deg: float) -> dict[str, float]:
    """Index and little finger away from the middle one, the ring finger half as far."""
    return {
        "index_spread": angle_deg,
        "ring_spread": angle_deg / 2,
        "little_spread": angle_deg,
    }


SHAPES: dict[str, dict[str, float]] = {
    "straight": thumb(35, 5, 0, 0, 0),
    "relaxed": fingers(22, 24, 12) | thumb(30, 25, 10, 10, 10),
    "spread": spread(18) | thumb(60, 5, 0, 0, 0),
    "closed": spread(0) | thumb(12, 5, 0, 0, 0),
    "hook": fingers(0, 95, 60) | thumb(30, 10, 0, 0, 0),
    "tabletop": fingers(85, 0, 0) | thumb(30, 10, 0, 0, 0),
    "straight_fist": fingers(85, 95, 0) | thumb(30, 15, 0, 0, 0),
    "fist": fingers(88, 98, 65) | thumb(20, 48, 30, 35, 50),
    "grip": fingers(60, 70, 35) | thumb(25, 55, 35, 20, 25),
}
"""Shapes of the hand by name."""


@dataclass(frozen=True)
class HandPoints:
    """Places (m, world) in each pose of a chain: digits by name, each an array (pose, joint, 3).

    A finger has its knuckle, two joints and its tip; the thumb its root, two joints and its tip.
    """

    digits: dict[str, Floats]


_ROOTS_M = np.array([(*KNUCKLES_M[finger], 0.0) for finger in FINGERS]) * (1, -1, -1)
_BONES_M = np.array([BONES_M[finger] for finger in FINGERS])
_BENDS = [[COLUMN[f"{finger}_{joint}"] for finger in FINGERS] for joint in ("mcp", "pip", "dip")]
_SPREADS = [COLUMN[f"{finger}_spread"] for finger in FINGERS]
_TOWARDS_THUMB = np.array([1.0, 1.0, -1.0, -1.0])
_THUMB_ROOT_M = np.array(THUMB_ROOT_M) * (1, -1, -1)


def hand_points(coordinates: Floats, arm: Chain) -> HandPoints:
    """Where the fingers' and the thumb's joints lie in every pose (row)."""
    frame, wrist, poses = arm.hand_frame, arm.wrist, len(coordinates)
    bone = np.repeat(frame, 4, axis=0)  # rows: the four fingers of the first pose, then the next
    bone = bone @ turn_z((coordinates[:, _SPREADS] * _TOWARDS_THUMB).ravel())
    points = [wrist[:, None, :] + _ROOTS_M @ frame.transpose(0, 2, 1)]
    for number, columns in enumerate(_BENDS):
        bone = bone @ turn_x(coordinates[:, columns].ravel())
        along = -bone[:, :, 1].reshape(poses, 4, 3)
        points.append(points[-1] + along * _BONES_M[:, number, None])
    reached = np.stack(points, axis=2)  # pose, finger, joint, place
    digits = {finger: reached[:, i] for i, finger in enumerate(FINGERS)}
    out, front, turn, mcp, ip = (
        coordinates[:, COLUMN[f"thumb_{name}"]] for name in ("out", "front", "turn", "mcp", "ip")
    )
    bone = frame @ turn_z(out) @ turn_x(front) @ turn_y(THUMB_FACES_DEG + turn)
    places = [wrist + frame @ _THUMB_ROOT_M]
    for length_m, bend in zip(THUMB_BONES_M, (None, mcp, ip), strict=True):
        if bend is not None:
            bone = bone @ turn_x(bend)
        places.append(places[-1] - bone[:, :, 1] * length_m)
    digits["thumb"] = np.stack(places, axis=1)
    return HandPoints(digits)
