"""What lines ask of joints, from shipped exercises: work, peak moment, body and revision."""

from dataclasses import replace

import pytest

from logs.line_demands import demands_for
from patients.motions import Effort
from plans.exercise import movement_of
from plans.joint_work import joint_work
from plans.segments import Body, body_taken
from tests.plans.building import line
from tests.world import shipped_exercises

BODY = Body(stature_m=1.75, body_mass_kg=80)


def curl(exercise="elbow_bend_sitting", **changes):
    shipped = shipped_exercises()[exercise]
    given = {
        "exercise": exercise,
        "step": Effort.RESISTED,
        "moves": shipped.moves,
        "loads": tuple(joint.value for joint in shipped.loads),
        "revision": exercise,
        "load_means": "held",
    }
    return line(**given | changes)


def demand(of, load_g=0, body=BODY):
    return demands_for(body, shipped_exercises().get)(of, load_g)


def test_it_is_what_the_movement_of_that_step_says():
    shipped = shipped_exercises()["elbow_bend_sitting"]
    step = next(step for step in shipped.steps if step.effort is Effort.RESISTED)
    movement = movement_of(shipped, step)
    found = demand(curl(), 1500)
    assert found["elbow_flexion"].work_j == pytest.approx(
        joint_work(movement, BODY, 1.5).by_group["elbow_flexion"]
    )
    peaks = {p.joint: p.moment_nm for p in movement.peak_moments(BODY, 1.5, friction=0.0)}
    assert found["elbow"].peak_moment_nm == pytest.approx(peaks["elbow"])
    assert found["elbow"].peak_moment_nm == found["elbow_flexion"].peak_moment_nm


def test_more_load_or_a_larger_body_asks_more():
    bare = demand(curl())["elbow"]
    loaded = demand(curl(), 2000)["elbow"]
    small = demand(curl(), body=Body(stature_m=1.5, body_mass_kg=45))["elbow"]
    assert small.work_j < bare.work_j < loaded.work_j
    assert small.peak_moment_nm < bare.peak_moment_nm < loaded.peak_moment_nm


def test_a_band_is_no_weight():
    assert demand(curl(load_means="band"), 2000) == demand(curl(load_means="band"))


def test_the_step_decides():
    passive = demand(curl(step=Effort.PASSIVE, load_means=""))["elbow"]
    assert (passive.work_j, passive.peak_moment_nm) == (0.0, 0.0)


def test_a_joint_beyond_the_model_is_left_out():
    fingers = curl("full_fist", step=Effort.ACTIVE, load_means="")
    assert not [key for key in demand(fingers) if key.startswith(("finger", "thumb"))]


@pytest.mark.parametrize("revision", ["", "not read yet"])
def test_an_unknown_revision_asks_nothing_that_is_known(revision):
    assert demand(curl(revision=revision)) == {}


def test_another_revision_of_an_exercise_is_not_taken_for_it():
    shipped = shipped_exercises()["elbow_bend_sitting"]
    unposed = replace(shipped, steps=tuple(replace(s, poses=()) for s in shipped.steps))
    of = demands_for(BODY, {"old": shipped, "new": unposed}.get)
    assert of(curl(revision="old"), 0)
    assert of(curl(revision="new"), 0) == {}


@pytest.mark.parametrize(
    ("stature_cm", "mass_kg", "body", "assumed"),
    [
        (160, 55.5, Body(1.6, 55.5), ()),
        (160, None, Body(1.6, 70), ("weight 70 kg",)),
        (None, None, Body(1.7, 70), ("height 1.70 m", "weight 70 kg")),
        (60, 8, Body(1.7, 70), ("height 1.70 m", "weight 70 kg")),
    ],
)
def test_what_is_not_on_record_is_assumed_and_named(stature_cm, mass_kg, body, assumed):
    taken = body_taken(stature_cm, mass_kg)
    assert (taken.body, taken.assumed) == (body, assumed)
