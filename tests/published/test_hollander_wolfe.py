"""M. Hollander and D. A. Wolfe, Nonparametric Statistical Methods.

Example 9.1, cloud seeding: data as the NSM3 package has them (theil, example=TRUE,
https://search.r-project.org/CRAN/refmans/NSM3/html/theil.html); slope, S and p worked out from
them (the book prints -.056, from memory). 1973, p. 187, tuna: data and p as in the help of R's
cor.test and in SciPy's tests."""

import pytest

from logs.trend import Shown, exact_p_at_least, trend


def test_cloud_seeding():
    found = trend([1, 2, 3, 4, 5], [1.26, 1.27, 1.12, 1.16, 1.03])
    assert found.slope == pytest.approx(-0.05625, abs=1e-9)
    assert found.intercept == pytest.approx(1.32875, abs=1e-9)
    assert found.s == -6
    assert found.z == pytest.approx(-1.224745, abs=1e-6)
    assert found.p_exact / 2 == pytest.approx(0.1167, abs=5e-5)
    assert found.shows is Shown.NONE


def test_tuna():
    lightness = [44.4, 45.9, 41.9, 53.3, 44.7, 44.1, 50.7, 45.2, 60.1]
    panel_score = [2.6, 3.1, 2.5, 5.0, 3.6, 4.0, 5.2, 2.8, 3.8]
    found = trend(lightness, panel_score)
    assert found.s == 16
    assert found.tau_b == pytest.approx(0.4444444, abs=1e-6)
    assert found.p_exact == pytest.approx(0.1194389329806, abs=1e-12)
    assert exact_p_at_least(16, [1] * 9) == pytest.approx(0.0597194664903, abs=1e-12)
    assert exact_p_at_least(-16, [1] * 9) == pytest.approx(0.9624118165785, abs=1e-12)
