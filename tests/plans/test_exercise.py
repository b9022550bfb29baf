"""Movements read from poses: what is refused, and range, load, work and time of what is not."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from patients.motions import Effort, Joint
from plans.arm import COLUMN
from plans.catalogue import Kind, read_folder
from plans.exercise import MovementError, movement_of, read_movement
from plans.poses import between, read_poses
from plans.segments import Body

LIFT = ({"at": 0, "elbow": 0}, {"at": 3, "elevation": 90, "hold": True}, {"at": 6})


def movement(*poses, position="lying_back", effort="active", **more):
    table = {"effort": effort, "position": position, "poses": list(poses)} | more
    return read_movement(table, where="lift.toml: lift")


def problems(*poses, **more):
    with pytest.raises(MovementError) as caught:
        movement(*poses, **more)
    return str(caught.value)


@pytest.mark.parametrize(
    ("poses", "more", "expected"),
    [
        ([{"at": 0}, {"at": 2, "elbow": 170}, {"at": 4}], {}, "pose 2: elbow_flexion 170 is bey"),
        ([{"at": 0}, {"at": 2, "wrist": -80}, {"at": 4}], {}, "pose 2: wrist_extension 80"),
        ([{"at": 0}, {"at": 2, "index_dip": 95}, {"at": 4}], {}, "pose 2: index_dip 95 is not"),
        ([{"at": 0}, {"at": 2, "elevation": -40}, {"at": 4}], {}, "goes through the bed"),
        (
            [{"at": 0}, {"at": 2, "elbow": 90, "rotation": -70, "elevation": -5}, {"at": 4}],
            {"position": "sitting"},
            "goes through the trunk",
        ),
        ([{"at": 0}, {"at": 2, "elbow": 60}], {}, "pose 2: elbow must end where it begins"),
        ([{"at": 0}, {"at": 2, "elbow": 60}, {"at": 2}], {}, "pose 3: times must start at 0"),
        ([{"at": 1}, {"at": 2}], {}, "pose 1: times must start at 0"),
        ([{"at": 0}, {"at": "2"}], {}, "pose 2: at must be a number, not '2'"),
        ([{"at": 0, "knee": 5}], {}, "pose 1: knee is no joint angle or setting"),
        ([{"at": 0, "hand": "claw"}], {}, "pose 1: hand must be one of"),
        ([{"at": 0, "fingers": [1, 2]}], {}, "pose 1: fingers must be 3 numbers"),
        ([{"at": 0}, {"at": 1, "rests": "arm"}, {"at": 2}], {}, "pose 2: rests belongs to the"),
        ([{"at": 0, "rests": "leg"}], {}, "pose 1: rests must be one of upper_arm, forearm"),
        ([{"at": 0, "help": 2}], {}, "pose 1: help must be a number from 0 to 1"),
        ([{"at": 0, "help": True}], {}, "pose 1: help must be a number from 0 to 1"),
        ([{"at": 0, "anchor": [1, 2]}], {}, "pose 1: anchor must be three numbers"),
        ([{"at": 0, "press": "in"}], {}, "pose 1: press must be three numbers"),
        ([{"at": 0, "holds": "brick"}], {}, "pose 1: holds must be one of weight, cuff"),
        ([{"at": 0, "view": "behind"}], {}, "pose 1: view must be one of side, slant"),
        ([{"at": 0}], {"view": "behind"}, "pose 1: view must be one of side, slant"),
        ([], {}, "it has no poses"),
        ([{"at": 0, "rests": "arm"}, LIFT[1], LIFT[2]], {}, "the arm rests, but its height"),
        (LIFT, {"moves": ["elbow_flexion"]}, "poses: elbow_flexion is claimed to move and does"),
    ],
)
def test_what_nobody_could_do_is_refused_by_file_exercise_and_pose(poses, more, expected):
    message = problems(*poses, **more)
    assert message.startswith("lift.toml: lift: active: ")
    assert expected in message


def test_all_problems_are_told_at_once():
    assert problems({"at": 0, "elbow": 170}, {"at": 1, "wrist": 99}, {"at": 2}).count("\n") >= 3


def test_a_circle_in_the_air_has_range_on_two_axes():
    round_trip = [(100, 90), (90, 102), (80, 90), (90, 78), (100, 90)]
    circle = movement(
        *({"at": t, "elevation": e, "plane": p} for t, (e, p) in enumerate(round_trip)),
        moves=["shoulder_flexion", "shoulder_horizontal_adduction"],
    )
    ranges = circle.range_deg()
    assert ranges["shoulder_flexion"] == (80, 100)
    assert ranges["shoulder_horizontal_adduction"] == (78, 102)


def test_the_range_is_that_of_the_key_poses_and_goes_both_ways():
    lift = movement(*LIFT, moves=["shoulder_flexion"])
    assert lift.range_deg()["shoulder_flexion"] == (-7, 90)
    assert lift.range_deg()["shoulder_extension"] == (-90, 7)
    assert "shoulder_abduction" in lift.range_deg()  # near hanging, an arm is at 0 of both
    assert {"shoulder_flexion", "shoulder_extension"} <= lift.moved()
    assert "elbow_flexion" not in lift.moved()


@given(
    st.lists(st.tuples(st.floats(0.5, 3), st.floats(-50, 150)), min_size=2, max_size=6),
)
def test_movement_is_smooth_and_stays_between_its_key_poses(steps):
    times_s = np.cumsum([0.0] + [gap for gap, _ in steps[1:]])
    values = np.array([[value] for _, value in steps])
    asked_s = np.linspace(0, times_s[-1], 200)
    path = between(times_s, values, asked_s)[:, 0]
    assert between(times_s, values, times_s)[:, 0] == pytest.approx(values[:, 0])
    for (start, low), (end, high) in zip(
        zip(times_s, values[:, 0], strict=True),
        list(zip(times_s, values[:, 0], strict=True))[1:],
        strict=False,
    ):
        part = path[(asked_s >= start) & (asked_s <= end)]
        assert (part >= min(low, high) - 1e-9).all()
        assert (part <= max(low, high) + 1e-9).all()


@pytest.mark.reference
def test_inside_it_is_the_monotone_cubic_of_an_independent_library():
    """scipy's PchipInterpolator differs only at the ends, where a limb starts and stops still."""
    pchip = pytest.importorskip("scipy.interpolate").PchipInterpolator
    times_s, values = np.array([0.0, 1.0, 2.5, 3.0, 5.0]), np.array([[0.0], [20], [70], [90], [95]])
    asked_s = np.linspace(1.0, 3.0, 40)
    ours = between(times_s, values, asked_s)[:, 0]
    assert ours == pytest.approx(pchip(times_s, values[:, 0])(asked_s), abs=1e-9)
    ends = between(times_s, values, np.array([0.0, 1e-6, 5.0 - 1e-6, 5.0]))[:, 0]
    assert np.diff(ends)[[0, 2]] == pytest.approx(0, abs=1e-9)


def peak_of(moved, joint, **more):
    return next(peak for peak in moved.peak_moments(**more) if peak.joint is joint)


def test_lying_a_lift_is_heaviest_where_it_starts():
    peak = peak_of(movement(*LIFT), Joint.SHOULDER)
    assert peak.group == "shoulder_flexion"
    assert peak.share_percent == 100
    assert peak.angle_deg == pytest.approx(0, abs=4)  # level, a little above where it rests
    assert peak.works == "shortening and lengthening"


def test_beyond_90_the_other_muscles_have_to_work():
    far = movement(LIFT[0], {"at": 3, "elevation": 150}, {"at": 6})
    working = {peak.group: peak for peak in far.group_peaks() if peak.joint is Joint.SHOULDER}
    assert working["shoulder_extension"].angle_motion == "shoulder_flexion"
    assert working["shoulder_extension"].angle_deg == 150
    assert working["shoulder_extension"].share_percent == 87  # sine of 60


def test_sitting_a_lift_is_heaviest_level():
    lift = movement(
        {"at": 0, "elbow": 0, "plane": 90},
        {"at": 3, "elevation": 150},
        {"at": 6},
        position="sitting",
    )
    peak = peak_of(lift, Joint.SHOULDER)
    assert (peak.group, peak.share_percent) == ("shoulder_flexion", 100)
    assert peak.angle_deg == pytest.approx(90, abs=5)
    curve = lift.curve("shoulder_flexion")
    assert max(point.moment_nm for point in curve) == pytest.approx(peak.moment_nm, abs=1e-3)
    assert min(point.moment_nm for point in curve) > 0


def test_rotators_are_measured_by_the_forearm_that_they_lift():
    turn = movement(
        {"at": 0, "elevation": 6, "plane": 60, "elbow": 90, "rotation": -45},
        {"at": 3, "rotation": 0},
        {"at": 6},
        position="lying_side",
    )
    peaks = {peak.group: peak for peak in turn.group_peaks()}
    assert peaks["shoulder_external_rotation"].share_percent == pytest.approx(100, abs=2)


def test_a_hand_beyond_the_edge_rubs_on_nothing_and_a_hand_that_slides_does():
    bend = ({"at": 0, "wrist": 30}, {"at": 2, "wrist": -40}, {"at": 4})
    beyond = movement({**bend[0], "rests": "forearm"}, *bend[1:], position="sitting_at_table")
    assert {peak.joint for peak in beyond.group_peaks()} == {Joint.WRIST}
    slid = movement(
        {"at": 0, "rests": "hand", "deviation": 15},
        {"at": 2, "deviation": -25},
        {"at": 4},
        position="sitting_at_table",
    )
    assert slid.group_peaks(friction=0.0) == ()
    assert {peak.joint for peak in slid.group_peaks()} >= {Joint.WRIST}


def test_where_a_motion_has_no_angle_none_is_told():
    lift = movement(
        {"at": 0, "elbow": 90, "elevation": 30, "plane": 75, "rotation": -40},
        {"at": 2} | {"elbow": 100},
        {"at": 4},
        position="sitting",
    )
    without = [peak for peak in lift.group_peaks() if peak.angle_deg is None]
    assert without
    assert all(peak.group.startswith("shoulder") for peak in without)


def test_a_weight_counts_once_it_is_a_weight():
    body = Body()
    bare = peak_of(movement(*LIFT, effort="resisted"), Joint.ELBOW)
    held = movement(*LIFT, effort="resisted", load_means="held")
    band = movement(*LIFT, effort="resisted", load_means="band")
    lever_m = body.forearm.length_m + body.hand.centre_m
    with_weight_nm = peak_of(held, Joint.ELBOW, load_kg=2).moment_nm
    assert with_weight_nm - bare.moment_nm == pytest.approx(2 * 9.81 * lever_m, rel=1e-3)
    assert peak_of(band, Joint.ELBOW, load_kg=2) == bare


def test_help_takes_its_share_and_a_helper_all():
    alone = peak_of(movement(*LIFT), Joint.SHOULDER).moment_nm
    assisted = movement(*LIFT, effort="self_assisted")
    assert assisted.help_share == 0.5
    assert peak_of(assisted, Joint.SHOULDER).moment_nm == pytest.approx(alone / 2)
    most = movement({**LIFT[0], "help": 0.8}, *LIFT[1:], effort="self_assisted")
    assert peak_of(most, Joint.SHOULDER).moment_nm == pytest.approx(alone / 5)
    assert movement(*LIFT, effort="passive").peak_moments() == ()


def test_work_is_the_weight_of_each_part_times_its_rise():
    lift = movement({"at": 0, "elevation": 0, "elbow": 0}, {"at": 3, "elevation": 90}, {"at": 6})
    arm = Body().arm
    levers_m = (
        arm.upper_arm.centre_m,
        arm.upper_arm.length_m + arm.forearm.centre_m,
        arm.upper_arm.length_m + arm.forearm.length_m + arm.hand.centre_m,
    )
    masses_kg = [part.mass_kg for part in (arm.upper_arm, arm.forearm, arm.hand)]
    expected_j = sum(9.81 * m * r for m, r in zip(masses_kg, levers_m, strict=True))
    assert lift.work_j() == pytest.approx(expected_j, rel=1e-6)
    assert lift.work_j(load_kg=1) == pytest.approx(expected_j + 9.81 * levers_m[2], rel=1e-6)
    assert movement(*LIFT, effort="passive").work_j() == 0


FIXTURES = read_folder(Path("fixtures/exercises"))
LADDERS = [
    (exercise, step)
    for exercise in FIXTURES
    if exercise.kind is Kind.POSES
    for step in exercise.steps
]


@pytest.mark.parametrize(
    ("exercise", "step"), LADDERS, ids=[f"{e.key}-{s.effort.key}" for e, s in LADDERS]
)
def test_every_step_of_the_catalogue_can_be_done_and_does_what_it_claims(exercise, step):
    moved = movement_of(exercise, step)
    assert set(exercise.moves) <= moved.moved()
    if exercise.unit == "repetitions":
        assert moved.own_pace_s > 0
        assert moved.own_pace_s == exercise.dose.pace_s


def test_on_a_ladder_gravity_reduced_steps_ask_less_than_active_ones():
    compared = 0
    for exercise, step in LADDERS:
        if step.effort is not Effort.GRAVITY_REDUCED:
            continue
        active = next((s for s in exercise.steps if s.effort is Effort.ACTIVE), None)
        if active is None:
            continue
        asked = [
            max(
                (
                    peak.moment_nm
                    for peak in movement_of(exercise, each).group_peaks(friction=0.0)
                    if peak.group in exercise.moves
                ),
                default=0.0,
            )
            for each in (step, active)
        ]
        assert asked[0] <= asked[1] + 0.05, exercise.key
        compared += 1
    assert compared >= 8


def test_a_finger_said_alone_stands_over_all_four_in_whatever_order():
    one = read_poses([{"at": 0, "fingers": [80, 0, 0], "index": [0, 0, 0]}], "sitting", problems=[])
    two = read_poses([{"at": 0, "index": [0, 0, 0], "fingers": [80, 0, 0]}], "sitting", problems=[])
    assert one == two
    assert one[0].coordinates[COLUMN["index_mcp"]] == 0
    assert one[0].coordinates[COLUMN["little_mcp"]] == 80


@pytest.mark.parametrize("angle", ["elevation", "plane", "rotation", "elbow", "wrist"])
def test_a_joint_that_goes_round_once_is_refused_though_it_points_where_it_may(angle):
    table = {"effort": "active", "position": "standing", "poses": [{"at": 0}, {"at": 3}, {"at": 6}]}
    table["poses"][1][angle] = 380
    with pytest.raises(MovementError, match=f"pose 2: {angle} 380 is not within -180 to 180"):
        read_movement(table, where="round")
