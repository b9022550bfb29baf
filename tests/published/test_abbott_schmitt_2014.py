"""J. H. Abbott and J. Schmitt 2014, Minimum important differences for the patient-specific
functional scale, 4 region-specific outcome measures, and the numeric pain rating scale, Journal of
Orthopaedic & Sports Physical Therapy 44:560-564 (1708 people): from 1.5 points for a small change
to 3.5 for a large one. The cases are ours."""

import pytest

from logs.pain import PUBLISHED_DIFFERENCES, Verdict, pain_change

SMALL, LARGE = (each for each in PUBLISHED_DIFFERENCES if "Abbott" in each.source)


def test_the_differences_shown_are_the_papers():
    assert (SMALL.points, SMALL.percent, LARGE.points, LARGE.percent) == (1.5, None, 3.5, None)


@pytest.mark.parametrize(
    ("present", "small", "large"),
    [
        (2.5, Verdict.IMPROVED, Verdict.IMPROVED),
        (4.5, Verdict.IMPROVED, Verdict.UNCHANGED),
        (5, Verdict.UNCHANGED, Verdict.UNCHANGED),
    ],
)
def test_a_fall_from_6_is_small_or_large(present, small, large):
    assert pain_change(6, present, SMALL).verdict is small
    assert pain_change(6, present, LARGE).verdict is large
