"""Stratford et al. 1995, Physiotherapy Canada 47:258-263: the patient's own activities, 0 to 10.

The score is the mean; the least detectable change (90 %) is 2 points of the mean, 3 of one
activity (as reported at precisionphysio.com.au/the-patient-specific-functional-scale).
"""

from fractions import Fraction
from pathlib import Path

import pytest

from patients.assessment import activity_mean
from patients.measurement_error import activities_change, activity_change, read_rules

RULES = read_rules(
    Path(__file__).resolve().parent.parent.parent / "fixtures" / "measurement_error.toml"
)


def test_the_worked_example():
    # 3, 4, 2 -> 3.0; at follow-up 6, 5, 5 -> 5.33; a change of 2.33, which is at least 2.
    assert activity_mean([3, 4, 2]) == 3
    assert activity_mean([6, 5, 5]) == Fraction(16, 3)
    change = activities_change(RULES, [3, 4, 2], [6, 5, 5])
    assert change.size == Fraction(7, 3)
    assert change.is_beyond
    assert str(change) == "2.3 points more"


@pytest.mark.parametrize(
    ("before", "after", "counts"),
    [
        ([3, 4, 2], [5, 6, 4], True),  # exactly 2
        ([3, 4, 2], [5, 6, 3], False),  # 1.67
        ([8, 8, 8, 8, 8], [6, 6, 6, 6, 6], True),
        ([8, 8, 8, 8, 8], [6, 6, 6, 6, 7], False),
    ],
)
def test_the_mean_must_move_by_two(before, after, counts):
    assert activities_change(RULES, before, after).is_beyond is counts


def test_a_mean_of_fewer_than_three_makes_no_claim():
    assert activities_change(RULES, [0, 0], [10, 10]) is None


def test_the_same_activities_must_be_scored_both_times():
    with pytest.raises(ValueError, match="the same activities"):
        activities_change(RULES, [1, 2, 3], [1, 2])


@pytest.mark.parametrize(
    ("after", "words"), [(6, "within measurement error"), (7, "3 points more")]
)
def test_one_activity_must_move_by_three(after, words):
    assert str(activity_change(RULES, 4, after)) == words


def test_without_scores_there_is_no_mean():
    assert activity_mean([]) is None
