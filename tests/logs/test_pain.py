import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logs.pain import (
    NO_CHANGE_KNOWN,
    ImportantDifference,
    Named,
    PainLimits,
    PainReport,
    Series,
    Verdict,
    Zone,
    change_since,
    named_lines,
    pain_change,
    pain_days,
    pain_trend,
)
from logs.trend import Shown
from tests.plans.building import day, window


def report(day_number, *, entry=None, **scores):
    return PainReport(entry or f"entry {day_number} {scores}", day(day_number), **scores)


def one_day(*scores):
    (found,) = pain_days(
        [report(1, entry=str(n), **given_scores) for n, given_scores in enumerate(scores)],
        window(1, 1),
    )
    return found


def days(worst):
    """Days from the first with these worst scores; None is a day without an answer."""
    return pain_days([report(n, worst=w) for n, w in enumerate(worst, start=1)], window(1, 200))


class TestScores:
    @pytest.mark.parametrize("score", [0, 10])
    def test_whole_numbers_from_0_to_10(self, score):
        assert report(1, worst=score).worst == score

    @pytest.mark.parametrize("bad", [11, -1, 3.5, 3.0, True, "3"])
    @pytest.mark.parametrize("series", list(Series))
    def test_anything_else_is_refused(self, series, bad):
        with pytest.raises(ValueError, match=f"pain {series} is a whole number from 0 to 10"):
            report(1, **{series.value: bad})

    def test_zero_is_a_value_and_blank_is_not(self):
        found = one_day({"worst": 0}, {"worst": None})
        assert found.scores(Series.WORST) == (0,)
        assert (found.highest(Series.WORST), found.median(Series.WORST)) == (0, 0)
        blank = one_day({})
        assert blank.highest(Series.WORST) is None
        assert blank.median(Series.WORST) is None
        assert blank.peak is None

    def test_series_are_kept_apart(self):
        found = one_day({"before": 1, "worst": 2, "after": 3, "next_morning": 4})
        assert [found.highest(series) for series in Series] == [1, 2, 3, 4]

    def test_the_day_has_its_highest_and_its_median(self):
        found = one_day({"worst": 2}, {"worst": 7}, {"worst": 3})
        assert (found.highest(Series.WORST), found.median(Series.WORST)) == (7, 3)


class TestDays:
    def test_those_of_the_window_in_order(self):
        reports = [report(n, worst=1) for n in (5, 2, 9, 1)]
        assert [d.day for d in pain_days(reports, window(2, 8))] == [day(2), day(5)]

    def test_the_order_of_reports_changes_nothing(self):
        reports = [report(1, entry="x", worst=1), report(1, entry="y", worst=2)]
        assert pain_days(reports, window(1, 1)) == pain_days(reports[::-1], window(1, 1))


class TestZones:
    @pytest.mark.parametrize(
        ("score", "zone"),
        [
            (0, Zone.SAFE),
            (2, Zone.SAFE),
            (3, Zone.ACCEPTABLE),
            (5, Zone.ACCEPTABLE),
            (6, Zone.HIGH),
            (10, Zone.HIGH),
            (None, None),
        ],
    )
    def test_usual_limits(self, score, zone):
        assert PainLimits().zone_of(score) is zone
        assert one_day({"worst": score}).zone() is zone

    def test_are_in_order_and_have_a_word(self):
        assert sorted(Zone) == [Zone.SAFE, Zone.ACCEPTABLE, Zone.HIGH]
        assert [zone.label for zone in Zone] == ["safe", "acceptable", "high"]

    def test_limits_are_the_clinics(self):
        strict = PainLimits(safe_to=0, acceptable_to=2)
        assert [strict.zone_of(s) for s in (0, 1, 2, 3)] == [
            Zone.SAFE,
            Zone.ACCEPTABLE,
            Zone.ACCEPTABLE,
            Zone.HIGH,
        ]
        assert one_day({"worst": 3}).zone(strict) is Zone.HIGH

    def test_the_highest_of_during_and_after_decides(self):
        assert one_day({"worst": 2, "after": 6}, {"worst": 1}).zone() is Zone.HIGH
        assert one_day({"worst": 4, "after": 1}).peak == 4
        assert one_day({"before": 9, "next_morning": 9}).zone() is None

    @pytest.mark.parametrize(
        "limits",
        [
            {"safe_to": -1},
            {"safe_to": 6},
            {"acceptable_to": 11},
            {"settled_within": -1},
        ],
    )
    def test_limits_out_of_order_are_refused(self, limits):
        with pytest.raises(ValueError, match="zones end in order"):
            PainLimits(**limits)

    def test_limits_may_meet(self):
        assert PainLimits(safe_to=10, acceptable_to=10).zone_of(10) is Zone.SAFE
        assert PainLimits(safe_to=0, acceptable_to=0).zone_of(1) is Zone.HIGH

    def test_days_above_the_limit_of_the_version(self):
        some = days([2, 3, None, 5])
        assert [d.day for d in some if d.is_above(2)] == [day(2), day(4)]
        assert not any(d.is_above(5) for d in some)


class TestSettling:
    @pytest.mark.parametrize(
        ("before", "morning", "settled"),
        [
            (2, 2, True),
            (2, 1, True),
            (2, 3, False),
            (0, 0, True),
            (0, 1, False),
            (2, None, None),
            (None, 2, None),
        ],
    )
    def test_is_the_next_morning_against_before(self, before, morning, settled):
        assert one_day({"before": before, "next_morning": morning}).has_settled() is settled

    def test_a_later_session_does_not_raise_the_starting_point(self):
        found = one_day({"before": 1}, {"before": 4, "next_morning": 3})
        assert found.has_settled() is False

    def test_the_highest_morning_counts(self):
        found = one_day({"before": 2, "next_morning": 1}, {"before": 2, "next_morning": 3})
        assert found.has_settled() is False

    def test_the_clinic_may_allow_a_margin(self):
        margin = PainLimits(settled_within=1)
        assert one_day({"before": 2, "next_morning": 3}).has_settled(margin) is True
        assert one_day({"before": 2, "next_morning": 4}).has_settled(margin) is False
        assert one_day({"before": 1, "next_morning": 2}).has_settled(margin) is True


class TestChange:
    @pytest.mark.parametrize(
        ("start", "present", "verdict"),
        [
            (6, 4, Verdict.IMPROVED),
            (9, 3, Verdict.IMPROVED),
            (8, 6, Verdict.POSSIBLE),  # 2 points, but only 25 %
            (10, 7.02, Verdict.POSSIBLE),  # 29.8 %
            (1, 0, Verdict.POSSIBLE),
            (3, 2, Verdict.POSSIBLE),  # a third, but only 1 point
            (5, 3.5, Verdict.POSSIBLE),  # 30 % exactly
            (5, 4, Verdict.UNCHANGED),
            (4, 4, Verdict.UNCHANGED),
            (4, 5.5, Verdict.UNCHANGED),
            (4, 6, Verdict.WORSE),
            (4, 7.5, Verdict.WORSE),
            (0, 0, Verdict.UNCHANGED),
            (0, 2, Verdict.WORSE),
            (None, 2, Verdict.NOT_KNOWN),
            (2, None, Verdict.NOT_KNOWN),
        ],
    )
    def test_verdicts(self, start, present, verdict):
        assert pain_change(start, present).verdict is verdict

    def test_says_points_and_per_cent_of_the_start(self):
        change = pain_change(6, 4)
        assert (change.points, change.percent) == (-2, pytest.approx(-33.333, abs=0.001))
        assert pain_change(4, 6).percent == 50

    def test_from_zero_there_are_points_only(self):
        change = pain_change(0, 3)
        assert (change.points, change.percent) == (3, None)

    def test_what_is_not_known_has_neither(self):
        change = pain_change(None, 3)
        assert (change.points, change.percent, change.present) == (None, None, 3)

    def test_a_source_without_per_cent_goes_by_points_alone(self):
        points_only = ImportantDifference(1.5, None, "example")
        assert pain_change(8, 6.5, points_only).verdict is Verdict.IMPROVED
        assert pain_change(8, 7, points_only).verdict is Verdict.UNCHANGED

    def test_since_a_version_began(self):
        """Days 1 to 7 against 8 to 14, each by the median of its days' highest."""
        some = days([9, 6, 6, 6, 6, 6, 0, 4, 4, 4, 4, 9, 9, 3])
        change = change_since(day(1), some, Series.WORST, last_day=day(14))
        assert (change.start, change.present) == (6, 4)
        assert change.verdict is Verdict.IMPROVED

    def test_days_between_the_ends_do_not_count(self):
        some = days([6] * 7 + [10] * 5 + [4] * 7)
        change = change_since(day(1), some, Series.WORST, last_day=day(19))
        assert (change.start, change.present) == (6, 4)

    def test_is_not_known_while_the_ends_would_overlap(self):
        some = days([6] * 20)
        for n in (1, 10, 13):
            assert change_since(day(1), some, Series.WORST, last_day=day(n)) == NO_CHANGE_KNOWN
        known = change_since(day(1), some, Series.WORST, last_day=day(14))
        assert known.verdict is Verdict.UNCHANGED

    def test_each_end_needs_three_days(self):
        two, three = [6, 6] + [None] * 5, [6, 6, 6] + [None] * 4
        ends = {"last_day": day(14)}
        assert change_since(day(1), days(three + three), Series.WORST, **ends).points == 0
        few = change_since(day(1), days(two + three), Series.WORST, **ends)
        assert (few.start, few.present, few.verdict) == (None, 6, Verdict.NOT_KNOWN)
        few = change_since(day(1), days(three + two), Series.WORST, **ends)
        assert (few.start, few.present, few.verdict) == (6, None, Verdict.NOT_KNOWN)

    def test_uses_the_days_highest(self):
        some = pain_days(
            [
                report(n, entry=f"{n}{score}", worst=score)
                for n in range(1, 15)
                for score in ((1, 8) if n < 8 else (1, 2))
            ],
            window(1, 14),
        )
        change = change_since(day(1), some, Series.WORST, last_day=day(14))
        assert (change.start, change.present) == (8, 2)


class TestTrend:
    def test_is_by_week_over_the_medians(self):
        some = pain_days(
            [
                report(n, entry=f"{n} {score}", worst=score)
                for n in range(1, 7)
                for score in (n, n, 10)
            ],
            window(1, 6),
        )
        found = pain_trend(some, Series.WORST)
        assert found.per_week == pytest.approx(7)
        assert found.days == tuple((day(n), n) for n in range(1, 7))
        assert found.shows is Shown.RISING

    def test_blank_days_are_no_points(self):
        found = pain_trend(days([5, None, 4, None, None, 3, 2]), Series.WORST)
        assert found.statistics.points == 4
        assert found.shows is Shown.TOO_FEW

    def test_gaps_keep_their_length(self):
        found = pain_trend(days([0, None, None, None, None, None, None, 7]), Series.WORST)
        assert found.per_week == pytest.approx(7)

    def test_limits_are_by_week_too(self):
        found = pain_trend(days([1, 2, 2, 3, 3, 4, 5, 5]), Series.WORST)
        assert found.lower_per_week == pytest.approx(7 * found.statistics.lower)
        assert found.upper_per_week == pytest.approx(7 * found.statistics.upper)
        assert found.lower_per_week <= found.per_week <= found.upper_per_week

    def test_of_nothing_there_is_none(self):
        for nothing in ((), days([None, None])):
            found = pain_trend(nothing, Series.WORST)
            assert found.per_week is None
            assert found.shows is Shown.TOO_FEW
            assert found.days == ()

    def test_a_series_without_answers_has_none_whatever_the_others_say(self):
        assert pain_trend(days([1, 2, 3, 4, 5, 6]), Series.AFTER).statistics.points == 0

    def test_takes_the_confidence_it_is_given(self):
        five = days([1, 2, 3, 4, 5])
        assert pain_trend(five, Series.WORST).shows is Shown.RISING
        assert pain_trend(five, Series.WORST, confidence=0.99).shows is Shown.TOO_FEW


class TestNamed:
    def test_counts_each_line_and_its_highest(self):
        some = pain_days(
            [
                report(1, worst=3, after=5, named=("a", "b")),
                report(2, worst=6, named=("b",)),
                report(3, named=("c",)),
                report(4, worst=9),
            ],
            window(1, 9),
        )
        found = named_lines(some)
        assert list(found.items()) == [
            ("b", Named(2, 6)),
            ("a", Named(1, 5)),
            ("c", Named(1, None)),
        ]


answers = st.none() | st.integers(0, 10)


@given(st.lists(st.tuples(st.integers(1, 20), answers, answers, answers, answers), max_size=30))
@settings(max_examples=60, deadline=None)
def test_no_figure_comes_from_blanks(rows):
    reports = [
        report(n, entry=str(i), before=b, worst=w, after=a, next_morning=m)
        for i, (n, b, w, a, m) in enumerate(rows)
    ]
    for found in pain_days(reports, window(1, 20)):
        of_day = [r for r in reports if r.day == found.day]
        told = [s for r in of_day for s in (r.worst, r.after) if s is not None]
        assert (found.zone() is None) == (not told)
        assert found.peak == (max(told) if told else None)
        befores = [r.before for r in of_day if r.before is not None]
        mornings = [r.next_morning for r in of_day if r.next_morning is not None]
        assert (found.has_settled() is None) == (not befores or not mornings)
    for series in Series:
        counted = pain_trend(pain_days(reports, window(1, 20)), series)
        assert counted.statistics.points == len(
            {r.day for r in reports if getattr(r, series) is not None}
        )
