"""USEPA 2009, Statistical Analysis of Groundwater Monitoring Data at RCRA Facilities, Unified
Guidance, EPA 530/R-09-007, example 17-7 (sodium in ppm by year), with the output that EnvStats
gives for it (data set page https://rdrr.io/cran/EnvStats/man/EPA.09.Ex.17.7.sodium.df.html).
The exact p is counted, not printed there."""

import pytest

from logs.trend import trend

YEARS = [89.6, 90.1, 90.8, 91.1, 92.1, 93.1, 94.1, 95.6, 96.1, 96.3]
SODIUM_PPM = [56, 53, 51, 55, 52, 60, 62, 59, 61, 63]
FOUND = trend(YEARS, SODIUM_PPM)


def test_slope_tau_and_intercept():
    assert FOUND.slope == pytest.approx(1.3333333, abs=1e-6)
    assert FOUND.tau_b == pytest.approx(0.5555556, abs=1e-6)  # no ties: tau-a and tau-b are one
    assert FOUND.intercept == pytest.approx(-65.9666667, abs=1e-6)


def test_z_and_p():
    assert (FOUND.s, FOUND.variance) == (25, 125)
    assert FOUND.z == pytest.approx(2.146625, abs=1e-6)
    assert FOUND.p_normal == pytest.approx(0.03182313, abs=1e-6)
    assert FOUND.p_exact == pytest.approx(0.028609, abs=1e-6)


def test_limits_of_the_slope_at_95_per_cent():
    assert FOUND.lower == pytest.approx(0.3992083, abs=1e-6)
    assert FOUND.upper == pytest.approx(2.3333333, abs=1e-6)
