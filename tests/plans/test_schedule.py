from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from patients.motions import Joint
from plans.schedule import (
    Occasion,
    PauseSpan,
    Version,
    Window,
    iso_week,
    occasions,
    version_on,
)
from tests.plans.building import EVERY_DAY, day, line, version, window


def numbers(found):
    """How many occasions there are on each day that has any."""
    counted = {}
    for occasion in found:
        counted[occasion.day] = counted.get(occasion.day, 0) + 1
    return counted


class TestWindow:
    def test_includes_both_ends(self):
        assert window(1, 3).days() == (day(1), day(2), day(3))
        assert window(2, 2).days() == (day(2),)
        assert day(1) in window(1, 3)
        assert day(3) in window(1, 3)
        assert day(4) not in window(1, 3)
        assert day(0) not in window(1, 3)

    def test_refuses_to_end_before_it_begins(self):
        with pytest.raises(ValueError, match="from 2026-03-03 cannot end on 2026-03-02"):
            Window(day(2), day(1))

    def test_until_cuts_off_later_days(self):
        assert window(1, 9).until(day(4)) == window(1, 4)
        assert window(1, 9).until(day(9)) == window(1, 9)
        assert window(1, 9).until(day(12)) == window(1, 9)
        assert window(2, 9).until(day(2)) == window(2, 2)
        assert window(2, 9).until(day(1)) is None


class TestLine:
    def test_prescribes_the_low_end_and_allows_the_top(self):
        dose = line(sets=3, amount_low=8, amount_high=12, sessions_per_day=2)
        assert dose.prescribed_per_occasion == 24
        assert dose.most_per_day == 72

    def test_counts_a_joint_once_and_not_as_loaded_when_it_moves(self):
        wide = line(
            moves=("shoulder_flexion", "shoulder_external_rotation", "elbow_extension"),
            loads=("shoulder", "wrist"),
        )
        assert wide.joints_moved == (Joint.SHOULDER, Joint.ELBOW)
        assert wide.joints_only_loaded == (Joint.WRIST,)


class TestVersionInForce:
    def test_the_highest_numbered_that_has_taken_effect(self):
        versions = [version(2, day(5), line()), version(1, day(2), line())]
        assert version_on(versions, day(1)) is None
        assert version_on(versions, day(2)).number == 1
        assert version_on(versions, day(4)).number == 1
        assert version_on(versions, day(5)).number == 2

    def test_a_later_version_taking_effect_earlier_hides_the_one_before(self):
        versions = [version(1, day(5), line()), version(2, day(3), line())]
        assert version_on(versions, day(3)).number == 2
        assert version_on(versions, day(6)).number == 2

    def test_a_signed_version_waits_for_its_signature(self):
        signed = Version(2, day(3), (line(),), in_force_from=day(5))
        versions = [version(1, day(1), line()), signed]
        assert version_on(versions, day(4)).number == 1
        assert version_on(versions, day(5)).number == 2

    def test_a_signature_before_the_effective_day_brings_nothing_forward(self):
        assert Version(2, day(3), (line(),), in_force_from=day(1)).first_day == day(3)


class TestOccasions:
    def test_as_many_as_the_largest_sessions_a_day_among_the_lines_due(self):
        plan = version(
            1,
            day(1),
            line("often", sessions_per_day=3, weekdays=frozenset({0})),
            line("rare", sessions_per_day=1, weekdays=frozenset({0, 1})),
        )
        assert occasions([plan], [], window(1, 3)) == (
            Occasion(day(1), 1, 1, ("often", "rare")),
            Occasion(day(1), 2, 1, ("often",)),
            Occasion(day(1), 3, 1, ("often",)),
            Occasion(day(2), 1, 1, ("rare",)),
        )

    def test_a_version_without_lines_ends_the_plan(self):
        found = occasions([version(1, day(1), line()), version(2, day(3))], [], window(1, 5))
        assert numbers(found) == {day(1): 2, day(2): 2}

    def test_nothing_is_due_before_the_first_version(self):
        assert set(numbers(occasions([version(1, day(3), line())], [], window(1, 4)))) == {
            day(3),
            day(4),
        }

    def test_pauses_take_out_both_their_ends(self):
        plan = [version(1, day(1), line())]
        found = occasions(plan, [PauseSpan(day(2), day(3))], window(1, 4))
        assert set(numbers(found)) == {day(1), day(4)}

    def test_an_open_pause_takes_out_all_that_follows(self):
        found = occasions([version(1, day(1), line())], [PauseSpan(day(2))], window(1, 9))
        assert set(numbers(found)) == {day(1)}

    def test_a_change_of_version_changes_the_occasions_from_its_day(self):
        versions = [
            version(1, day(1), line(sessions_per_day=1)),
            version(2, day(2), line(sessions_per_day=3), line("b", sessions_per_day=2)),
        ]
        found = occasions(versions, [], window(1, 2))
        assert numbers(found) == {day(1): 1, day(2): 3}
        assert [o.line_keys for o in found if o.version == 2] == [("a", "b"), ("a", "b"), ("a",)]

    @pytest.mark.parametrize("zone", ["Europe/Berlin", "America/New_York", "Australia/Lord_Howe"])
    @pytest.mark.parametrize("month", [3, 4, 10, 11])
    def test_every_local_day_across_a_clock_change_has_its_occasions_once(self, zone, month):
        """Half-hour instants of the month, as local days: 23-, 24- and 25-hour days alike."""
        place = ZoneInfo(zone)
        first = datetime(2026, month, 2, tzinfo=UTC)
        local_days = {
            (first + timedelta(minutes=30 * step)).astimezone(place).date()
            for step in range(48 * 26)
        }
        span = Window(min(local_days), max(local_days))
        found = occasions([version(1, span.first_day, line())], [], span)
        assert numbers(found) == dict.fromkeys(local_days, 2)


def test_a_pause_recorded_after_it_began_is_back_dated():
    assert PauseSpan(day(1), day(5), recorded_day=day(3)).is_back_dated
    assert not PauseSpan(day(3), day(5), recorded_day=day(3)).is_back_dated
    assert not PauseSpan(day(3), day(5), recorded_day=day(1)).is_back_dated
    assert not PauseSpan(day(3), day(5)).is_back_dated


@given(st.dates(date(1950, 1, 1), date(2150, 12, 31)))
def test_iso_weeks_agree_with_the_standard_library(any_day):
    assert iso_week(any_day) == any_day.strftime("%G-W%V")


lines = st.lists(
    st.builds(
        lambda weekdays, sessions_per_day: (frozenset(weekdays), sessions_per_day),
        st.sets(st.integers(0, 6)),
        st.integers(1, 4),
    ),
    max_size=4,
)


@given(
    shapes=st.lists(
        st.tuples(st.integers(0, 40), st.none() | st.integers(0, 40), lines), max_size=4
    ),
    pauses=st.lists(st.tuples(st.integers(0, 40), st.none() | st.integers(0, 10)), max_size=2),
    cut=st.integers(0, 39),
)
@settings(max_examples=60, deadline=None)
def test_a_split_window_has_the_occasions_of_the_whole(shapes, pauses, cut):
    versions = [
        Version(
            number,
            day(effective),
            tuple(
                line(str(n), weekdays=weekdays, sessions_per_day=often)
                for n, (weekdays, often) in enumerate(made)
            ),
            day(signed) if signed is not None else None,
        )
        for number, (effective, signed, made) in enumerate(shapes, start=1)
    ]
    spans = [PauseSpan(day(a), None if b is None else day(a + b)) for a, b in pauses]
    whole = occasions(versions, spans, window(0, 40))
    parts = occasions(versions, spans, window(0, cut)) + occasions(
        versions, spans, window(cut + 1, 40)
    )
    assert whole == parts
    assert list(whole) == sorted(whole)
    assert not {o.day for o in whole} & {d for d in window(0, 40).days() for s in spans if d in s}
    for occasion in whole:
        due = version_on(versions, occasion.day)
        assert occasion.version == due.number
        assert occasion.line_keys == tuple(
            x.key
            for x in due.lines
            if occasion.day.weekday() in x.weekdays and occasion.number <= x.sessions_per_day
        )
        assert occasion.line_keys


def test_every_day_means_every_day():
    found = occasions([version(1, day(1), line(weekdays=EVERY_DAY))], [], window(1, 14))
    assert len(numbers(found)) == 14
