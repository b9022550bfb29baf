from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logs.heard import PhoneWord, StoreReport, heard_days, lost_store_days
from tests.plans.building import day, window

TODAY = day(10)
WEEK = window(1, 12)


def store(made=1, empty=None, first=True, name="s"):
    return StoreReport(name, day(made), first, None if empty is None else day(empty))


def phone(*reports, enrolled=1, revoked=None):
    return PhoneWord(day(enrolled), None if revoked is None else day(revoked), reports)


def heard(*phones, marked=(), today=TODAY):
    found = heard_days(marked={day(m) for m in marked}, phones=phones, window=WEEK, today=today)
    return {(d - day(1)).days + 1 for d in found}


def lost(*phones, marked=()):
    found = lost_store_days(
        marked={day(m) for m in marked}, phones=phones, window=WEEK, today=TODAY
    )
    return {(d - day(1)).days + 1 for d in found}


def test_without_phone_or_mark_nothing_is_heard():
    assert heard() == set()


def test_a_mark_hears_its_day_alone():
    assert heard(marked=[2, 4]) == {2, 4}


def test_today_and_the_days_to_come_are_never_heard_even_when_marked():
    assert heard(marked=[9, 10, 11]) == {9}
    assert heard(phone(store(empty=10)), today=day(3)) == {1, 2}


def test_an_empty_report_counts_for_the_days_that_ended_before_it():
    assert heard(phone(store(empty=5))) == {1, 2, 3, 4}
    assert heard(phone(store(empty=1))) == set()
    assert heard(phone(store(empty=None))) == set()


def test_days_before_the_phone_was_enrolled_are_not_heard():
    assert heard(phone(store(made=4, empty=8), enrolled=4)) == {4, 5, 6, 7}
    assert heard(phone(store(made=2, empty=8), enrolled=4)) == {4, 5, 6, 7}


def test_days_before_the_first_store_was_made_are_not_heard():
    assert heard(phone(store(made=3, empty=6), enrolled=1)) == {3, 4, 5}


def test_every_phone_enrolled_on_the_day_must_have_reported():
    assert heard(phone(store(empty=8)), phone(store(empty=4))) == {1, 2, 3}
    late = phone(store(made=6, empty=7), enrolled=6)
    assert heard(phone(store(empty=9)), late) == {1, 2, 3, 4, 5, 6}


def test_a_phone_revoked_before_it_reported_leaves_its_days_to_a_mark():
    gone = phone(store(empty=3), revoked=5)
    new = phone(store(made=5, empty=9), enrolled=5)
    assert heard(gone, new) == {1, 2, 6, 7, 8}
    assert heard(gone, new, marked=[4, 5]) == {1, 2, 4, 5, 6, 7, 8}


def test_a_replaced_store_leaves_what_it_had_not_reported_unheard():
    changed = phone(store(empty=3), store(made=6, empty=9, first=False, name="t"))
    assert heard(changed) == {1, 2, 7, 8}
    assert lost(changed) == {3, 4, 5, 6}
    assert lost(changed, marked=[4]) == {3, 5, 6}


def test_days_that_a_present_store_may_still_answer_for_are_not_lost():
    assert lost(phone(store(empty=3))) == set()
    assert lost(phone(store(empty=3), store(made=6, first=False, name="t"))) == {3, 4, 5, 6}


def test_lost_days_are_those_of_the_enrolled_phone_before_today():
    changed = phone(store(made=3), store(made=11, first=False, name="t"), enrolled=3)
    assert lost(changed) == {3, 4, 5, 6, 7, 8, 9}


@pytest.mark.parametrize("revoked", [None, 8])
def test_a_revoked_phone_says_nothing_of_the_days_after(revoked):
    assert heard(phone(store(empty=8), revoked=revoked)) == {1, 2, 3, 4, 5, 6, 7}


stores = st.builds(
    store,
    made=st.integers(1, 12),
    empty=st.none() | st.integers(1, 14),
    first=st.booleans(),
)
phones = st.builds(
    lambda reports, enrolled, revoked: phone(*reports, enrolled=enrolled, revoked=revoked),
    st.lists(stores, max_size=3),
    st.integers(1, 12),
    st.none() | st.integers(1, 14),
)


@given(st.lists(phones, max_size=3), st.sets(st.integers(1, 12)))
@settings(max_examples=60, deadline=None)
def test_heard_and_lost_days_exclude_each_other_and_marks_only_add(some_phones, marked):
    without = heard(*some_phones)
    assert heard(*some_phones, marked=marked) == without | {m for m in marked if m < 10}
    assert not without & lost(*some_phones)


@given(st.lists(phones, min_size=1, max_size=3))
@settings(max_examples=40, deadline=None)
def test_a_phone_that_said_nothing_makes_no_day_of_it_heard(some_phones):
    silent = replace(some_phones[0], reports=(), revoked_day=None, enrolled_day=day(1))
    assert heard(silent, *some_phones[1:]) == set()
