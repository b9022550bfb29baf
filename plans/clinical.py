"""Clinical angles from directions: one function a motion, degrees, arrays of poses. Pure.

Directions are unit vectors in the trunk's axes (X front, Y head, Z right), one row a pose, of a
right arm. An angle is NaN where the pose has none, such as abduction of an arm held to the front.

Elevation in a plane within 60 degrees of the sagittal plane counts as flexion, within 60 of the
frontal plane as abduction; between 30 and 60 it is both, so that a limit on either is kept (common
practice, no source). Zero and signs are those of the trade: rotation 0 has the forearm to the
front, external rotation takes it outwards; supination 0 has the thumb up; horizontal adduction 0
is straight out to the side.
"""

import numpy as np

from plans.arm import COLUMN, FINGERS, UNSAID, Chain, Floats

FRONT, HEAD, RIGHT = 0, 1, 2

HANGING_DEG = 5.0
"""Below this the plane of elevation says nothing: a hanging arm is at 0 of every motion."""

OVERHEAD_DEG = 175.0
"""Above this it says nothing again: an arm overhead is at full flexion and full abduction."""


def _dot(one: Floats, other: Floats) -> Floats:
    product: Floats = np.einsum("ij,ij->i", one, other)
    return product


def _angle_deg(across: Floats, along: Floats) -> Floats:
    angle: Floats = np.degrees(np.arctan2(across, along))
    angle[angle < 1e-9 - 180] += 360  # half a turn is 180, on whichever side rounding puts it
    return angle


def elevation_deg(upper: Floats) -> Floats:
    """Angle of the upper arm from hanging beside the trunk, 0 to 180, exact at both ends."""
    level = np.hypot(upper[:, FRONT], upper[:, RIGHT])
    return _angle_deg(level, -upper[:, HEAD])


def plane_deg(upper: Floats) -> Floats:
    """Plane of elevation: 0 to the side, 90 to the front, -90 to the back, 180 across."""
    return _angle_deg(upper[:, FRONT], upper[:, RIGHT])


def shoulder_flexion(upper: Floats) -> Floats:
    """Elevation in the planes about the sagittal one; extension is below 0."""
    elevation, plane = elevation_deg(upper), plane_deg(upper)
    flexed = (plane >= 30 - 1e-9) & (plane <= 150 + 1e-9)
    extended = (plane <= -30 + 1e-9) & (plane >= -150 - 1e-9)
    angle = np.where(flexed, elevation, np.where(extended, -elevation, np.nan))
    return _at_the_ends(angle, elevation)


def shoulder_abduction(upper: Floats) -> Floats:
    """Elevation in the planes about the frontal one; adduction is below 0.

    An arm lifted to the front and across is flexed and horizontally adducted; only within 30
    degrees of the frontal plane on the other side is it adducted.
    """
    elevation, plane = elevation_deg(upper), plane_deg(upper)
    abducted = np.abs(plane) <= 60 + 1e-9
    adducted = np.abs(plane) >= 150 - 1e-9
    angle = np.where(abducted, elevation, np.where(adducted, -elevation, np.nan))
    return _at_the_ends(angle, elevation)


def _at_the_ends(angle: Floats, elevation: Floats) -> Floats:
    unsaid = np.isnan(angle)
    angle = np.where(unsaid & (elevation <= HANGING_DEG), 0.0, angle)
    return np.where(elevation >= OVERHEAD_DEG, elevation, angle)


def horizontal_adduction(upper: Floats) -> Floats:
    """Angle in the level plane of an arm raised 45 to 135: 0 to the side, 90 to the front.

    An arm more than 60 degrees behind the frontal plane is in extension, and has none.
    """
    elevation, plane = elevation_deg(upper), plane_deg(upper)
    raised = (elevation >= 45) & (elevation <= 135) & (plane >= -60 - 1e-9)
    return np.where(raised, plane, np.nan)


def external_rotation(upper: Floats, bend: Floats) -> Floats:
    """Turning of the upper arm about its length; internal rotation is below 0.

    ``bend`` is where the forearm points when the elbow is at 90. Measured from where the shortest
    swing out of hanging would point it: so at the side, the forearm's angle in the level plane from
    straight ahead; in abduction of 90, its angle above the level. Straight overhead the shortest
    swing is not unique and the swing to the front is taken.
    """
    front, head, right = upper.T
    # The shortest swing takes -Y to ``upper``; this is where it takes X (Rodrigues, for unit u):
    # X - front * (upper - Y) / (1 - head), and for an arm straight up, -X.
    scale = np.divide(front, 1 - head, out=np.zeros_like(front), where=head < 1 - 1e-12)
    zero = np.stack([1 - scale * front, -scale * (head - 1), -scale * right], axis=1)
    zero[head >= 1 - 1e-12] = (-1.0, 0.0, 0.0)
    along = _dot(zero, bend)
    across = _dot(np.cross(zero, bend), upper)
    return _angle_deg(across, along)


def elbow_flexion(upper: Floats, forearm: Floats) -> Floats:
    """Angle between upper arm and forearm, 0 straight."""
    across = np.linalg.norm(np.cross(upper, forearm), axis=1)
    return _angle_deg(across, _dot(upper, forearm))


def forearm_supination(forearm: Floats, bend: Floats, thumb: Floats) -> Floats:
    """Turning of the forearm, 0 with the thumb along ``bend``; pronation is below 0.

    ``bend`` is where the elbow's further flexion would take the forearm, ``thumb`` the thumb's
    side of the wrist.
    """
    along = _dot(bend, thumb)
    across = _dot(np.cross(bend, thumb), forearm)
    return _angle_deg(across, along)


def wrist_flexion(forearm: Floats, palm: Floats, hand: Floats) -> Floats:
    """Bend of the hand towards the forearm's palm side; extension is below 0."""
    return _angle_deg(_dot(hand, palm), _dot(hand, forearm))


def wrist_radial_deviation(thumb: Floats, hand: Floats) -> Floats:
    """Tilt of the hand towards the thumb's side of the forearm; ulnar deviation is below 0."""
    tilt: Floats = np.degrees(np.arcsin(np.clip(_dot(hand, thumb), -1, 1)))
    return tilt


def motion_angles(coordinates: Floats, arm: Chain) -> dict[str, tuple[Floats, Floats]]:
    """Return for each motion (by key) the lowest and the highest angle of each pose.

    The two differ only where a motion stands for several joints: of the fingers and thumb the
    least and the most bent joint count. Each motion's opposite has the same angles below 0.
    """
    inside = arm.trunk  # columns are the trunk's axes, so v @ inside are v's parts along them
    upper, forearm = arm.upper_direction @ inside, arm.forearm_direction @ inside
    bend, hand = arm.upper_frame[:, :, 0] @ inside, arm.hand_direction @ inside
    turned = inside.T @ arm.turned_frame
    column = {name: coordinates[:, i] for name, i in COLUMN.items()}
    joints = np.stack([column[f"{f}_{j}"] for f in FINGERS for j in ("mcp", "pip", "dip")])
    spreads = np.stack([column[f"{f}_spread"] for f in FINGERS if f != "middle"])
    # At its root the thumb is bent as far as it is nearer to the index than at rest.
    root = UNSAID["thumb_out"] - column["thumb_out"]
    thumb_bends = np.stack([root, column["thumb_mcp"], column["thumb_ip"]])
    both: dict[str, tuple[str, Floats, Floats]] = {}

    def say(motion: str, opposite: str, low: Floats, high: Floats | None = None) -> None:
        both[motion] = (opposite, low, low if high is None else high)

    say("shoulder_blade_protraction", "shoulder_blade_retraction", column["protraction"])
    say("shoulder_blade_elevation", "shoulder_blade_depression", column["shrug"])
    say("shoulder_flexion", "shoulder_extension", shoulder_flexion(upper))
    say("shoulder_abduction", "shoulder_adduction", shoulder_abduction(upper))
    say(
        "shoulder_horizontal_adduction",
        "shoulder_horizontal_abduction",
        horizontal_adduction(upper),
    )
    # Straight overhead, the same arm has been flexed, or abducted and turned: no turn to tell.
    turned_out = np.where(elevation_deg(upper) < 179.5, external_rotation(upper, bend), np.nan)
    say("shoulder_external_rotation", "shoulder_internal_rotation", turned_out)
    say("elbow_flexion", "elbow_extension", elbow_flexion(upper, forearm))
    say(
        "forearm_supination",
        "forearm_pronation",
        forearm_supination(
            forearm, arm.forearm_frame[:, :, 0] @ inside, arm.turned_frame[:, :, 0] @ inside
        ),
    )
    say("wrist_flexion", "wrist_extension", wrist_flexion(forearm, -turned[:, :, 2], hand))
    say(
        "wrist_radial_deviation",
        "wrist_ulnar_deviation",
        wrist_radial_deviation(turned[:, :, 0], hand),
    )
    say("finger_flexion", "finger_extension", joints.min(axis=0), joints.max(axis=0))
    say("finger_abduction", "finger_adduction", spreads.min(axis=0), spreads.max(axis=0))
    say("thumb_flexion", "thumb_extension", thumb_bends.min(axis=0), thumb_bends.max(axis=0))
    say("thumb_abduction", "thumb_adduction", column["thumb_front"])
    result = {key: (low, high) for key, (_, low, high) in both.items()}
    result |= {opposite: (-high, -low) for opposite, low, high in both.values()}
    result["thumb_opposition"] = (column["thumb_turn"], column["thumb_turn"])
    return result
