"""Doses in words, the minutes a plan asks, and what changed between versions."""

from dataclasses import replace

import pytest

from plans.changes import ComparedLine, is_reordered, line_changes
from plans.dose import LineDose, dose_gaps, plan_time, weekday_words
from plans.schedule import Unit

DOSE = LineDose(
    unit=Unit.REPETITIONS,
    sets=2,
    amount_low=8,
    amount_high=10,
    hold_s=5,
    pace_s=4.0,
    rest_s=60,
    load_g=0,
    load_means="",
    sessions_per_day=2,
    weekdays=frozenset(range(7)),
    position="sitting",
)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "2 × 8–10, hold 5 s, 4 s each, rest 60 s, twice a day, every day"),
        (
            {"amount_high": 8, "hold_s": 0, "sets": 1, "sessions_per_day": 1},
            "1 × 8, 4 s each, once a day, every day",
        ),
        (
            {"unit": Unit.SECONDS, "hold_s": 0, "pace_s": 0.0, "rest_s": 0},
            "2 × 8–10 s, twice a day, every day",
        ),
        (
            {"unit": Unit.MINUTES, "sets": 1, "hold_s": 0, "pace_s": 0.0, "sessions_per_day": 3},
            "1 × 8–10 min, 3 times a day, every day",
        ),
    ],
)
def test_a_dose_reads_as_the_trade_writes_it(changes, words):
    assert replace(DOSE, **changes).words == words


@pytest.mark.parametrize(
    ("load_g", "means", "words"),
    [
        (0, "", ""),
        (0, "band", "elastic band"),
        (1500, "held", "1.5 kg held in the hand"),
        (20000, "cuff", "20 kg on a cuff"),
    ],
)
def test_a_load_names_its_means(load_g, means, words):
    assert replace(DOSE, load_g=load_g, load_means=means).load == words


@pytest.mark.parametrize(
    ("days", "words"),
    [
        (range(7), "every day"),
        (range(5), "Mon–Fri"),
        ((5, 6), "Sat Sun"),
        ((0, 1, 3), "Mon Tue Thu"),
    ],
)
def test_days_of_the_week(days, words):
    assert weekday_words(frozenset(days)) == words


def test_the_minutes_by_hand():
    # 2 sets of 8 to 10, each 4 s and held 5 s, with one rest of 60 s between: 204 to 240 s.
    # Twice a day on seven days: 14 × 204 = 2856 s (47.6 min) to 14 × 240 = 3360 s (56 min).
    time = plan_time([DOSE])
    assert (time.session_low_s, time.session_high_s) == (204, 240)
    assert (time.week_low_s, time.week_high_s) == (2856, 3360)
    assert (time.session, time.week) == ("4 min", "48–56 min")


def test_the_longest_session_counts_and_changes_of_position_take_time():
    once = replace(DOSE, sessions_per_day=1, weekdays=frozenset({0}), position="lying_back")
    time = plan_time([DOSE, once])
    # Monday's first session has both, and lying down between them (60 s): 204 + 60 + 204.
    assert time.session_low_s == 468
    assert time.week_low_s == 2856 + 264


def test_no_lines_ask_nothing():
    assert plan_time([]).week_high_s == 0


def test_what_a_line_lacks():
    held = {"load_means": "held", "load_g": 0}
    assert dose_gaps(**held, by_helper=False, helper_named=False) == ("choose the weight",)
    assert dose_gaps(**held | {"load_g": 500}, by_helper=True, helper_named=True) == ()
    band = {"load_means": "band", "load_g": 0}
    assert dose_gaps(**band, by_helper=True, helper_named=False) == ("name the helper",)


def compared(key, sets="2 × 8–10", hold=""):
    return ComparedLine(key, key.upper(), (("sets and range", sets), ("hold", hold)))


def test_added_changed_and_taken_out():
    before = [compared("a"), compared("b"), compared("c")]
    after = [compared("b", hold="hold 5 s"), compared("d"), compared("a")]
    found = line_changes(before, after)
    assert [(change.kind.value, change.title) for change in found] == [
        ("changed", "B"),
        ("added", "D"),
        ("taken out", "C"),
    ]
    assert [(f.label, f.before, f.after) for f in found[0].facts] == [("hold", "", "hold 5 s")]
    assert is_reordered(before, after)


def test_equal_versions_differ_in_nothing():
    lines = [compared("a"), compared("b")]
    assert line_changes(lines, lines) == ()
    assert not is_reordered(lines, [*lines, compared("c")])


def test_a_line_takes_its_pace_or_the_exercises_own_its_holds_and_its_rests():
    line = replace(DOSE, sets=2, pace_s=4, hold_s=5, rest_s=30, own_pace_s=6)
    assert line.seconds(10) == 2 * 10 * (4 + 5) + 30
    assert replace(line, pace_s=0).seconds(10) == 2 * 10 * (6 + 5) + 30
