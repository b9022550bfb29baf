"""R. O. Gilbert 1987, Statistical Methods for Environmental Pollution Monitoring, section 16.4:
10, 15, 14, 20 (the example from memory; the one-sided p, 4 orders of 24, counted by hand)."""

import pytest

from logs.trend import Shown, exact_p_at_least, trend


def test_four_values():
    found = trend(range(4), [10, 15, 14, 20])
    assert found.s == 4
    assert exact_p_at_least(4, [1] * 4) == pytest.approx(0.167, abs=5e-4)
    assert exact_p_at_least(4, [1] * 4) == pytest.approx(4 / 24, rel=1e-12)
    assert found.slope == pytest.approx(2.916667, abs=1e-6)


def test_the_normal_approximation_is_too_small_so_it_is_not_used():
    found = trend(range(4), [10, 15, 14, 20])
    assert found.p_normal / 2 == pytest.approx(0.154, abs=5e-4)
    assert found.p == found.p_exact
    assert found.shows is Shown.TOO_FEW
