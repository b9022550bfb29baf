"""The load of each line for the therapist: peaks, shares, curves, and for whose body."""

import math

import pytest
from django.template.loader import render_to_string
from django.urls import reverse

from patients.motions import Effort, Joint
from plans.exercise import read_movement
from plans.load_curve import LoadOf, joint_loads, load_of
from plans.segments import Body, body_taken
from tests.world import shipped_exercises

NOBODY = body_taken(None, None)


def load(key, effort=Effort.ACTIVE, body=NOBODY, load_kg=0.0):
    exercise = shipped_exercises()[key]
    return load_of(exercise, exercise.step(effort), body, load_kg)


def of(loads, joint):
    return next(each for each in loads.joints if each.peak.joint is joint)


def straight_arm_nm(body, load_kg=0.0):
    """Moment of a level, straight arm about the shoulder: weights times levers, by hand."""
    upper, forearm, hand = body.upper_arm, body.forearm, body.hand
    hand_at_m = upper.length_m + forearm.length_m + hand.centre_m
    return 9.81 * (
        upper.mass_kg * upper.centre_m
        + forearm.mass_kg * (upper.length_m + forearm.centre_m)
        + (hand.mass_kg + load_kg) * hand_at_m
    )


@pytest.mark.parametrize(
    ("key", "at_deg"), [("arm_lift_forward_lying", 0), ("arm_lift_forward_sitting", 90)]
)
def test_a_straight_arm_is_hardest_where_it_is_level(key, at_deg):
    shoulder = of(load(key), Joint.SHOULDER)
    assert shoulder.peak.moment_nm == pytest.approx(straight_arm_nm(Body()), rel=0.01)
    assert shoulder.peak.share_percent == pytest.approx(100, abs=1)
    assert shoulder.peak.angle_deg == pytest.approx(at_deg, abs=8)


def test_a_weight_and_a_larger_body_count():
    body = body_taken(190, 95)
    heavy = of(load("arm_lift_forward_lying", Effort.RESISTED, body, 1.0), Joint.SHOULDER)
    assert heavy.peak.moment_nm == pytest.approx(straight_arm_nm(body.body, 1.0), rel=0.02)
    assert heavy.peak.share_percent > 100


def test_lying_the_arm_changes_sides_beyond_the_vertical_and_sitting_it_does_not():
    table = {"effort": "active", "position": "lying_back", "moves": ["shoulder_flexion"]}
    table["poses"] = [{"at": 0, "elbow": 0}, {"at": 3, "elevation": 130}, {"at": 6}]
    for position, changes in (("lying_back", True), ("sitting", False)):
        movement = read_movement(table | {"position": position}, where="lift")
        shoulder = next(
            each for each in joint_loads(movement, Body()) if each.peak.joint is Joint.SHOULDER
        )
        assert shoulder.changes_sides is changes
        assert ("opposite muscles" in shoulder.words) is changes


def test_what_an_exercise_trains_is_named_before_what_only_carries_the_arm():
    """An upright upper arm: the flexors carry the bent forearm, the rotators have little to hold.

    Of a forearm and hand held level, at the side, gravity turns the arm about no upright axis;
    that its upper arm leans by ten degrees leaves the rotators sin(10 degrees) of it at the most.
    """
    found = load("rotation_out_sitting")
    body = Body()
    forearm, hand = body.forearm, body.hand
    level_nm = 9.81 * (
        forearm.mass_kg * forearm.centre_m + hand.mass_kg * (forearm.length_m + hand.centre_m)
    )
    assert found.first.peak.group == "shoulder_external_rotation"
    assert 0 < found.first.peak.moment_nm <= level_nm * math.sin(math.radians(10)) + 0.005
    assert found.carrying.peak.group == "shoulder_flexion"
    assert found.carrying.peak.moment_nm > level_nm
    shown = " ".join(render_to_string("plans/_load.html", {"load": found}).split())
    assert shown.index("Load: shoulder external rotation 0.34 N·m") < shown.index(
        "; carrying the arm: shoulder flexion 3.8 N·m"
    )
    assert "carrying the arm, " in shown.split("<ul>")[1]


def test_where_gravity_asks_nothing_of_the_trained_muscles_it_is_said():
    found = load("rotation_in_sitting")
    assert found.first is None
    assert found.carrying.peak.group == "shoulder_flexion"
    shown = render_to_string("plans/_load.html", {"load": found})
    assert "Load: next to none of gravity on the muscles trained; carrying the arm: " in shown


@pytest.mark.parametrize("key", sorted(shipped_exercises()))
def test_the_first_named_is_of_the_exercises_own_motions(key):
    exercise = shipped_exercises()[key]
    for step in exercise.steps:
        found = load_of(exercise, step, NOBODY)
        own = [each for each in found.joints if each.peak.group in exercise.moves]
        assert (found.first is None) is (not own)
        if found.first:
            assert found.first.peak.moment_nm == max(each.peak.moment_nm for each in own)
        if found.carrying:
            assert found.carrying.peak.group not in exercise.moves
            assert not found.first or found.carrying.peak.moment_nm > found.first.peak.moment_nm


def test_the_curve_is_drawn_within_its_box_with_its_peak_marked_and_said():
    shoulder = of(load("arm_lift_forward_lying"), Joint.SHOULDER)
    drawn = shoulder.drawn
    places = [tuple(map(float, point.split(","))) for point in drawn.points.split()]
    assert len(places) == len(shoulder.curve)
    assert all(4 <= x <= 116 and 4 <= y <= 32 for x, y in places)
    peak = (float(drawn.peak_x), float(drawn.peak_y))
    assert peak in places
    assert peak[1] == min(y for _, y in places) == 4
    shown = render_to_string("plans/_load.html", {"load": LoadOf(True, (shoulder,), 0.0, NOBODY)})
    assert f'points="{drawn.points}"' in shown
    assert f'aria-label="{shoulder.words}"' in shown


@pytest.mark.parametrize("key", sorted(shipped_exercises()))
def test_every_step_has_a_load_that_can_be_read(key):
    exercise = shipped_exercises()[key]
    for step in exercise.steps:
        found = load_of(exercise, step, NOBODY)
        assert found.is_known is bool(step.poses)
        for each in found.joints:
            assert "nan" not in each.drawn.points
            assert each.peak.moment_nm > 0
            assert max(point.moment_nm for point in each.curve) == pytest.approx(
                each.peak.moment_nm, abs=0.01
            )


def test_a_step_without_poses_has_no_load_and_says_nothing_of_it():
    exercise = shipped_exercises()["light_hand_use"]
    found = load_of(exercise, exercise.steps[0], NOBODY)
    assert (found.is_known, found.joints) == (False, ())
    assert (found.first, found.carrying) == (None, None)


def test_the_plan_the_draft_and_the_exercise_show_it_as_an_estimate(as_staff, world):
    client = as_staff(world.therapist)
    plan = reverse("plan", args=[world.patient.pk])
    text = client.get(plan).content.decode()
    assert "Load: shoulder flexion 10.0 N·m, 100 %" in text
    assert "Load: elbow flexion 2.6 N·m, 100 %" in text, "of an elbow's exercise the elbow is named"
    assert "An estimate for 1.70 m and 70 kg; height 1.70 m and weight 70 kg assumed" in text
    world.patient.stature_cm, world.patient.body_mass_kg = 190, 95
    world.patient.save()
    text = client.get(plan).content.decode()
    assert "An estimate for 1.90 m and 95 kg, without a weight" in text
    assert "Load: shoulder flexion 15.2 N·m, 100 %" in text
    client.post(reverse("draft_start", args=[world.patient.pk]))
    draft = client.get(reverse("draft", args=[world.patient.pk])).content.decode()
    assert "Load: shoulder flexion 15.2 N·m" in draft
    exercise = client.get(reverse("exercise", args=["arm_lift_forward_lying"])).content.decode()
    assert "Load: shoulder flexion 10.0 N·m, 100 %" in exercise
    assert 'class="load-curve"' in exercise
