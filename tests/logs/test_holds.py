"""What stop signs hold: by cases worked by hand, and by what must be so of any."""

from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from logs.adherence import dose_adherence, session_adherence
from logs.holds import AFTER_ALL, Hold, held_numbers
from plans.schedule import occasions
from tests.logs.building import done, session
from tests.plans.building import day, line, version, window

SPAN = window(1, 14)
PLAN = [version(1, day(1), line(), line("b", sessions_per_day=3, weekdays=frozenset({1, 4})))]
EVERY_DAY = SPAN.days()
DUE = occasions(PLAN, (), SPAN)


def hold(first=3, number=1, end=None, end_number=1):
    return Hold(day(first), number, None if end is None else day(end), end_number)


def held(*holds, sessions=()):
    asked = [(one.day, one.number) for one in (*DUE, *sessions)]
    return held_numbers(holds, asked)


def numbers_on(found, number):
    return sorted(n for d, n in found if d == day(number))


def counted(count=session_adherence, *, holds=(), sessions=(), heard=EVERY_DAY, **changes):
    given = {
        "versions": PLAN,
        "occasions": DUE,
        "sessions": sessions,
        "held": held(*holds, sessions=sessions),
        "heard": heard,
        "window": SPAN,
        "today": day(15),
    }
    return count(**given | changes)


def test_an_open_hold_holds_from_its_occasion_on_without_end():
    found = held(hold(3, 2))
    assert numbers_on(found, 2) == []
    assert numbers_on(found, 3) == [2]
    assert all(numbers_on(found, n) for n in range(4, 15))


def test_it_ends_before_the_occasion_that_is_due_again():
    found = held(hold(3, 1, end=5, end_number=2))
    assert [numbers_on(found, n) for n in (3, 4, 5, 6)] == [[1, 2], [1, 2], [1], []]


def test_a_sign_after_the_last_session_holds_from_the_next_day():
    found = held(hold(3, AFTER_ALL))
    assert [numbers_on(found, n) for n in (3, 4)] == [[], [1, 2]]


def test_one_answered_for_the_occasion_it_began_with_holds_nothing():
    assert held(hold(3, 2, end=3, end_number=2)) == frozenset()


def test_two_signs_hold_what_either_does():
    one, other = hold(3, 2, end=6), hold(5, 1, end=9)
    assert held(one, other) == held(one) | held(other)
    assert [numbers_on(held(one, other), n) for n in (8, 9)] == [[1, 2], []]


def test_a_session_on_a_held_number_that_no_plan_has_is_extra_too():
    sessions = [session(3, 3)]
    with_hold = counted(holds=[hold(3, 2, end=4)], sessions=sessions)
    assert (with_hold.done, with_hold.extra) == (0, 1)


@pytest.mark.parametrize(
    ("one", "partial"),
    [
        (hold(3, 1), [False, False]),
        (hold(3, 2), [True, False]),
        (hold(3, 1, end=5, end_number=1), [False, False]),
        (hold(3, 1, end=5, end_number=2), [False, True]),
    ],
)
def test_which_days_are_held_in_part(one, partial):
    assert [one.is_partial_on(day(3)), one.is_partial_on(day(5))] == partial
    assert not one.is_partial_on(day(4))


def test_a_hold_can_lower_a_percentage_only_by_what_was_done_on_it():
    """Of two sessions the first was missed and the second, which is held, was done: it is extra."""
    on_it = [session(1, 2)]
    window_of_one = {"window": window(1, 1), "occasions": occasions(PLAN, (), window(1, 1))}
    without = counted(sessions=on_it, **window_of_one)
    with_it = counted(sessions=on_it, holds=[hold(1, 2)], **window_of_one)
    assert (without.done, without.due, without.percent) == (1, 2, 50)
    assert (with_it.done, with_it.due, with_it.extra, with_it.percent) == (0, 1, 1, 0)


def _hold(first, number, length, end_number):
    end = None if length is None else first + length
    if end == first:
        end_number = max(number, end_number)
    return hold(first, number, end, end_number)


holds = st.lists(
    st.builds(
        _hold,
        st.integers(1, 14),
        st.integers(1, AFTER_ALL),
        st.none() | st.integers(0, 6),
        st.integers(1, 3),
    ),
    max_size=3,
)
sessions = st.lists(
    st.tuples(st.integers(1, 14), st.integers(1, 4), st.sampled_from([0, 5, 8, 20])),
    max_size=20,
    unique_by=lambda told: told[:2],
).map(lambda told: [session(n, number, done("a", amount)) for n, number, amount in told])
heard = st.sets(st.sampled_from(SPAN.days()))


def untouched(found, told):
    """The sessions that were done on nothing held."""
    return [one for one in told if (one.day, one.number) not in held(*found, sessions=told)]


@given(holds, sessions, heard)
@settings(max_examples=150, deadline=None)
def test_held_and_due_are_what_is_due_without_a_hold(found, told, heard):
    without = counted(sessions=told, heard=heard)
    with_holds = counted(sessions=told, heard=heard, holds=found)
    for before, after in zip(without.days, with_holds.days, strict=True):
        assert after.due + after.held == before.due
        assert after.done + after.extra == before.done + before.extra


@given(holds, sessions, heard)
@example([hold(1, 2)], [session(1, 2)], {day(1)})
@settings(max_examples=150, deadline=None)
def test_where_nothing_was_done_on_it_a_hold_never_lowers_a_percentage(found, told, heard):
    told = untouched(found, told)
    for count in (session_adherence, dose_adherence):
        without = counted(count, sessions=told, heard=heard)
        with_holds = counted(count, sessions=told, heard=heard, holds=found)
        pairs = [(without, with_holds)]
        if count is dose_adherence:
            units = with_holds.by_plan().keys() & without.by_plan().keys()
            pairs = [(without.by_plan()[unit], with_holds.by_plan()[unit]) for unit in units]
        for before, after in pairs:
            for bound in ("percent", "lower_percent"):  # the upper one has unheard days as done
                value = getattr(after, bound)
                if value is not None:
                    assert value >= getattr(before, bound) - 1e-9


@given(holds, st.randoms())
@settings(max_examples=60, deadline=None)
def test_the_order_of_reports_does_not_matter(found, random):
    shuffled = list(found)
    random.shuffle(shuffled)
    assert held(*shuffled) == held(*found)


@given(holds)
@settings(max_examples=60, deadline=None)
def test_a_later_end_holds_no_less(found):
    for one in found:
        if one.end_day is not None:
            assert held(one) <= held(replace(one, end_day=None))
