"""Spans of what is due: they say what the schedule says day by day, and every plan change keeps
them."""

from datetime import timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plans.actions import (
    add_pause,
    end_pause,
    issue_version,
    put_in_force,
    send_back,
    sign_version,
    start_draft,
    strike_pause,
)
from plans.models import DueSpan as DueSpanRow
from plans.queries import kept_spans, schedule_of
from plans.schedule import PauseSpan, Version, occasions, version_on
from plans.span_actions import keep_due_spans, wrong_spans
from plans.spans import due_spans
from tests.plans.building import day, line, version, window
from tests.world import FIRST_DAY, PatientFactory, issue

lines = st.lists(
    st.builds(
        lambda key, weekdays, times: line(
            key, weekdays=frozenset(weekdays), sessions_per_day=times
        ),
        st.sampled_from("abcdef"),
        st.sets(st.integers(0, 6), min_size=1),
        st.integers(1, 12),
    ),
    max_size=3,
)


def test_a_span_for_each_stretch_without_change():
    plan = [
        version(1, day(1), line(sessions_per_day=2)),
        version(2, day(15), line(sessions_per_day=3, weekdays=frozenset({0, 2}))),
    ]
    spans = due_spans(plan, [PauseSpan(day(5), day(6))])
    assert [(s.first_day, s.last_day, s.version, s.is_paused) for s in spans] == [
        (day(1), day(4), 1, False),
        (day(5), day(6), 1, True),
        (day(7), day(14), 1, False),
        (day(15), None, 2, False),
    ]
    assert [s.since for s in spans] == [day(1), day(1), day(1), day(15)]
    # Four bits a weekday, Monday lowest: 2 on each; 3 on Mondays and Wednesdays.
    assert [s.occasions for s in spans] == [0x2222222] * 3 + [0x0000303]
    assert spans[1].due_on(day(5)) == 0


def test_nothing_before_the_first_version_and_nothing_without_one():
    assert due_spans([], [PauseSpan(day(1))]) == ()
    (only,) = due_spans([version(1, day(8), line())], [PauseSpan(day(1), day(3))])
    assert (only.first_day, only.last_day) == (day(8), None)


def test_pauses_that_touch_or_overlap_are_one_span():
    pauses = [PauseSpan(day(3), day(4)), PauseSpan(day(5), day(9)), PauseSpan(day(8), None)]
    spans = due_spans([version(1, day(1), line())], pauses)
    assert [(s.first_day, s.last_day, s.is_paused) for s in spans] == [
        (day(1), day(2), False),
        (day(3), None, True),
    ]


@settings(max_examples=200)
@given(
    shapes=st.lists(
        st.tuples(st.integers(0, 40), st.none() | st.integers(0, 40), lines), max_size=4
    ),
    pauses=st.lists(st.tuples(st.integers(0, 40), st.none() | st.integers(0, 10)), max_size=3),
)
def test_spans_say_what_the_schedule_says(shapes, pauses):
    plan = [
        Version(number, day(first), tuple(of), None if signed is None else day(signed))
        for number, (first, signed, of) in enumerate(shapes, start=1)
    ]
    stops = [
        PauseSpan(day(first), None if more is None else day(first + more)) for first, more in pauses
    ]
    spans = due_spans(plan, stops)
    every = window(-2, 60)
    due = [occasion.day for occasion in occasions(plan, stops, every)]
    for this in every.days():
        here = [
            s for s in spans if s.first_day <= this and (s.last_day is None or this <= s.last_day)
        ]
        in_force = version_on(plan, this)
        assert len(here) == (in_force is not None)
        for span in here:
            assert (span.version, span.since) == (in_force.number, in_force.first_day)
            assert span.due_on(this) == due.count(this)
            assert span.is_paused == any(this in stop for stop in stops)
    assert all(a[2:] != b[2:] for a, b in pairwise(spans))


def kept(patient):
    """What is kept of a patient, once it is known to be what the plan says."""
    schedule = schedule_of(patient)
    found = kept_spans([patient.pk]).get(patient.pk, ())
    assert found == due_spans(schedule.versions, schedule.pauses)
    assert wrong_spans([patient.pk]) == ()
    return found


def test_every_change_of_a_plan_keeps_them(world):
    patient, today = world.patient, FIRST_DAY + timedelta(7)
    assert len(kept(patient)) == 1
    draft = start_draft(by=world.therapist, patient=patient, today=today)
    assert len(kept(patient)) == 1
    issue_version(by=world.therapist, version=draft, today=today, effective_day=today, pain_limit=4)
    assert [span.version for span in kept(patient)] == [1, 2]
    pause = add_pause(
        by=world.therapist, patient=patient, first_day=today, last_day=None, reason="", today=today
    )
    assert [span.is_paused for span in kept(patient)] == [False, True]
    end_pause(by=world.therapist, pause=pause, last_day=today + timedelta(2))
    assert [span.is_paused for span in kept(patient)] == [False, True, False]
    strike_pause(by=world.therapist, pause=pause, reason="mistake")
    assert [span.is_paused for span in kept(patient)] == [False, False]


def test_a_version_counts_from_its_signature(world):
    patient, today = world.patient, FIRST_DAY + timedelta(7)
    draft = start_draft(by=world.student, patient=patient, today=today)
    waiting = issue_version(
        by=world.student, version=draft, today=today, effective_day=today, pain_limit=4
    )
    assert len(kept(patient)) == 1
    send_back(by=world.supervisor, version=waiting, note="slower")
    assert len(kept(patient)) == 1
    put_in_force(by=world.student, version=waiting, effective_day=today, pain_limit=4, waits=True)
    later = today + timedelta(3)
    sign_version(by=world.supervisor, version=waiting, today=later)
    assert [span.first_day for span in kept(patient)] == [FIRST_DAY, later]


def test_writing_them_anew_touches_nobody_else(world):
    other = PatientFactory()
    issue(other, world.therapist)
    before = list(DueSpanRow.objects.filter(patient=other).values())
    keep_due_spans([world.patient.pk])
    assert list(DueSpanRow.objects.filter(patient=other).values()) == before


@pytest.mark.parametrize("change", [{"version": 9}, {"occasions": 1}, {"is_paused": True}])
def test_a_span_that_was_changed_behind_our_back_is_found_and_put_right(world, change):
    DueSpanRow.objects.update(**change)
    (wrong,) = wrong_spans([world.patient.pk])
    assert (wrong.patient, wrong.kept, wrong.right) == (world.patient.pk, 1, 1)
    keep_due_spans([world.patient.pk])
    assert wrong_spans([world.patient.pk]) == ()
