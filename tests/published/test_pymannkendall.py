"""pymannkendall as the reference for the trend, over random tied series.

Its original_test is always the normal approximation with continuity and tie correction, its tau is
tau-a, its times are 0, 1, 2, ... and its intercept is for time 0. All agree with ours where asked
for the same.
"""

import math
import random

import pytest

from logs.trend import trend

pymannkendall = pytest.importorskip("pymannkendall")

pytestmark = pytest.mark.reference


def test_s_variance_z_p_slope_and_intercept_over_a_thousand_series():
    source = random.Random(5)
    for _ in range(1000):
        n = source.randint(3, 25)
        scores = [source.randint(0, source.choice([1, 3, 10])) for _ in range(n)]
        expected = pymannkendall.original_test(scores)
        found = trend(range(n), scores)
        assert found.s == expected.s
        assert found.variance == pytest.approx(expected.var_s, rel=1e-12)
        assert found.z == pytest.approx(expected.z, rel=1e-12)
        assert found.p_normal == pytest.approx(expected.p, rel=1e-9, abs=1e-15)
        assert found.s / math.comb(n, 2) == pytest.approx(expected.Tau, rel=1e-12)
        assert found.slope == pytest.approx(expected.slope, abs=1e-12)
        assert found.intercept == pytest.approx(expected.intercept, abs=1e-12)


def test_the_days_of_a_half_year_too():
    source = random.Random(6)
    for drift in (0, 0.01, -0.03):
        scores = [max(0, min(10, round(5 + drift * t + source.gauss(0, 2)))) for t in range(182)]
        expected = pymannkendall.original_test(scores)
        found = trend(range(182), scores)
        assert (found.s, found.slope) == (expected.s, pytest.approx(expected.slope, abs=1e-12))
        assert found.p == pytest.approx(expected.p, rel=1e-9, abs=1e-15)
