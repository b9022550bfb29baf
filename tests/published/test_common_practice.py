"""Facts of the trade that the catalogue must keep. Source of all: common practice, no source."""

import pytest

from plans.catalogue import DoneBy, Equipment, Kind, LoadMeans, Position, Unit, read_folder
from tests.plans.test_catalogue import FOLDER

EXERCISES = {exercise.key: exercise for exercise in read_folder(FOLDER)}
POSED = [exercise for exercise in EXERCISES.values() if exercise.kind is Kind.POSES]
COMFORT = "Go only as far as it stays comfortable."


def keys_of(*, starting, ending=""):
    return [key for key in EXERCISES if key.startswith(starting) and key.endswith(ending)]


def said(step, language="en"):
    return " ".join(step.words(language).do).lower()


def test_repetitions_are_eight_to_ten_unless_a_stretch_is_held():
    doses = {
        exercise.key: (exercise.dose.amount_low, exercise.dose.amount_high)
        for exercise in POSED
        if exercise.unit is Unit.REPETITIONS and exercise.dose.hold_s < 10
    }
    assert len(doses) > 40
    assert set(doses.values()) == {(8, 10)}


@pytest.mark.parametrize("key", keys_of(starting="arm_lift_", ending="_lying"))
def test_arm_lifts_in_lying_go_to_shoulder_height(key):
    for step in EXERCISES[key].steps:
        assert "at the ceiling" in said(step) or "shoulder height" in said(step), step.effort.key
        assert "al techo" in said(step, "es") or "altura del hombro" in said(step, "es")


@pytest.mark.parametrize("key", keys_of(starting="rotation_"))
def test_rotation_is_done_with_the_elbow_bent_to_a_right_angle_at_the_side(key):
    for step in EXERCISES[key].steps:
        assert "right angle" in said(step), step.effort.key
        assert "side" in said(step)
        assert "ángulo recto" in said(step, "es")
        assert "junto al cuerpo" in said(step, "es") or "separa del cuerpo" in said(step, "es")


@pytest.mark.parametrize("exercise", POSED, ids=lambda exercise: exercise.key)
def test_movement_goes_only_as_far_as_it_stays_comfortable(exercise):
    if exercise.moves:
        assert exercise.words("en").cautions[0] == COMFORT
    else:  # nothing moves in a hold
        assert exercise.unit is Unit.SECONDS


def test_circles_are_the_easier_choice_than_tracing_eight_to_ten_each_way():
    tracing = EXERCISES["ceiling_tracing"]
    circles = EXERCISES[tracing.easier]
    assert circles.key == "ceiling_circles"
    assert circles.harder == tracing.key
    assert "eight to ten each way" in " ".join(tracing.words("en").cautions)
    # Two sets, one each way.
    assert (circles.dose.sets, circles.dose.amount_low, circles.dose.amount_high) == (2, 8, 10)
    assert all("second set: the other way" in said(step) for step in circles.steps)


def test_a_helper_holds_above_and_below_the_joint():
    for exercise in POSED:
        for step in exercise.steps:
            if step.done_by is DoneBy.HELPER:
                assert "elbow" in said(step), exercise.key
                assert "wrist" in said(step), exercise.key
                assert "codo" in said(step, "es")
                assert "muñeca" in said(step, "es")


def test_nobody_pulls_on_an_arm_that_a_helper_lifts():
    for exercise in POSED:
        moved = {"shoulder_flexion", "shoulder_abduction", "shoulder_horizontal_abduction"}
        lifted = exercise.position is Position.LYING_BACK and moved & set(exercise.moves)
        if lifted and any(step.done_by is DoneBy.HELPER for step in exercise.steps):
            assert "No one should pull on your arm." in exercise.words("en").cautions, exercise.key


def test_breath_is_not_held_against_weights_bands_and_the_other_hand():
    effortful = {Equipment.HAND_WEIGHT, Equipment.CUFF_WEIGHT, Equipment.BAND}
    checked = 0
    for exercise in POSED:
        for step in exercise.steps:
            if effortful & set(step.equipment) or step.load_means is LoadMeans.OTHER_HAND:
                told = " ".join((said(step), *exercise.words("en").cautions)).lower()
                assert "breath" in told, exercise.key
                checked += 1
    assert checked > 15


def test_the_defaults_say_that_they_are_common_practice():
    for exercise in EXERCISES.values():
        assert exercise.source == exercise.dose.source == "common practice, no source"
