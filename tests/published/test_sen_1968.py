"""P. K. Sen 1968, Estimates of the regression coefficient based on Kendall's tau, Journal of the
American Statistical Association 63:1379-1389: the paper's own example, as SciPy's tests keep it
(stats/tests/test_mstats_basic.py). Sen rounds the ranks of the limits; Gilbert, whom we follow,
interpolates between them, which gives the other limits below (worked out, not printed)."""

from itertools import combinations

import pytest

from logs.trend import trend

TIMES = [1, 2, 3, 4, 10, 12, 18]
VALUES = [9, 15, 19, 20, 45, 55, 78]
FOUND = trend(TIMES, VALUES, confidence=0.93)


def test_slope_and_conovers_intercept():
    assert FOUND.slope == pytest.approx(4, abs=1e-9)
    assert FOUND.intercept == pytest.approx(4, abs=1e-9)


def test_the_other_convention_of_the_intercept_differs():
    """Named beside ours: the median of value - slope × time is 6."""
    residuals = sorted(y - FOUND.slope * t for t, y in zip(TIMES, VALUES, strict=True))
    assert residuals[3] == pytest.approx(6, abs=1e-9)


def test_limits_with_whole_ranks_are_sens_and_interpolated_ones_lie_inside():
    pairs = combinations(zip(TIMES, VALUES, strict=True), 2)
    slopes = sorted((y2 - y1) / (t2 - t1) for (t1, y1), (t2, y2) in pairs)
    assert slopes[3] == pytest.approx(3.71, abs=0.006)
    assert slopes[17] == pytest.approx(4.38, abs=0.006)
    assert FOUND.lower == pytest.approx(3.7310, abs=5e-5)
    assert FOUND.upper == pytest.approx(4.2846, abs=5e-5)


def test_every_pair_rises():
    assert FOUND.s == 21
    assert FOUND.variance == pytest.approx(44.3333, abs=1e-4)
    assert FOUND.p_exact == pytest.approx(2 / 5040, rel=1e-12)
