"""M. G. Kendall 1976, Rank Correlation Methods, examples 4.3 (p. 55) and 3.4 (pp. 42-43), data and
results as in the help of the Kendall package (https://github.com/cran/Kendall, man/Kendall.Rd):
ties in both variables."""

import pytest

from logs.trend import trend


def test_variance_with_ties_in_both():
    x = [1.5, 1.5, 3, 4, 6, 6, 6, 8, 9.5, 9.5, 11, 12]
    y = [2.5, 2.5, 7, 4.5, 1, 4.5, 6, 11.5, 11.5, 8.5, 8.5, 10]
    assert trend(x, y).s == 34
    assert trend(x, y).variance == pytest.approx(203.30, abs=0.005)
    assert trend(x, y).p_exact is None


def test_tau_with_many_ties():
    a = [2.5] * 4 + [5] + [6.5] * 2 + [10] * 5 + [14] * 3 + [16, 17]
    b = [1, 1, 1, 1, 2, 1, 1, 2, 1, 1, 1, 1, 1, 1, 2, 2, 2]
    found = trend(a, b)
    assert found.s == 34
    assert found.tau_b == pytest.approx(0.41, abs=0.005)
    assert found.tau_b == pytest.approx(34 / (116 * 60) ** 0.5, rel=1e-12)
