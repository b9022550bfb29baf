"""The arm in space: joint angles in, positions, directions and clinical angles out. Pure.

Always a right arm; a left one is its mirror image and has the same angles and loads.

Axes of the trunk are those of the ISB (Wu et al. 2005, J Biomech 38:981-992): X to the front, Y
towards the head, Z to the right. The world's are x, y level and z up.

Joint angles (degrees), by the names of ``COORDINATES``:

* ``protraction``, ``shrug``: the collar bone swings to the front, and up.
* ``elevation``, ``plane``: how far the upper arm is from hanging beside the trunk, and in which
  plane after the ISB: 0 to the side (abduction), 90 to the front (flexion), 30 to 40 the plane of
  the shoulder blade. An elevation below 0 in plane 90 is extension.
* ``rotation``: turning of the upper arm about its length, external positive, from where the
  shortest swing out of hanging would bring it. The ISB's third angle (Y-X-Y) is this, as internal
  rotation, less the plane; it has no meaning of its own when the arm hangs, ours none only
  straight overhead. At the side it is the forearm's angle in the level plane.
* ``elbow`` (flexion), ``supination`` (0 thumb up, below 0 pronation), ``wrist`` (flexion
  positive), ``deviation`` (radial positive).
* each finger's ``_mcp``, ``_pip``, ``_dip`` (flexion) and ``_spread`` (away from the middle
  finger; of the middle finger, towards the thumb).
* ``thumb_out`` (in the palm's plane, away from the index), ``thumb_front`` (out of that plane, palm
  side), ``thumb_turn`` (turned to face the fingers), ``thumb_mcp``, ``thumb_ip``.

>>> straight_ahead = chain(angles(elevation=90), SITTING, Body())
>>> print((straight_ahead.wrist - straight_ahead.shoulder).round(3) + 0.0)
[[0.564 0.    0.   ]]
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plans.segments import Arm, Body

Floats = NDArray[np.float64]

FINGERS = ("index", "middle", "ring", "little")

COORDINATES: tuple[str, ...] = (
    "protraction",
    "shrug",
    "elevation",
    "plane",
    "rotation",
    "elbow",
    "supination",
    "wrist",
    "deviation",
    *(f"{finger}_{joint}" for finger in FINGERS for joint in ("mcp", "pip", "dip", "spread")),
    "thumb_out",
    "thumb_front",
    "thumb_turn",
    "thumb_mcp",
    "thumb_ip",
)
"""The names of the joint angles, in the order of the columns of an array of them."""

COLUMN: dict[str, int] = {name: column for column, name in enumerate(COORDINATES)}
"""Which column of an array of angles holds which joint angle."""

UNSAID: dict[str, float] = {"plane": 90.0, "thumb_out": 35.0, "thumb_front": 20.0}
"""What an angle is when nobody says; all others are 0."""


def angles(given: Mapping[str, float] | None = None, /, **more: float) -> Floats:
    """Return one row of joint angles (deg); KeyError for a name that is none of them."""
    row = np.zeros((1, len(COORDINATES)))
    for name, value in (UNSAID | dict(given or {}) | more).items():
        row[0, COLUMN[name]] = value
    return row


# Where the trunk lies: columns are its front, its head end and its right side in the world.
def _trunk(front: tuple[float, ...], up: tuple[float, ...]) -> Floats:
    return np.array([front, up, np.cross(front, up)]).T


LEAN_DEG = 65.0
"""How far the trunk leans in the position of leaning forward; common practice, no source."""

_lean = np.radians(LEAN_DEG)
SITTING = _trunk((1, 0, 0), (0, 0, 1))
POSITIONS: dict[str, Floats] = {
    "sitting": SITTING,
    "sitting_at_table": SITTING,
    "standing": SITTING,
    "lying_back": _trunk((0, 0, 1), (-1, 0, 0)),
    # On the sound side: the working arm is on top, the face towards the onlooker.
    "lying_side": _trunk((0, -1, 0), (1, 0, 0)),
    "leaning_forward": _trunk(
        (np.cos(_lean), 0, -np.sin(_lean)), (np.sin(_lean), 0, np.cos(_lean))
    ),
}
"""The trunk's axes in the world by the exercise's position."""


def turn_x(angle_deg: Floats) -> Floats:
    """Rotations about X, one a row."""
    return _turn(angle_deg, 0)


def turn_y(angle_deg: Floats) -> Floats:
    """Rotations about Y, one a row."""
    return _turn(angle_deg, 1)


def turn_z(angle_deg: Floats) -> Floats:
    """Rotations about Z, one a row."""
    return _turn(angle_deg, 2)


def _turn(angle_deg: Floats, axis: int) -> Floats:
    angle = np.radians(angle_deg)
    cos, sin = np.cos(angle), np.sin(angle)
    one, two = (axis + 1) % 3, (axis + 2) % 3
    turn = np.zeros((len(angle), 3, 3))
    turn[:, axis, axis] = 1.0
    turn[:, one, one] = turn[:, two, two] = cos
    turn[:, two, one] = sin
    turn[:, one, two] = -sin
    return turn


@dataclass(frozen=True)
class Chain:
    """An arm in the world, one row a pose: joints as points (m), segments as turned frames.

    Frames have their columns X, Y, Z as the ISB lays them in a hanging arm with the palm to the
    thigh: X to the front (thumb side of the hand), Y towards the shoulder, Z to the right (back
    of the hand). ``trunk`` is the same for all rows. The origin is midway between the hips.
    """

    trunk: Floats
    clavicle_frame: Floats
    swing: Floats  # upper arm before it turns about its length
    upper_frame: Floats
    forearm_frame: Floats  # before it turns in supination
    turned_frame: Floats  # the forearm at the wrist
    bent_frame: Floats  # after the wrist's flexion, before its deviation
    hand_frame: Floats
    sternum: Floats
    shoulder: Floats
    elbow: Floats
    wrist: Floats
    fingertip: Floats

    @property
    def upper_direction(self) -> Floats:
        """From shoulder to elbow."""
        return -self.upper_frame[:, :, 1]

    @property
    def forearm_direction(self) -> Floats:
        """From elbow to wrist."""
        return -self.forearm_frame[:, :, 1]

    @property
    def hand_direction(self) -> Floats:
        """From wrist to knuckles."""
        return -self.hand_frame[:, :, 1]

    @property
    def palm_direction(self) -> Floats:
        """Where the palm faces."""
        return -self.hand_frame[:, :, 2]

    @property
    def thumb_side(self) -> Floats:
        """From little finger to index."""
        return self.hand_frame[:, :, 0]


def chain(coordinates: Floats, trunk: Floats, body: Body | Arm) -> Chain:
    """Forward kinematics of poses (rows of joint angles) of one arm on a trunk in the world."""
    arm = body.arm if isinstance(body, Body) else body
    column = coordinates.T
    protraction, shrug, elevation, plane, rotation = column[:5]
    elbow, supination, wrist, deviation = column[5:9]
    clavicle = trunk @ turn_y(protraction) @ turn_x(-shrug)
    tilted = trunk @ turn_y(plane) @ turn_x(-elevation)
    upper = tilted @ turn_y(-plane - rotation)
    forearm = upper @ turn_z(elbow)
    turned = forearm @ turn_y(-supination)
    bent = turned @ turn_x(wrist)
    hand = bent @ turn_z(deviation)
    sternum = trunk @ np.array([0.0, arm.trunk_m, arm.clavicle_start_m])
    shoulder = sternum + clavicle[:, :, 2] * (arm.half_width_m - arm.clavicle_start_m)
    elbow_at = shoulder - upper[:, :, 1] * arm.upper_arm.length_m
    wrist_at = elbow_at - forearm[:, :, 1] * arm.forearm.length_m
    return Chain(
        trunk=trunk,
        clavicle_frame=clavicle,
        swing=tilted,
        upper_frame=upper,
        forearm_frame=forearm,
        turned_frame=turned,
        bent_frame=bent,
        hand_frame=hand,
        sternum=sternum,
        shoulder=shoulder,
        elbow=elbow_at,
        wrist=wrist_at,
        fingertip=wrist_at - hand[:, :, 1] * arm.hand.length_m,
    )
