import math
from collections import Counter
from itertools import combinations, permutations
from statistics import NormalDist, median, pvariance

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import logs.trend
from logs.trend import Shown, exact_p_at_least, trend


def rises_less_falls(values):
    return sum((b > a) - (b < a) for a, b in combinations(values, 2))


def ties(values):
    return list(Counter(values).values())


class TestExactP:
    @pytest.mark.parametrize(
        ("n", "tail"),
        [
            (3, {1: 0.5000, 3: 0.1667}),
            (4, {0: 0.6250, 2: 0.3750, 4: 0.1667, 6: 0.0417}),
            (5, {0: 0.5917, 2: 0.4083, 4: 0.2417, 6: 0.1167, 8: 0.0417, 10: 0.0083}),
            (8, {0: 0.5476, 10: 0.1375, 16: 0.0305, 26: 0.0002}),
            (10, {1: 0.5000, 21: 0.0363, 23: 0.0233, 35: 0.0005}),
        ],
    )
    def test_without_ties_it_is_that_of_the_usual_tables(self, n, tail):
        """Counted for S by inversions of permutations; printed as in such tables, to 4 places."""
        for s, p in tail.items():
            assert exact_p_at_least(s, [1] * n) == pytest.approx(p, abs=5e-5)

    @given(st.lists(st.integers(0, 3), min_size=1, max_size=7), st.integers(-25, 25))
    @settings(max_examples=60, deadline=None)
    def test_with_ties_it_is_what_trying_every_order_gives(self, values, s):
        found = [rises_less_falls(order) for order in permutations(values)]
        expected = sum(other >= s for other in found) / len(found)
        assert exact_p_at_least(s, ties(values)) == pytest.approx(expected, rel=1e-12)

    def test_a_fall_in_pairs_of_eight(self):
        """6 6 5 5 4 4 3 3: one order of 2520 falls so far, as many rise so far."""
        found = trend(range(8), [6, 6, 5, 5, 4, 4, 3, 3])
        assert found.s == -24
        assert found.variance == pytest.approx(61.3333, abs=1e-4)
        assert found.z == pytest.approx(-2.936835, abs=1e-6)
        assert found.p_normal == pytest.approx(0.003316, abs=1e-6)
        assert found.p_exact == pytest.approx(2 / 2520, rel=1e-12)
        assert found.slope == -0.5
        assert found.shows is Shown.FALLING

    def test_is_known_up_to_ten_points_of_different_times(self):
        assert trend(range(10), range(10)).p_exact == pytest.approx(2 / math.factorial(10))
        assert trend(range(11), range(11)).p_exact is None
        assert trend([1, 1, 2, 3, 4], [1, 2, 3, 4, 5]).p_exact is None
        assert trend(range(11), range(11)).p == trend(range(11), range(11)).p_normal
        assert trend(range(10), range(10)).p == trend(range(10), range(10)).p_exact


class TestShown:
    def test_five_is_the_fewest_that_can_show_a_trend(self):
        assert trend(range(4), [0, 3, 6, 9]).shows is Shown.TOO_FEW
        assert trend(range(5), [0, 2, 4, 6, 9]).shows is Shown.RISING
        assert trend(range(5), [9, 6, 4, 2, 0]).shows is Shown.FALLING
        assert trend(range(5), [9, 0, 4, 2, 6]).shows is Shown.NONE

    def test_a_stricter_confidence_needs_more_points(self):
        assert trend(range(5), range(5), confidence=0.99).shows is Shown.TOO_FEW
        assert trend(range(6), range(6), confidence=0.99).shows is Shown.RISING
        assert trend(range(4), range(4), confidence=0.9).shows is Shown.RISING

    def test_ties_that_leave_no_order_a_chance_are_too_few(self):
        """One value of its own in twenty-one: its being last has a two-sided p of 2/21."""
        assert trend(range(5), [0, 0, 0, 0, 9]).shows is Shown.TOO_FEW
        assert trend(range(21), [0] * 20 + [9]).shows is Shown.TOO_FEW
        assert trend(range(40), [0] * 39 + [9]).shows is Shown.NONE

    def test_all_equal_is_no_trend_rather_than_too_few(self):
        flat = trend(range(7), [3] * 7)
        assert (flat.s, flat.slope, flat.p, flat.z) == (0, 0, 1, 0)
        assert flat.shows is Shown.NONE
        assert flat.tau_b is None
        assert trend(range(4), [3] * 4).shows is Shown.TOO_FEW

    @pytest.mark.parametrize("n", [0, 1, 2])
    def test_next_to_nothing_is_too_few(self, n):
        found = trend(range(n), range(n))
        assert found.shows is Shown.TOO_FEW
        assert found.points == n
        assert found.slope == (1 if n == 2 else None)
        assert (found.lower, found.upper) == (None, None)
        assert found.p == 1

    def test_p_at_the_limit_shows_a_trend(self):
        """At most 1 - confidence, that p included."""
        values = [0, 1, 2, 3, 4]
        p = trend(range(5), values).p
        assert trend(range(5), values, confidence=1 - p).shows is Shown.RISING


class TestSlope:
    def test_is_the_median_of_all_pairs_of_different_times(self):
        times, values = [1, 2, 2, 4], [0, 1, 5, 3]
        slopes = [1, 5, 1, 1, -1]  # the two at time 2 have none between them
        found = trend(times, values)
        assert found.slope == median(slopes)
        assert found.intercept == median(values) - found.slope * median(times)
        assert found.s == 4 - 1

    def test_an_even_number_of_slopes_takes_the_mean_of_the_middle_two(self):
        assert trend([0, 1, 2, 3], [0, 1, 3, 9]).slope == pytest.approx((2 + 3) / 2)

    def test_points_of_one_time_have_no_slope(self):
        found = trend([2, 2, 2], [1, 2, 3])
        assert (found.slope, found.intercept, found.s, found.tau_b) == (None, None, 0, None)
        typed = trend([float("2"), float("2"), 3.0], [1, 5, 3])
        assert (typed.s, typed.slope) == (0, 0)

    def test_too_few_points_bound_nothing(self):
        """Of five points' ten slopes, the ranks at 95 % lie just outside: 0.999 and 10.001."""
        assert trend(range(5), [0, 1, 2, 3, 5]).lower is None
        tied = trend(range(5), [0, 0, 1, 2, 3])
        rank = (10 - NormalDist().inv_cdf(0.975) * math.sqrt(tied.variance)) / 2
        assert 1 < rank < 2
        assert tied.lower == pytest.approx((rank - 1) * 0.5)  # between the slopes 0 and 0.5
        bounded = trend(range(6), [0, 1, 2, 3, 5, 6])
        assert bounded.lower <= bounded.slope <= bounded.upper

    def test_the_order_of_the_points_does_not_matter(self):
        times, values = [3, 1, 2, 5, 4, 6], [4, 1, 2, 9, 3, 4]
        pairs = sorted(zip(times, values, strict=True))
        assert trend(times, values) == trend(*map(list, zip(*pairs, strict=True)))


scores = st.lists(st.integers(0, 20).map(lambda half: half / 2), min_size=2, max_size=40)


@given(scores, st.data())
@settings(max_examples=80, deadline=None)
def test_arrays_and_the_plain_loop_agree(values, data):
    times = data.draw(st.lists(st.integers(0, 60), min_size=len(values), max_size=len(values)))
    results = []
    for plain_to in (0, 1000):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(logs.trend, "_PLAIN_TO", plain_to)
            results.append(trend(times, values))
    assert results[0] == results[1]


@given(scores, st.integers(1, 9), st.integers(-20, 20))
@settings(max_examples=60, deadline=None)
def test_stretching_time_and_shifting_scores_do_what_they_must(values, stretch, shift):
    times = list(range(len(values)))
    plain = trend(times, values)
    stretched = trend([t * stretch for t in times], [v + shift for v in values])
    assert stretched.s == plain.s
    assert stretched.p == plain.p
    assert stretched.shows is plain.shows
    assert stretched.slope == pytest.approx(plain.slope / stretch)


@given(scores)
@settings(max_examples=60, deadline=None)
def test_time_turned_round_turns_the_trend_round(values):
    times = list(range(len(values)))
    forth, back = trend(times, values), trend(times, values[::-1])
    assert (back.s, back.z) == (-forth.s, -forth.z)
    assert back.slope == -forth.slope
    assert (back.p_normal, back.p_exact) == (forth.p_normal, forth.p_exact)
    if forth.lower is not None:
        assert back.upper == pytest.approx(-forth.lower, abs=1e-12)
        assert forth.lower <= forth.slope <= forth.upper


class TestRefusals:
    def test_lengths_that_differ(self):
        with pytest.raises(ValueError, match="2 times do not go with 1 values"):
            trend([1, 2], [1])

    @pytest.mark.parametrize("bad", [math.nan, math.inf])
    def test_numbers_that_are_none(self, bad):
        with pytest.raises(ValueError, match="finite numbers"):
            trend([1, 2], [1, bad])
        with pytest.raises(ValueError, match="finite numbers"):
            trend([1, bad], [1, 2])

    @pytest.mark.parametrize("confidence", [0, 1, 95, -0.5])
    def test_a_confidence_that_is_none(self, confidence):
        with pytest.raises(ValueError, match="lies between 0 and 1"):
            trend([1, 2], [1, 2], confidence=confidence)


@pytest.mark.parametrize(
    ("times", "values"),
    [
        ([1, 2, 3, 4, 5], [1, 2, 3, 4, 5]),
        ([1, 2, 3, 4, 5], [0, 0, 0, 7, 7]),
        ([1, 1, 1, 2, 2, 3], [4, 4, 4, 4, 6, 6]),
        ([1, 1, 1, 1, 2], [4, 4, 4, 6, 6]),
        ([2, 2, 2], [1, 1, 1]),
    ],
)
def test_variance_is_that_of_s_over_every_order_of_the_values(times, values):
    found = [
        sum(
            ((t2 > t1) - (t2 < t1)) * ((y2 > y1) - (y2 < y1))
            for (t1, y1), (t2, y2) in combinations(zip(times, order, strict=True), 2)
        )
        for order in permutations(values)
    ]
    assert trend(times, values).variance == pytest.approx(pvariance(found), rel=1e-12, abs=1e-12)


def test_variance_of_nothing_is_nothing():
    assert trend([], []).variance == 0
    assert trend([1], [1]).variance == 0
    assert trend([1, 2], [1, 1]).variance == 0
