"""Ranges of motion of the American Academy of Orthopaedic Surgeons as limits of what is drawn.

Values as printed in Norkin & White, Measurement of Joint Motion, table A.1 (AAOS column), and for
fingers and thumb a teaching card of the same values: MCP flexion 90 and extension 45, PIP 100,
DIP 90; thumb MCP 50, IP 80, CMC abduction 70. Elbow extension (0) is not certain in the source.
"""

import pytest

from plans.exercise import MovementError, read_movement

# motion, AAOS degrees, the joint angle that makes it, whether that is below 0
RANGES = [
    ("shoulder_flexion", 180, "elevation", 1, {"plane": 90}),
    ("shoulder_extension", 60, "elevation", -1, {"plane": 90}),
    ("shoulder_abduction", 180, "elevation", 1, {"plane": 0}),
    ("shoulder_external_rotation", 90, "rotation", 1, {"elevation": 30, "plane": 0}),
    ("shoulder_internal_rotation", 70, "rotation", -1, {"elevation": 30, "plane": 0}),
    ("elbow_flexion", 150, "elbow", 1, {"elevation": 40}),
    ("forearm_supination", 80, "supination", 1, {"elevation": 40}),
    ("forearm_pronation", 80, "supination", -1, {"elevation": 40}),
    ("wrist_flexion", 80, "wrist", 1, {"elevation": 40}),
    ("wrist_extension", 70, "wrist", -1, {"elevation": 40}),
    ("wrist_radial_deviation", 20, "deviation", 1, {"elevation": 40}),
    ("wrist_ulnar_deviation", 30, "deviation", -1, {"elevation": 40}),
    ("finger_flexion", 90, "ring_mcp", 1, {"elevation": 40}),
    ("finger_extension", 45, "ring_mcp", -1, {"elevation": 40}),
    ("finger_flexion", 100, "index_pip", 1, {"elevation": 40}),
    ("finger_flexion", 90, "little_dip", 1, {"elevation": 40}),
    ("thumb_flexion", 50, "thumb_mcp", 1, {"elevation": 40}),
    ("thumb_flexion", 80, "thumb_ip", 1, {"elevation": 40}),
    ("thumb_abduction", 70, "thumb_front", 1, {"elevation": 40}),
]


def move(start, name, angle_deg):
    """A standing movement to an angle and back, the hand straight."""
    first = {"at": 0, "elbow": 5, "hand": "straight", "plane": 90, **start}
    return read_movement(
        {
            "effort": "active",
            "position": "standing",
            "poses": [first, {"at": 2, name: angle_deg}, {"at": 4}],
        },
        where="aaos",
    )


@pytest.mark.parametrize(
    ("motion", "limit_deg", "name", "sign", "start"), RANGES, ids=[f"{r[0]}-{r[2]}" for r in RANGES]
)
def test_a_pose_may_reach_the_published_range_and_not_go_beyond(
    motion, limit_deg, name, sign, start
):
    reached = move(start, name, sign * limit_deg).range_deg()[motion][1]
    assert reached == pytest.approx(limit_deg, abs=0.1)
    if limit_deg < 180:  # nothing lies beyond straight overhead
        with pytest.raises(MovementError, match=f"pose 2: .*{limit_deg}"):
            move(start, name, sign * (limit_deg + 2))
