"""A movement stopped at an angle: its range, its way, and everything that is worked out from it."""

import numpy as np
import pytest

from logs.line_demands import demands_for
from patients.motions import MOTIONS, Effort, Joint
from plans import clinical
from plans.bound_words import ARABIC, ENGLISH, SPANISH, bound_words, place_of
from plans.catalogue import Position
from plans.exercise import movement_of
from plans.figure import still_svg
from plans.load_curve import load_of
from plans.reading import grade
from plans.segments import Body, body_taken
from plans.stopped import begins_at_deg, line_movement, stopped
from tests.plans.building import line as prescribed
from tests.world import shipped_exercises

LIFT = shipped_exercises()["arm_lift_forward_lying"]
ACTIVE = LIFT.step(Effort.ACTIVE)
FLEXION_60 = ("shoulder_flexion", 60)

EVERY_STEP = [
    (exercise, step)
    for exercise in shipped_exercises().values()
    for step in exercise.steps
    if step.poses
]


def test_every_step_that_we_ship_keeps_within_any_stop_that_it_begins_within():
    stops = 0
    for exercise, step in EVERY_STEP:
        whole = movement_of(exercise, step)
        for motion in exercise.moves:
            lowest, highest = whole.range_deg()[motion]
            begins_deg = begins_at_deg(whole, motion)
            at_deg = round(lowest + 0.6 * (highest - lowest))
            short = stopped(whole, (motion, at_deg))
            if short is whole:
                assert begins_deg is None or begins_deg >= at_deg - 1, (exercise.key, motion)
                continue
            stops += 1
            assert short.range_deg()[motion][1] <= at_deg + 0.1, (exercise.key, motion)
            assert short.own_pace_s < whole.own_pace_s * 2
            assert short.poses[0].coordinates == pytest.approx(whole.poses[0].coordinates)
            assert short.poses[-1].coordinates == pytest.approx(whole.poses[0].coordinates)
    assert stops > 80


def test_the_way_to_the_stop_is_the_movements_own():
    whole = movement_of(LIFT, ACTIVE)
    short = stopped(whole, FLEXION_60)
    turn_s = short.own_pace_s / 2
    times_s = np.linspace(0, turn_s, 40)
    own, kept = whole.coordinates_at(times_s), short.coordinates_at(times_s)
    assert np.abs(own - kept).max() < 2.0  # degrees; between the poses kept, some way is lost
    rows = short.coordinates_at(np.array([turn_s]))
    at_turn = clinical.motion_angles(rows, short.chain(rows))["shoulder_flexion"][1][0]
    assert at_turn == pytest.approx(60, abs=0.1)


def test_nothing_is_stopped_where_nothing_comes_to_it_or_it_begins_beyond():
    whole = movement_of(LIFT, ACTIVE)
    assert stopped(whole, ("shoulder_flexion", 170)) is whole
    assert stopped(whole, ("shoulder_flexion", -30)) is whole
    assert stopped(whole, ("thumb_opposition", 20)) is whole


def test_a_hold_at_the_end_is_held_at_the_stop():
    held = [
        (exercise, step)
        for exercise, step in EVERY_STEP
        if any(pose.hold for pose in movement_of(exercise, step).poses)
    ]
    stops = 0
    for exercise, step in held:
        whole = movement_of(exercise, step)
        for motion in exercise.moves:
            lowest, highest = whole.range_deg()[motion]
            short = stopped(whole, (motion, round((lowest + highest) / 2)))
            if short is not whole:
                stops += 1
                assert any(pose.hold for pose in short.poses), (exercise.key, motion)
    assert stops


def test_load_work_and_picture_are_those_of_the_shorter_way():
    body = body_taken(None, None)
    whole, short = (load_of(LIFT, ACTIVE, body, stop=stop) for stop in (None, FLEXION_60))
    # Lying, gravity asks most of the shoulder at the start, which both have; the highest angle is
    # where they differ.
    assert max(p.angle_deg for p in short.joints[-1].curve if p.angle_deg is not None) <= max(
        p.angle_deg for p in whole.joints[-1].curve if p.angle_deg is not None
    )
    demand_of = demands_for(Body(), lambda _: LIFT)
    lift = prescribed(step=Effort.ACTIVE, moves=LIFT.moves, revision="of the lift")
    short_lift = prescribed(
        step=Effort.ACTIVE,
        moves=LIFT.moves,
        revision="of the lift",
        stop_motion="shoulder_flexion",
        stop_deg=30,
    )
    work = [demand_of(each, 0)[Joint.SHOULDER.value].work_j for each in (lift, short_lift)]
    # Raising a straight arm from level works against the sine of its angle.
    assert work[1] == pytest.approx(work[0] * np.sin(np.radians(30)), rel=0.15)
    pictures = [still_svg(line_movement(LIFT, ACTIVE, s), "left") for s in (None, FLEXION_60)]
    assert pictures[0] != pictures[1]


@pytest.mark.parametrize("words", [ENGLISH, SPANISH, ARABIC], ids=["en", "es", "ar"])
def test_every_stop_of_every_motion_is_said_in_every_language(words):
    for motion in MOTIONS:
        for at_deg in (-30, -5, 0, 5, 45, 90, 120):
            for position in Position:
                said, _ = words.said((motion, at_deg), position.value, "")
                assert str(abs(at_deg)) in said
                assert "{" not in said
                assert place_of((motion, at_deg), position.value) in ("", *words.places)
    assert {*words.at} == {*words.short_of} == {*Joint}
    assert words.turned.keys() == ENGLISH.turned.keys()
    assert words.places.keys() == ENGLISH.places.keys()
    assert all(words.said(None, "sitting", worn) for worn in ("on", "off"))


def test_the_english_reads_at_grade_6_or_below():
    for place in ENGLISH.places.values():
        said = ENGLISH.only_to_place.format(here="60° at the shoulder", place=place)
        assert grade(said) <= 6, said
    others = [ENGLISH.only_to.format(here=here.format(n=30)) for here in ENGLISH.turned.values()]
    for said in (*ENGLISH.orthosis.values(), ENGLISH.stop_there, *others):
        assert grade(said) <= 6, said


def test_a_place_in_sight_never_promises_more_than_the_angle():
    assert place_of(("shoulder_flexion", 91), "sitting") == ""
    assert place_of(("shoulder_flexion", 84), "sitting") == "below_shoulder"
    assert place_of(("elbow_flexion", 91), "sitting") == ""
    assert place_of(("wrist_extension", 6), "sitting") == ""


def test_a_language_that_we_do_not_offer_is_english():
    assert bound_words("fr") is ENGLISH
    assert bound_words("es-mx") is SPANISH
