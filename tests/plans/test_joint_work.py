"""Work joint by joint: virtual work over every shipped exercise, and a lift worked by hand."""

import numpy as np
import pytest

from patients.motions import Joint
from plans.exercise import movement_of, read_movement
from plans.joint_work import joint_work, step_work_j
from plans.moments import GRAVITY_M_S2, Load, height_energy_j
from plans.segments import Body
from tests.world import shipped_exercises

BODY = Body(stature_m=1.62, body_mass_kg=58)


def movement(effort="active", position="sitting", **poses):
    return read_movement({"effort": effort, "position": position, **poses}, where="test")


def carried_by_nothing():
    """Every shipped step that rests on nothing and has no help, with its movement."""
    for exercise in shipped_exercises().values():
        for step in exercise.steps:
            if step.poses:
                found = movement_of(exercise, step)
                if not found.rests and not found.help_share:
                    yield pytest.param(found, step, id=f"{exercise.key}-{step.effort.key}")


@pytest.mark.parametrize(("found", "step"), carried_by_nothing())
def test_joints_together_do_what_the_height_gains(found, step):
    """Virtual work: from sample to sample the axes' work adds up to the change of height energy."""
    load_kg = 1.0 if step.load_means else 0.0
    work = step_work_j(found, BODY, load_kg).sum(axis=1)
    height = height_energy_j(
        found.chain(found.samples[1], BODY),
        BODY.arm,
        load=Load(load_kg, found.load_means or "held"),
    )
    assert work == pytest.approx(np.diff(height), abs=0.03)
    assert work.sum() == pytest.approx(0, abs=0.05)  # a repetition ends where it began


def test_an_elbow_bend_by_hand():
    bend = movement(
        moves=["elbow_flexion"],
        poses=[{"at": 0, "elevation": 0, "elbow": 0}, {"at": 2, "elbow": 90}, {"at": 4}],
    )
    # Forearm and hand swing from hanging to level: each centre rises by its way to the elbow.
    body = Body(stature_m=1.75, body_mass_kg=80)
    forearm_m, hand_m = 0.146 * 1.75, 0.108 * 1.75
    rise_kg_m = 1.28 * 0.43 * forearm_m + 0.48 * (forearm_m + 0.506 * hand_m)
    weight_kg_m = 2.0 * (forearm_m + 0.506 * hand_m)
    bare, loaded = joint_work(bend, body), joint_work(bend, body, 2.0)
    assert bare.by_joint[Joint.ELBOW] == pytest.approx(rise_kg_m * GRAVITY_M_S2, rel=0.002)
    assert loaded.by_joint[Joint.ELBOW] == pytest.approx(
        (rise_kg_m + weight_kg_m) * GRAVITY_M_S2, rel=0.002
    )
    assert bare.by_group == {"elbow_flexion": pytest.approx(bare.by_joint[Joint.ELBOW])}


def test_letting_down_is_no_work_of_the_group_that_would_do_it():
    lift = movement(
        moves=["shoulder_flexion"], poses=[{"at": 0}, {"at": 3, "elevation": 90}, {"at": 6}]
    )
    found = joint_work(lift)
    assert found.by_group["shoulder_flexion"] > 5
    assert "shoulder_extension" not in found.by_group


def test_help_takes_its_share_and_a_helper_all():
    poses = [{"at": 0}, {"at": 3, "elevation": 90}, {"at": 6}]
    alone = joint_work(movement(poses=poses)).by_joint[Joint.SHOULDER]
    assisted = joint_work(movement("self_assisted", poses=poses)).by_joint[Joint.SHOULDER]
    assert assisted == pytest.approx(alone / 2)
    assert joint_work(movement("passive", poses=poses)).by_joint == {}
