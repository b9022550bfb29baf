"""dateutil's recurrence rules (RFC 5545) as the reference for what is due, on random schedules.

A line is a daily rule on its weekdays, at as many made-up hours as it has sessions; a version is
the set of its lines' rules until the next takes over; hours stand for occasion numbers.
"""

from datetime import datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plans.schedule import PauseSpan, Window, occasions
from tests.plans.building import day, line, version

rrule = pytest.importorskip("dateutil.rrule")

pytestmark = pytest.mark.reference

LAST = 60

weekly_lines = st.lists(
    st.tuples(st.sets(st.integers(0, 6), min_size=1), st.integers(1, 4)), max_size=3
)
plans = st.lists(
    st.tuples(st.integers(1, LAST), weekly_lines),
    min_size=1,
    max_size=4,
    unique_by=lambda made: made[0],
).map(sorted)
breaks = st.lists(st.tuples(st.integers(1, LAST), st.none() | st.integers(0, 9)), max_size=2)


def by_rule(plan, pauses):
    """Day and number of each occasion, as recurrence rules give them."""
    due = rrule.rruleset()
    for (first, made), following in zip(plan, [*plan[1:], (LAST + 1, [])], strict=True):
        for weekdays, often in made:
            due.rrule(
                rrule.rrule(
                    rrule.DAILY,
                    dtstart=datetime.combine(day(first), time()),
                    until=datetime.combine(day(following[0] - 1), time(23)),
                    byweekday=sorted(weekdays),
                    byhour=range(1, often + 1),
                    byminute=0,
                    bysecond=0,
                )
            )
    for first, length in pauses:
        end = LAST if length is None else first + length
        due.exrule(
            rrule.rrule(
                rrule.HOURLY,
                dtstart=datetime.combine(day(first), time()),
                until=datetime.combine(day(end), time()) + timedelta(hours=23),
            )
        )
    return [(moment.date(), moment.hour) for moment in due]


@given(plans, breaks)
@settings(max_examples=60, deadline=None)
def test_occasions_are_those_of_the_recurrence_rules(plan, pauses):
    versions = [
        version(
            number,
            day(first),
            *(
                line(str(n), weekdays=frozenset(weekdays), sessions_per_day=often)
                for n, (weekdays, often) in enumerate(made)
            ),
        )
        for number, (first, made) in enumerate(plan, start=1)
    ]
    spans = [
        PauseSpan(day(first), None if length is None else day(first + length))
        for first, length in pauses
    ]
    found = occasions(versions, spans, Window(day(1), day(LAST)))
    assert [(o.day, o.number) for o in found] == by_rule(plan, pauses)
