"""The load of each line for the therapist: peaks, shares, curves, and for whose body."""

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
    assert (found.is_known, found.joints, found.largest) == (False, (), None)


def test_the_plan_the_draft_and_the_exercise_show_it_as_an_estimate(as_staff, world):
    client = as_staff(world.therapist)
    plan = reverse("plan", args=[world.patient.pk])
    text = client.get(plan).content.decode()
    assert "Load: shoulder 10.0 N·m, 100 %" in text
    assert "Load: elbow 2.6 N·m, 100 %" in text, "of an elbow's exercise the elbow is named"
    assert "An estimate for 1.70 m and 70 kg; height 1.70 m and weight 70 kg assumed" in text
    world.patient.stature_cm, world.patient.body_mass_kg = 190, 95
    world.patient.save()
    text = client.get(plan).content.decode()
    assert "An estimate for 1.90 m and 95 kg, without a weight" in text
    assert "Load: shoulder 15.2 N·m, 100 %" in text
    client.post(reverse("draft_start", args=[world.patient.pk]))
    draft = client.get(reverse("draft", args=[world.patient.pk])).content.decode()
    assert "Load: shoulder 15.2 N·m" in draft
    exercise = client.get(reverse("exercise", args=["arm_lift_forward_lying"])).content.decode()
    assert "Load: shoulder 10.0 N·m, 100 %" in exercise
    assert 'class="load-curve"' in exercise
