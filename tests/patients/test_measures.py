"""What may be typed for a measure: limits of every motion, letters for why not, either minus."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from patients.assessment import (
    NotTested,
    RangeReading,
    ReadingError,
    ScoreReading,
    muscle_group,
    range_limits_deg,
    read_range,
    read_score,
    read_trial,
)
from patients.motions import MOTIONS

MOTION = st.sampled_from(sorted(MOTIONS))


@given(motion=MOTION, value=st.integers(-400, 400), pain=st.booleans())
def test_a_range_reads_as_typed_within_its_limits_and_not_beyond(motion, value, pain):
    text = f"{value}{'p' if pain else ''}"
    lowest, highest = range_limits_deg(motion)
    if lowest <= value <= highest:
        assert read_range(text, motion) == RangeReading(value_deg=value, pain=pain)
    else:
        with pytest.raises(ReadingError, match="is between"):
            read_range(text, motion)


@given(motion=MOTION)
def test_a_motion_goes_below_neutral_as_far_as_its_opposite_goes(motion):
    opposite = MOTIONS[motion].opposite
    lowest, highest = range_limits_deg(motion)
    assert highest == MOTIONS[motion].reject_beyond_deg
    assert lowest == (-MOTIONS[opposite].reject_beyond_deg if opposite else 0)
    usual = MOTIONS[motion].usual_range_deg
    assert usual is None or usual <= highest


@pytest.mark.parametrize(
    ("motion", "limits"),
    [
        ("shoulder_flexion", (-100, 200)),
        ("shoulder_external_rotation", (-130, 130)),
        ("elbow_flexion", (-20, 165)),
        ("forearm_supination", (-110, 110)),
        ("wrist_extension", (-110, 110)),
        ("wrist_ulnar_deviation", (-60, 60)),
    ],
)
def test_the_limits_of_the_larger_joints(motion, limits):
    assert range_limits_deg(motion) == limits


@pytest.mark.parametrize(
    ("typed", "value", "pain"),
    [("−10", -10, False), (" 95 P ", 95, True), ("95°p", 95, True), ("0", 0, False)],
)
def test_a_range_is_read_as_people_type_it(typed, value, pain):
    assert read_range(typed, "elbow_flexion") == RangeReading(value_deg=value, pain=pain)


@pytest.mark.parametrize(
    ("letter", "why"),
    [("n", "not allowed yet"), ("P", "pain"), ("f", "cannot follow"), ("t", "tone")],
)
def test_a_letter_says_why_a_measure_was_not_taken(letter, why):
    assert read_range(letter, "elbow_flexion").not_tested.label == why
    assert read_score(letter).not_tested.label == why


@pytest.mark.parametrize("typed", ["", "  "])
def test_nothing_typed_is_not_an_answer(typed):
    assert read_range(typed, "elbow_flexion") == RangeReading()
    assert read_score(typed) == ScoreReading()
    assert read_score("0") == ScoreReading(score=0)


@pytest.mark.parametrize("typed", ["1.5", "95 degrees", "p95", "9 5", "np", "--5", "٣"])
def test_what_is_no_angle_is_refused_with_what_would_do(typed):
    with pytest.raises(ReadingError, match="Type degrees"):
        read_range(typed, "elbow_flexion")


@pytest.mark.parametrize(
    ("typed", "unit", "value"),
    [("22.5", "lb", "22.5"), ("22,5", "kg", "22.5"), ("0", "kg", "0"), ("265", "lb", "265")],
)
def test_a_grip_trial_is_what_the_meter_shows(typed, unit, value):
    assert read_trial(typed, unit) == Decimal(value)


@pytest.mark.parametrize(
    ("typed", "unit"), [("121", "kg"), ("22.55", "kg"), ("-3", "kg"), ("266", "lb")]
)
def test_a_grip_that_cannot_be_is_refused(typed, unit):
    with pytest.raises(ReadingError):
        read_trial(typed, unit)


def test_every_motion_has_its_muscles():
    names = [muscle_group(motion) for motion in MOTIONS]
    assert len(set(names)) == len(MOTIONS)
    assert muscle_group("shoulder_blade_retraction") == "shoulder blade retractors"
    assert {why.value for why in NotTested} == {"not_allowed", "pain", "cannot_follow", "tone"}
