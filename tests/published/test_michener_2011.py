"""L. A. Michener et al. 2011, Responsiveness of the numeric pain rating scale in patients with
shoulder pain and the effect of surgical status, Journal of Sport Rehabilitation 20:115-128:
important from 2.17 points on the mean of pain at rest, at usual and at strenuous activity."""

from statistics import fmean

import pytest

from logs.pain import PUBLISHED_DIFFERENCES, Verdict, pain_change

(MICHENER,) = (each for each in PUBLISHED_DIFFERENCES if "Michener" in each.source)


def test_the_difference_shown_is_the_papers():
    assert (MICHENER.points, MICHENER.percent) == (2.17, None)


def test_a_fall_of_the_mean_of_three_by_more_than_2_17_is_important():
    change = pain_change(fmean([2, 5, 8]), fmean([1, 3, 4]), MICHENER)
    assert change.start == pytest.approx(5.00, abs=0.001)
    assert change.present == pytest.approx(2.667, abs=0.001)
    assert change.points == pytest.approx(-2.333, abs=0.001)
    assert change.verdict is Verdict.IMPROVED


def test_a_fall_of_2_is_not():
    assert pain_change(5, 3, MICHENER).verdict is Verdict.UNCHANGED
