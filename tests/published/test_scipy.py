"""SciPy as the reference for the trend, over random tied and untied series.

Its ways differ from ours and are allowed for: kendalltau's asymptotic p has no continuity
correction, and it counts exactly only without ties; theilslopes rounds the ranks of its limits
(Sen 1968) where we interpolate between them (Gilbert 1987).
"""

import math
import random
import warnings

import pytest

from logs.trend import trend

stats = pytest.importorskip("scipy.stats")

pytestmark = pytest.mark.reference


def tied_series(seed, count, longest):
    """Pain-like scores on some of the days of a few weeks."""
    source = random.Random(seed)
    for _ in range(count):
        n = source.randint(3, longest)
        days = sorted(source.sample(range(2 * longest), n))
        yield days, [source.randint(0, source.choice([2, 10])) for _ in days]


def test_tau_and_asymptotic_p_over_a_thousand_tied_series():
    for days, scores in tied_series(seed=1, count=1000, longest=40):
        found = trend(days, scores)
        if len(set(scores)) == 1:
            assert (found.tau_b, found.p_normal) == (None, 1)  # SciPy has no number here
            continue
        expected = stats.kendalltau(days, scores, method="asymptotic")
        assert found.tau_b == pytest.approx(expected.statistic, abs=1e-12)
        uncorrected = math.erfc(abs(found.s) / math.sqrt(2 * found.variance))
        assert uncorrected == pytest.approx(expected.pvalue, rel=1e-9, abs=1e-15)


def test_exact_p_over_a_thousand_untied_series():
    source = random.Random(2)
    for _ in range(1000):
        values = source.sample(range(100), source.randint(2, 10))
        found = trend(range(len(values)), values)
        expected = stats.kendalltau(range(len(values)), values, method="exact")
        assert found.p_exact == pytest.approx(expected.pvalue, rel=1e-12)


def test_variance_with_ties_in_both_over_three_hundred_series():
    source = random.Random(3)
    for _ in range(300):
        n = source.randint(4, 25)
        days = [source.randint(0, 8) for _ in range(n)]
        scores = [source.randint(0, 5) for _ in range(n)]
        found = trend(days, scores)
        if found.tau_b is None:
            continue
        expected = stats.kendalltau(days, scores, method="asymptotic")
        uncorrected = math.erfc(abs(found.s) / math.sqrt(2 * found.variance))
        assert uncorrected == pytest.approx(expected.pvalue, rel=1e-9, abs=1e-15)


def test_slope_intercept_and_limits_over_a_thousand_series():
    for days, scores in tied_series(seed=4, count=1000, longest=30):
        found = trend(days, scores)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)  # its own, on equal scores
            expected = stats.theilslopes(scores, days, alpha=0.95, method="separate")
        assert found.slope == pytest.approx(expected.slope, abs=1e-12)
        assert found.intercept == pytest.approx(expected.intercept, abs=1e-12)
        if found.lower is None:
            continue
        slopes = math.comb(len(days), 2)
        rank = (slopes - stats.norm.ppf(0.975) * math.sqrt(found.variance)) / 2
        rounds_down = round(rank) <= rank
        if rounds_down:  # their lower limit is then the rank below, ours at or above it
            assert expected.low_slope <= found.lower + 1e-12
            assert expected.high_slope >= found.upper - 1e-12
        else:
            assert expected.low_slope >= found.lower - 1e-12
            assert expected.high_slope <= found.upper + 1e-12
