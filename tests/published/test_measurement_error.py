"""When a change of range counts, against the published errors of measuring it.

de Winter 2004 (PMC434511): painful shoulders, two raters: under 20 to 25 degrees a change can't be
told from error. Kolber 2011 (PMID 20690872): healthy shoulders, two raters: least detectable
change 8 flexion, 4 abduction, 8 internal, 9 external rotation. Kolber 2009 (PMID 19925265): one
rater: 4 internal, 5 external rotation. About 5 degrees for one rater and other joints: Boone 1978,
Norkin & White (from memory). Grip, Lang 2008 (PMC2819021): 5.0 kg dominant, 6.2 kg other hand.
Pain, Childs, Piva, Fritz 2005, Spine 30:1331-1334: 2 points.
"""

from decimal import Decimal
from pathlib import Path

import pytest

from patients.assessment import Grade, Method
from patients.measurement_error import (
    Measured,
    RulesError,
    Taking,
    grade_change,
    grip_change,
    is_one_rater,
    pain_change,
    range_change,
    read_rules,
)
from patients.motions import MOTIONS, Joint

FILE = Path(__file__).resolve().parent.parent.parent / "fixtures" / "measurement_error.toml"
RULES = read_rules(FILE)
ANN = Taking("Ann", Method.GONIOMETER)
BOB = Taking("Bob", Method.GONIOMETER)


def change(motion, before, after, one=ANN, two=ANN, painful=False):
    return range_change(RULES, motion, Measured(before, one, painful), Measured(after, two))


@pytest.mark.parametrize(
    ("motion", "two", "painful", "most_within"),
    [
        ("elbow_flexion", ANN, False, 5),
        ("forearm_supination", ANN, False, 5),
        ("wrist_extension", ANN, False, 5),
        ("finger_flexion", ANN, False, 5),
        ("thumb_abduction", BOB, False, 10),
        ("wrist_extension", BOB, False, 10),
        ("wrist_extension", BOB, True, 10),
        ("shoulder_flexion", ANN, False, 10),
        ("shoulder_flexion", BOB, False, 20),
        ("shoulder_abduction", BOB, True, 25),
    ],
)
def test_a_change_must_exceed_the_limit(motion, two, painful, most_within):
    within = change(motion, 40, 40 + most_within, two=two, painful=painful)
    beyond = change(motion, 40, 41 + most_within, two=two, painful=painful)
    assert (str(within), within.direction) == ("within measurement error", 0)
    assert (str(beyond), beyond.direction) == (f"{most_within + 1}° more", 1)
    worse = change(motion, 41 + most_within, 40, two=two, painful=painful)
    assert (str(worse), worse.direction) == (f"{most_within + 1}° less", -1)


@pytest.mark.parametrize(
    ("motion", "least_detectable_deg"),
    [
        ("shoulder_flexion", 8),
        ("shoulder_abduction", 4),
        ("shoulder_internal_rotation", 8),
        ("shoulder_external_rotation", 9),
    ],
)
def test_no_limit_lies_below_what_was_found_in_healthy_shoulders(motion, least_detectable_deg):
    limit = RULES.ranges[MOTIONS[motion].joint]
    assert limit.different_raters_deg >= least_detectable_deg
    assert limit.same_rater_deg >= 5
    assert limit.painful_different_raters_deg == 25


@pytest.mark.parametrize(
    ("one", "two"),
    [
        (ANN, BOB),
        (Taking(None, Method.GONIOMETER), Taking(None, Method.GONIOMETER)),
        (ANN, Taking("Ann", Method.INCLINOMETER)),
        (Taking("Ann", Method.BY_EYE), Taking("Ann", Method.BY_EYE)),
        (Taking("Ann", Method.SELF_MEASURED), Taking("Ann", Method.SELF_MEASURED)),
        (
            Taking("Ann", Method.GONIOMETER, "sitting"),
            Taking("Ann", Method.GONIOMETER, "lying_back"),
        ),
    ],
)
def test_what_counts_as_two_raters(one, two):
    assert not is_one_rater(RULES, one, two)
    assert str(change("elbow_flexion", 100, 110, one, two)) == "within measurement error"
    assert str(change("elbow_flexion", 100, 111, one, two)) == "11° more"


def test_a_position_said_only_once_still_counts_as_alike():
    assert is_one_rater(RULES, ANN, Taking("Ann", Method.GONIOMETER, "sitting"))


def test_from_not_reaching_neutral_to_beyond_it():
    assert str(change("elbow_extension", -12, 2)) == "14° more"


@pytest.mark.parametrize(
    ("before", "after", "one_rater", "words"),
    [
        ("3", "3+", True, "within measurement error"),
        ("3-", "3+", True, "stronger, was 3−"),
        ("3-", "3+", False, "within measurement error"),
        ("3", "4", False, "stronger, was 3"),
        ("4", "2+", True, "weaker, was 4"),
    ],
)
def test_grades_change_by_places(before, after, one_rater, words):
    one, two = Grade.from_text(before), Grade.from_text(after)
    assert str(grade_change(RULES, one, two, one_rater=one_rater)) == words


@pytest.mark.parametrize(
    ("dominant", "gain", "counts"),
    [
        (True, "4.9", False),
        (True, "5.0", True),
        (False, "6.1", False),
        (False, "6.2", True),
        (None, "6.1", False),
        (None, "6.2", True),
    ],
)
def test_grip_changes_by_the_least_important_difference(dominant, gain, counts):
    before = Decimal(20)
    found = grip_change(RULES, before, before + Decimal(gain), dominant=dominant)
    assert found.is_beyond is counts


def test_pain_changes_by_two_points():
    assert str(pain_change(RULES, 6, 4)) == "2 points less"
    assert str(pain_change(RULES, 6, 5)) == "within measurement error"


def test_the_limits_are_the_clinics_and_each_has_its_source(tmp_path):
    edited = tmp_path / "rules.toml"
    edited.write_text(FILE.read_text().replace("same_rater_deg = 5", "same_rater_deg = 3", 1))
    rules = read_rules(edited)
    assert range_change(rules, "elbow_flexion", Measured(90, ANN), Measured(94, ANN)).is_beyond
    assert set(RULES.ranges) == set(Joint)
    assert all(limit.source for limit in RULES.ranges.values())
    assert set(RULES.sources) == {"grade", "activities", "pain", "grip"}


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("same_rater_deg = 5", "same_rater_deg = -5", "whole number from 0 up, not -5"),
        ("same_rater_deg = 5\n", "", "same_rater_deg is missing"),
        ('joints = ["shoulder"]', 'joints = ["hip"]', "'hip' is not a valid Joint"),
        (
            'joints = ["shoulder_blade"]',
            'joints = ["shoulder"]',
            "nothing is said of shoulder blade",
        ),
        ("[pain]", "[pian]", "pain is missing"),
        ('two_raters_methods = ["by_eye"', "two_raters_methods = [by_eye", "line 8, column"),
    ],
)
def test_a_file_that_cannot_be_read_says_where(tmp_path, old, new, message):
    edited = tmp_path / "rules.toml"
    text = FILE.read_text()
    assert old in text
    edited.write_text(text.replace(old, new, 1))
    with pytest.raises(RulesError, match=r"rules\.toml") as caught:
        read_rules(edited)
    assert message in str(caught.value)
