"""The arm's angles, directions and moments, without a database."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from patients.motions import MOTIONS, Joint
from plans import clinical
from plans.arm import COORDINATES, POSITIONS, SITTING, angles, chain
from plans.moments import (
    AXES,
    Load,
    Support,
    axis_vectors,
    demands_nm,
    friction_nm,
    groups,
    height_energy_j,
    reference_nm,
)
from plans.segments import Body

BODY = Body()
AXIS = {(axis.joint, axis.name): index for index, axis in enumerate(AXES)}
ELEVATION, ACROSS, ROTATION = (
    AXIS[Joint.SHOULDER, name] for name in ("elevation", "across", "rotation")
)
ENDS_DEG = (0.0, 1.0, 90.0, 179.0, 180.0)

random_pose = st.fixed_dictionaries(
    {
        "protraction": st.floats(-20, 20),
        "shrug": st.floats(-10, 30),
        "elevation": st.floats(0, 170),
        "plane": st.floats(-60, 140),
        "rotation": st.floats(-70, 90),
        "elbow": st.floats(0, 150),
        "supination": st.floats(-80, 80),
        "wrist": st.floats(-70, 80),
        "deviation": st.floats(-30, 20),
    }
)


def pose_angles(**pose):
    row = angles(pose)
    return {
        key: float(high[0])
        for key, (_, high) in clinical.motion_angles(row, chain(row, SITTING, BODY)).items()
    }


@pytest.mark.parametrize("angle_deg", ENDS_DEG)
def test_flexion_and_abduction_are_exact_from_hanging_to_overhead(angle_deg):
    assert pose_angles(elevation=angle_deg, plane=90)["shoulder_flexion"] == pytest.approx(
        angle_deg, abs=1e-9
    )
    assert pose_angles(elevation=angle_deg, plane=0)["shoulder_abduction"] == pytest.approx(
        angle_deg, abs=1e-9
    )


@pytest.mark.parametrize("elevation_deg", [0.0, 1.0, 90.0, 179.0])
@pytest.mark.parametrize("rotation_deg", [0.0, 1.0, 90.0, -60.0, 179.0, 180.0])
@pytest.mark.parametrize("plane_deg", [0.0, 30.0, 90.0])
def test_rotation_is_what_was_set_wherever_the_arm_is(elevation_deg, plane_deg, rotation_deg):
    shown = pose_angles(elevation=elevation_deg, plane=plane_deg, rotation=rotation_deg, elbow=90)
    assert shown["shoulder_external_rotation"] == pytest.approx(rotation_deg, abs=1e-6)
    assert shown["shoulder_internal_rotation"] == pytest.approx(-rotation_deg, abs=1e-6)


@pytest.mark.parametrize("rotation_deg", ENDS_DEG)
def test_rotation_at_the_side_is_the_angle_of_the_forearm_in_the_level_plane(rotation_deg):
    arm = chain(angles(elbow=90, rotation=rotation_deg), SITTING, BODY)
    forward, left, up = arm.forearm_direction[0]
    assert up == pytest.approx(0, abs=1e-12)
    outwards_deg = np.degrees(np.arctan2(-left, forward))
    assert outwards_deg == pytest.approx(rotation_deg, abs=1e-9)


def test_rotation_in_abduction_is_the_height_of_the_forearm():
    arm = chain(angles(elevation=90, plane=0, elbow=90, rotation=60), SITTING, BODY)
    forward, _, up = arm.forearm_direction[0]
    assert np.degrees(np.arctan2(up, forward)) == pytest.approx(60, abs=1e-9)


@pytest.mark.parametrize(
    ("pose", "motion", "shown_deg"),
    [
        ({"elbow": 150}, "elbow_flexion", 150),
        ({"elbow": 0}, "elbow_extension", 0),
        ({"supination": 80}, "forearm_supination", 80),
        ({"supination": -80}, "forearm_pronation", 80),
        ({"wrist": 80}, "wrist_flexion", 80),
        ({"wrist": -70}, "wrist_extension", 70),
        ({"deviation": 20}, "wrist_radial_deviation", 20),
        ({"deviation": -30}, "wrist_ulnar_deviation", 30),
        ({"elevation": -60}, "shoulder_extension", 60),
        ({"elevation": 90, "plane": 0}, "shoulder_horizontal_adduction", 0),
        ({"elevation": 90, "plane": 120}, "shoulder_horizontal_adduction", 120),
        ({"elevation": 90, "plane": -30}, "shoulder_horizontal_abduction", 30),
        ({"index_pip": 100}, "finger_flexion", 100),
        ({"ring_mcp": -20}, "finger_extension", 20),
    ],
)
def test_each_motion_is_told_by_its_own_angle(pose, motion, shown_deg):
    assert pose_angles(**pose)[motion] == pytest.approx(shown_deg, abs=1e-9)


def test_every_motion_of_the_trade_has_an_angle():
    assert set(pose_angles()) == set(MOTIONS)


def test_between_the_planes_an_arm_is_flexed_and_abducted():
    shown = pose_angles(elevation=120, plane=40)
    assert (shown["shoulder_flexion"], shown["shoulder_abduction"]) == pytest.approx((120, 120))
    shown = pose_angles(elevation=120, plane=90)
    assert np.isnan(shown["shoulder_abduction"])


@given(random_pose)
def test_angles_read_from_directions_are_those_that_were_set(pose):
    shown = pose_angles(**pose)
    assert shown["shoulder_external_rotation"] == pytest.approx(pose["rotation"], abs=1e-6)
    assert shown["elbow_flexion"] == pytest.approx(pose["elbow"], abs=1e-6)
    assert shown["forearm_supination"] == pytest.approx(pose["supination"], abs=1e-6)
    assert shown["wrist_radial_deviation"] == pytest.approx(pose["deviation"], abs=1e-6)
    assert shown["wrist_flexion"] == pytest.approx(pose["wrist"], abs=1e-6)


def test_the_upper_arm_is_at_shoulder_height_at_90_and_joints_keep_their_distance():
    arm = chain(angles(elevation=90, plane=40, elbow=70), SITTING, BODY)
    assert arm.elbow[0, 2] == pytest.approx(arm.shoulder[0, 2])
    assert np.linalg.norm(arm.elbow - arm.shoulder) == pytest.approx(BODY.upper_arm.length_m)
    assert np.linalg.norm(arm.wrist - arm.elbow) == pytest.approx(BODY.forearm.length_m)


def elevation_moments_nm(position, *elevations_deg, plane=90):
    rows = np.vstack([angles(elevation=each, plane=plane) for each in elevations_deg])
    return demands_nm(chain(rows, POSITIONS[position], BODY), BODY.arm)[:, ELEVATION]


def test_lying_on_the_back_a_lift_to_the_front_is_hardest_first_and_changes_sides_at_90():
    level, low, upright, beyond = elevation_moments_nm("lying_back", 0, 30, 90, 150)
    assert level == pytest.approx(reference_nm(BODY)[Joint.SHOULDER])
    assert level > low > 0
    assert upright == pytest.approx(0, abs=1e-9)
    assert beyond < 0
    assert groups(angles(elevation=150), ELEVATION) == [("shoulder_flexion", "shoulder_extension")]


def test_lying_on_the_back_the_shoulder_blade_still_carries_the_arm_at_90():
    arm = chain(angles(elevation=90), POSITIONS["lying_back"], BODY)
    blade_nm = demands_nm(arm, BODY.arm)[0, AXIS[Joint.SHOULDER_BLADE, "protraction"]]
    weight_n = 0.050 * 70 * 9.81
    assert blade_nm == pytest.approx(weight_n * (0.129 - 0.015) * 1.70)


def test_sitting_a_lift_asks_nothing_hanging_most_at_90_less_at_180_never_the_other_side():
    hanging, low, level, high, overhead = elevation_moments_nm("sitting", 0, 45, 90, 135, 180)
    assert (hanging, overhead) == pytest.approx((0, 0), abs=1e-9)
    assert level > low > 0
    assert level > high > 0


def test_sliding_sideways_on_the_bed_asks_nothing_of_gravity_but_something_of_friction():
    times_s = np.linspace(0, 3, 31)
    rows = np.vstack([angles(elevation=e, plane=0) for e in np.linspace(0, 90, 31)])
    arm = chain(rows, POSITIONS["lying_back"], BODY)
    lying = Support(rests="arm", friction=0.3)
    assert demands_nm(arm, BODY.arm, support=lying)[:, ELEVATION] == pytest.approx(0)
    assert demands_nm(arm, BODY.arm)[:, ELEVATION] == pytest.approx(0, abs=1e-9)
    rubbing_nm = friction_nm(arm, BODY.arm, times_s, support=lying)[1:-1, ELEVATION]
    # A straight arm turns about the shoulder: every part is dragged square to its own lever.
    assert rubbing_nm == pytest.approx(0.3 * reference_nm(BODY)[Joint.SHOULDER], rel=1e-3)
    smooth = Support(rests="arm", friction=0.0)
    assert not friction_nm(arm, BODY.arm, times_s, support=smooth).any()


def test_help_and_rest_take_off_the_load():
    arm = chain(angles(elevation=60, elbow=30), SITTING, BODY)
    alone = demands_nm(arm, BODY.arm)
    assert demands_nm(arm, BODY.arm, support=Support(help_share=0.5)) == pytest.approx(alone / 2)
    assert not demands_nm(arm, BODY.arm, support=Support(help_share=1)).any()
    elbow_rests = demands_nm(arm, BODY.arm, support=Support(rests="upper_arm"))
    assert not elbow_rests[:, :ROTATION].any()
    assert elbow_rests[:, ROTATION:] == pytest.approx(alone[:, ROTATION:])


def test_an_upper_arm_that_rests_can_still_roll():
    """Lying on the back, elbow at the side on the bed: the falling forearm turns the upper arm."""
    row = angles(elevation=0, elbow=90, rotation=45)
    arm = chain(row, POSITIONS["lying_back"], BODY)
    resting = demands_nm(arm, BODY.arm, support=Support(rests="upper_arm"))[0]
    falls_nm = reference_nm(BODY)[Joint.ELBOW] * np.sin(np.radians(45))
    assert resting[ROTATION] == pytest.approx(-falls_nm)  # held back by the internal rotators
    assert not resting[:ROTATION].any()


def test_a_weight_held_by_one_end_turns_the_forearm():
    """Palm down, the weight juts out to the thumb's side and has to be held in supination."""
    arm = chain(angles(elbow=90, supination=-90), SITTING, BODY)
    axis = AXIS[Joint.FOREARM, "supination"]
    even = demands_nm(arm, BODY.arm, load=Load(1.0))[0, axis]
    by_one_end = demands_nm(arm, BODY.arm, load=Load(1.0, "held", beyond_thumb_m=0.1))[0, axis]
    assert even == pytest.approx(0, abs=1e-9)
    assert by_one_end == pytest.approx(0.1 * 9.81)


def test_only_weights_enter_the_moments():
    arm = chain(angles(elevation=60), SITTING, BODY)
    bare = demands_nm(arm, BODY.arm)
    assert demands_nm(arm, BODY.arm, load=Load(2, "band")) == pytest.approx(bare)
    held = demands_nm(arm, BODY.arm, load=Load(2, "held"))
    cuff = demands_nm(arm, BODY.arm, load=Load(2, "cuff"))
    assert held[0, ELEVATION] > cuff[0, ELEVATION] > bare[0, ELEVATION]


def test_external_rotation_on_the_side_lifts_against_gravity():
    """Forearm across the belly, lying on the sound side: the trade's test of the rotators."""
    arm = chain(angles(elbow=90, rotation=0), POSITIONS["lying_side"], BODY)
    assert demands_nm(arm, BODY.arm)[0, ROTATION] > 0.9 * reference_nm(BODY)[Joint.ELBOW]
    sitting = chain(angles(elbow=90, rotation=0), SITTING, BODY)
    assert demands_nm(sitting, BODY.arm)[0, ROTATION] == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("pose", "axis", "expected"),
    [
        ({"elevation": 0, "plane": 0}, ELEVATION, ("shoulder_abduction", "shoulder_adduction")),
        ({"elevation": 20}, ACROSS, ("shoulder_adduction", "shoulder_abduction")),
        ({"elevation": 20, "plane": 0}, ACROSS, ("shoulder_flexion", "shoulder_extension")),
        (
            {"elevation": 90},
            ACROSS,
            ("shoulder_horizontal_adduction", "shoulder_horizontal_abduction"),
        ),
        ({"elevation": 30, "plane": -90}, ELEVATION, ("shoulder_extension", "shoulder_flexion")),
    ],
)
def test_muscle_groups_are_named_after_what_they_would_move(pose, axis, expected):
    assert groups(angles(pose), axis) == [expected]


@settings(max_examples=50)
@given(random_pose, random_pose, st.sampled_from(sorted(POSITIONS)), st.floats(0, 5))
def test_work_of_the_moments_is_the_gain_in_height_energy(start, end, position, weight_kg):
    """Integral of each moment over its own angle = difference of potential energy.

    The plane of elevation and the rotation turn about oblique axes: swinging the plane turns the
    upper arm about the trunk's length and back about its own. The upper arm's angles are towards
    the trunk, so where the collar bone swings, the shoulder turns back by as much.
    """
    steps = 801
    share = np.linspace(0, 1, steps)[:, None]
    rows = angles(start) * (1 - share) + angles(end) * share
    arm, load = chain(rows, POSITIONS[position], BODY), Load(weight_kg)
    demand = demands_nm(arm, BODY.arm, load=load)
    energy_j = height_energy_j(arm, BODY.arm, load=load)
    change = {name: np.radians(end[name] - start[name]) for name in start}
    elevation = np.radians(rows[:, COORDINATES.index("elevation")])
    vectors = axis_vectors(arm)
    blade = [
        demand[:, i] - sum(demand[:, k] * (vectors[k] * vectors[i]).sum(axis=1) for k in (2, 3, 4))
        for i in (0, 1)
    ]
    powers = (
        blade[0] * change["protraction"]
        + blade[1] * change["shrug"]
        + demand[:, 2] * change["elevation"]
        # Swinging the plane: about the trunk's Y plus the upper arm's own direction, which is
        # sin(e) about "across" and (1 - cos(e)) about the upper arm's length.
        + (demand[:, 3] * np.sin(elevation) + demand[:, 4] * (1 - np.cos(elevation)))
        * change["plane"]
        + demand[:, 4] * change["rotation"]
        + demand[:, 5] * change["elbow"]
        + demand[:, 6] * change["supination"]
        + demand[:, 7] * change["wrist"]
        + demand[:, 8] * change["deviation"]
    )
    work_j = np.trapezoid(powers, dx=1 / (steps - 1))
    assert work_j == pytest.approx(energy_j[-1] - energy_j[0], abs=2e-4)


def test_an_unlikely_person_is_refused():
    with pytest.raises(ValueError, match="stature"):
        Body(stature_m=170)
    with pytest.raises(ValueError, match="body mass"):
        Body(body_mass_kg=5)


def test_an_unknown_joint_angle_is_refused():
    with pytest.raises(KeyError):
        angles(knee=90)
