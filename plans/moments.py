"""What gravity, a hand weight and rubbing ask of the muscles at each joint, pose by pose. Pure.

Static and gravity only: no speed, no muscle or joint-contact forces, no weight of single fingers.
Every result is an estimate. ``demand_nm`` is the moment that muscles (or a helper) must supply
about an axis; its sign says which muscle group: above 0 the one that makes the axis's ``up``
motion, below 0 the one that makes its ``down`` motion.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from patients.motions import Joint
from plans.arm import COLUMN, SITTING, Chain, Floats, angles, chain
from plans.segments import Arm, Body

GRAVITY_M_S2 = 9.81

FRICTION = 0.3
"""Of cloth on a smooth board: share of the weight pressing on it; common practice, no source."""

SELF_ASSISTED_SHARE = 0.5
"""How much of the load the other hand takes where nobody says; common practice, no source."""

RESTS: tuple[str, ...] = ("", "upper_arm", "forearm", "hand", "arm")
"""What may lie on the bed or table: nothing, a part and so all between it and the trunk, or all."""

WEIGHTED_MEANS = ("held", "cuff")
"""Means of resistance that are weights; bands, putty and the other hand enter no moment."""


@dataclass(frozen=True)
class Axis:
    """A joint's axis and the motions it makes, up for a positive turn and down for a negative."""

    joint: Joint
    name: str
    up: str
    down: str


AXES: tuple[Axis, ...] = (
    Axis(
        Joint.SHOULDER_BLADE,
        "protraction",
        "shoulder_blade_protraction",
        "shoulder_blade_retraction",
    ),
    Axis(Joint.SHOULDER_BLADE, "shrug", "shoulder_blade_elevation", "shoulder_blade_depression"),
    Axis(Joint.SHOULDER, "elevation", "shoulder_flexion", "shoulder_extension"),
    Axis(
        Joint.SHOULDER,
        "across",
        "shoulder_horizontal_adduction",
        "shoulder_horizontal_abduction",
    ),
    Axis(
        Joint.SHOULDER,
        "rotation",
        "shoulder_external_rotation",
        "shoulder_internal_rotation",
    ),
    Axis(Joint.ELBOW, "flexion", "elbow_flexion", "elbow_extension"),
    Axis(Joint.FOREARM, "supination", "forearm_supination", "forearm_pronation"),
    Axis(Joint.WRIST, "flexion", "wrist_flexion", "wrist_extension"),
    Axis(Joint.WRIST, "deviation", "wrist_radial_deviation", "wrist_ulnar_deviation"),
)
"""The axes whose moments are computed. ``groups`` names the shoulder's motions in each pose.

The shoulder blade's are those of the collar bone at the breastbone, which bears the whole arm.
"""


@dataclass(frozen=True)
class Load:
    """A weight (kg) and where it hangs: ``held`` in the hand, or a ``cuff`` round the wrist.

    ``beyond_thumb_m``: how far its middle lies to the thumb's side of the grip, as of a weight held
    by one end.
    """

    kg: float = 0.0
    means: str = "held"
    beyond_thumb_m: float = 0.0

    @property
    def weight_kg(self) -> float:
        """The part of it that gravity pulls on: none of a band, putty or the other hand."""
        return self.kg if self.means in WEIGHTED_MEANS else 0.0


@dataclass(frozen=True)
class Support:
    """What carries the arm besides its own muscles.

    ``rests`` is one of ``RESTS``; ``help_share`` (0 to 1) is what the other hand or a helper takes
    of every moment; ``friction`` the coefficient where a resting part slides.
    """

    rests: str = ""
    help_share: float = 0.0
    friction: float = FRICTION


def axis_vectors(arm: Chain) -> tuple[Floats, ...]:
    """Unit vectors of ``AXES`` in the world, one array of rows each."""
    return (
        np.broadcast_to(arm.trunk[:, 1], arm.shoulder.shape),
        -arm.clavicle_frame[:, :, 0],
        -arm.swing[:, :, 0],
        arm.swing[:, :, 2],
        -arm.upper_frame[:, :, 1],
        arm.upper_frame[:, :, 2],
        -arm.forearm_frame[:, :, 1],
        arm.turned_frame[:, :, 0],
        arm.bent_frame[:, :, 2],
    )


def _weights(arm: Chain, parts: Arm, load: Load) -> list[tuple[float, Floats]]:
    """Mass (kg) and place of each: upper arm, forearm, hand, weight; from the trunk outwards."""
    upper, forearm, hand = parts.upper_arm, parts.forearm, parts.hand
    in_hand = arm.wrist - arm.hand_frame[:, :, 1] * hand.centre_m
    return [
        (upper.mass_kg, arm.shoulder - arm.upper_frame[:, :, 1] * upper.centre_m),
        (forearm.mass_kg, arm.elbow - arm.forearm_frame[:, :, 1] * forearm.centre_m),
        (hand.mass_kg, in_hand),
        (
            load.weight_kg,
            arm.wrist
            if load.means == "cuff"
            else in_hand + arm.hand_frame[:, :, 0] * load.beyond_thumb_m,
        ),
    ]


# For each axis, the joint it goes through and the first of the weights that hang beyond it.
_BEYOND = (0, 0, 0, 0, 0, 1, 1, 2, 2)
# How many axes, from the trunk outwards, a resting part relieves. An upper arm that rests still
# has to be kept from rolling; a forearm that rests may still be turned by what the hand holds.
_RELIEVED = {"": 0, "upper_arm": 4, "forearm": 6, "hand": 9, "arm": 9}


def demands_nm(
    arm: Chain, parts: Arm, *, load: Load = Load(), support: Support = Support()
) -> Floats:
    """Moments (N·m) that muscles must supply: one row a pose, one column for each of ``AXES``.

    A resting part, and all between it and the trunk, is taken as carried by what it lies on; what
    juts out beyond it is not. The other hand's or helper's share is taken off. Rubbing is apart,
    in ``friction_nm``.
    """
    weights = _weights(arm, parts, load)
    result = np.zeros((len(arm.shoulder), len(AXES)))
    # Gravity's moment about a point: the sum of r x (0, 0, -w), so (-w y, w x, 0). Summed from
    # the hand inwards: weight, weight times place.
    total = 0.0
    moment = np.zeros_like(arm.shoulder)
    sums: dict[int, tuple[float, Floats]] = {}
    for first in (3, 2, 1, 0):
        mass, place = weights[first]
        total += mass * GRAVITY_M_S2
        moment = moment + mass * GRAVITY_M_S2 * place
        sums[first] = (total, moment)
    vectors = axis_vectors(arm)
    centres = _axis_centres(arm)
    for index in range(_RELIEVED[support.rests], len(AXES)):
        weight, moved = sums[_BEYOND[index]]
        lever = moved - weight * centres[index]
        vector = vectors[index]
        result[:, index] = vector[:, 0] * lever[:, 1] - vector[:, 1] * lever[:, 0]
    return result * (1.0 - support.help_share)


def _axis_centres(arm: Chain) -> tuple[Floats, ...]:
    sternum = np.broadcast_to(arm.sternum, arm.shoulder.shape)
    shoulder, elbow, wrist = arm.shoulder, arm.elbow, arm.wrist
    return (sternum, sternum, shoulder, shoulder, shoulder, elbow, elbow, wrist, wrist)


def _pressing(
    arm: Chain, parts: Arm, load: Load, support: Support
) -> list[tuple[Floats, Floats, int]]:
    """Where a resting arm presses (places), how hard (N) and on which of ``_weights`` it acts."""
    weights = _weights(arm, parts, load)
    ones = np.ones(len(arm.shoulder))
    newtons = [mass * GRAVITY_M_S2 * ones for mass, _ in weights]
    places = [place for _, place in weights]
    share = parts.upper_arm.centre_m / parts.upper_arm.length_m  # of a beam, borne at its far end
    if support.rests == "arm":
        return [(places[i], newtons[i], i) for i in range(4)]
    if support.rests == "forearm":  # the hand juts out: the forearm bears it at the wrist
        return [
            (arm.elbow, newtons[0] * share, 1),
            (places[1], newtons[1], 1),
            (arm.wrist, newtons[2] + newtons[3], 1),
        ]
    if support.rests == "hand":
        fore = parts.forearm.centre_m / parts.forearm.length_m
        return [(places[2], newtons[2] + newtons[3] + newtons[1] * fore, 2)]
    if support.rests == "upper_arm":
        return [(arm.elbow, newtons[0] * share + newtons[1] + newtons[2] + newtons[3], 0)]
    return []


def friction_nm(
    arm: Chain,
    parts: Arm,
    times_s: Floats,
    *,
    load: Load = Load(),
    support: Support = Support(),
) -> Floats:
    """Moments (N·m) to overcome rubbing of a resting part that slides, in the layout of demands.

    Each resting part presses with its own weight and is dragged against its way at that pose;
    a part that stands still rubs on nothing.
    """
    result = np.zeros((len(arm.shoulder), len(AXES)))
    if not support.rests or times_s[-1] <= times_s[0]:
        return result
    vectors, centres = axis_vectors(arm), _axis_centres(arm)
    for place, newtons, part in _pressing(arm, parts, load, support):
        velocity = np.gradient(place, times_s, axis=0)
        velocity[:, 2] = 0.0
        speed = np.linalg.norm(velocity, axis=1, keepdims=True)
        way = np.divide(velocity, speed, out=np.zeros_like(velocity), where=speed > 1e-3)
        force = way * (support.friction * newtons)[:, None]
        for index, beyond in enumerate(_BEYOND):
            if beyond <= part:
                lever = place - centres[index]
                result[:, index] += np.einsum("ij,ij->i", vectors[index], np.cross(lever, force))
    return result * (1.0 - support.help_share)


def height_energy_j(arm: Chain, parts: Arm, *, load: Load = Load()) -> Floats:
    """Potential energy (J) of arm and weight in each pose, from an arbitrary zero."""
    weights = _weights(arm, parts, load)
    total = np.zeros(len(arm.shoulder))
    for mass, place in weights:
        total = total + mass * GRAVITY_M_S2 * place[:, 2]
    return total


def groups(coordinates: Floats, axis: int) -> list[tuple[str, str]]:
    """Name the motions that a positive and a negative turn about an axis make, pose by pose.

    Only the shoulder's change: in planes within 45 degrees of the frontal one its elevation is
    abduction, else flexion; and a turn across, of an arm that hangs, is adduction, or flexion.
    """
    if AXES[axis].name not in ("elevation", "across"):
        return [(AXES[axis].up, AXES[axis].down)] * len(coordinates)
    return [
        _shoulder_groups(AXES[axis], row[COLUMN["elevation"]], row[COLUMN["plane"]])
        for row in coordinates
    ]


def _shoulder_groups(axis: Axis, elevation_deg: float, plane_deg: float) -> tuple[str, str]:
    if axis.name == "across" and elevation_deg >= 45:
        return axis.up, axis.down
    plane = (plane_deg + 180) % 360 - 180
    frontal = abs(plane) < 45 or abs(plane) > 135
    if axis.name == "elevation":
        name = "abduction adduction" if frontal else "flexion extension"
        forwards = -45 < plane <= 135
    else:
        name = "flexion extension" if frontal else "adduction abduction"
        forwards = -45 < plane <= 135
    up, down = (f"shoulder_{word}" for word in name.split())
    return (up, down) if forwards else (down, up)


def reference_nm(body: Body) -> Mapping[Joint, float]:
    """Moment (N·m) at each joint of the bare arm held straight out in sitting.

    The measure that loads are told in shares of: to the front or to the side, whichever asks more
    of that joint. The forearm's turning has none.
    """
    parts = body.arm
    straight = np.vstack([angles(elevation=90), angles(elevation=90, plane=0)])
    rows = np.abs(demands_nm(chain(straight, SITTING, parts), parts)).max(axis=0)
    biggest: dict[Joint, float] = {}
    for axis, value in zip(AXES, rows, strict=True):
        if axis.joint is not Joint.FOREARM:
            biggest[axis.joint] = max(biggest.get(axis.joint, 0.0), float(value))
    return biggest
