"""J. Little, College of the Holy Cross, "Mann-Kendall by hand" (course notes), as read at
https://mathcs.holycross.edu/~little/Montserrat/MannKendallByHand.txt: fourteen values with one
tie. The two-sided p and the slope are worked out from the same data, not printed there."""

from itertools import combinations
from math import erfc, sqrt

import pytest

from logs.trend import Shown, trend

VALUES = [12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11.0, 17.3, 15.9, 19.0, 18.3, 20.1, 21.7]
FOUND = trend(range(14), VALUES)


def test_seventy_two_pairs_rise_eighteen_fall_and_one_is_tied():
    signs = [(b > a) - (b < a) for a, b in combinations(VALUES, 2)]
    assert (signs.count(1), signs.count(-1), signs.count(0)) == (72, 18, 1)
    assert FOUND.s == 54


def test_variance_z_and_p():
    assert FOUND.variance == pytest.approx(332.6667, abs=1e-4)
    assert FOUND.z == pytest.approx(2.9058, abs=1e-4)
    assert erfc(FOUND.z / sqrt(2)) / 2 == pytest.approx(0.0018, abs=5e-5)
    assert FOUND.p == pytest.approx(0.003663, abs=1e-6)
    assert FOUND.shows is Shown.RISING


def test_slope_worked_out_from_the_same_data():
    assert FOUND.slope == pytest.approx(0.566667, abs=1e-6)
