"""Exact p values of R's cor.test(method = "kendall"), as SciPy's tests keep them
(stats/tests/test_stats.py, TestKendallTau)."""

import pytest

from logs.trend import exact_p_at_least, trend


@pytest.mark.parametrize(
    ("values", "tau", "two_sided"),
    [
        ([0, 1, 2, 3, 4, 5, 6, 7, 8, 9], 1.0, 5.511463844797e-07),
        ([0, 2, 1, 3, 4, 5, 6, 7, 8, 9], 0.9555555555555, 5.511463844797e-06),
        ([0, 2, 1, 3, 4, 6, 5, 7, 8, 9], 0.9111111111111, 2.976190476190e-05),
        ([1, 2, 4, 3], 0.6666666666667, 0.3333333333333),
        ([1, 5, 4, 2, 3], 0.0, 1.0),
        ([8, 6, 1, 3, 2, 5, 4, 7], 0.0, 1.0),
    ],
)
def test_tau_and_two_sided_p(values, tau, two_sided):
    found = trend(range(len(values)), values)
    assert found.tau_b == pytest.approx(tau, abs=1e-9)
    assert found.p_exact == pytest.approx(two_sided, rel=1e-9)


@pytest.mark.parametrize(
    ("values", "s", "greater"),
    [
        ([1, 2, 4, 3], 4, 0.1666666666667),
        ([1, 5, 4, 2, 3], 0, 0.5916666666667),
        ([8, 6, 1, 3, 2, 5, 4, 7], 0, 0.5475694444444),
    ],
)
def test_one_sided_p(values, s, greater):
    assert trend(range(len(values)), values).s == s
    assert exact_p_at_least(s, [1] * len(values)) == pytest.approx(greater, abs=1e-9)
