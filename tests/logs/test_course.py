"""The course so far, on a patient's first page: its chart, its table, and when there is none."""

from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.urls import reverse

from logs.actions import Performed, Told, record_revision
from logs.chart import Bar, Marks
from logs.course import PAIN, WEEKS, begun, course_chart
from logs.figure_queries import figures_of
from logs.figures import SessionSums, Week
from logs.templatetags.course import course
from tests.world import FIRST_DAY, PatientFactory, join

NONE = SessionSums(0, 0, 0, 0, 0, 0, 0)


def week(number, sessions=NONE, *pains):
    monday = date(2026, 3, 2) + timedelta(weeks=number)
    return Week(monday, monday + timedelta(days=6), sessions, 0, pains)


def test_it_begins_with_the_first_week_of_which_there_is_anything():
    held = NONE._replace(held=2)
    assert begun([week(0), week(1, held), week(2)]) == (week(1, held), week(2))
    assert begun([week(0), week(1, NONE, 0)]) == (week(1, NONE, 0),)
    assert begun([week(0), week(1)]) == ()


def test_the_median_is_of_the_days():
    assert week(0, NONE, 2, 5, 3, 8).pain_median == 4
    assert week(0).pain_median is None


def test_due_done_and_extra_stand_in_each_week_and_pain_at_its_height():
    weeks = [
        week(0, SessionSums(14, 7, 1, 0, 14, 7, 0), 2, 4, 10),
        week(1, SessionSums(14, 14, 0, 0, 14, 14, 0)),
        week(2, SessionSums(7, 0, 0, 7, 0, 0, 0), 0),
    ]
    chart = course_chart(weeks)
    bars = [shape for shape in chart.shapes if isinstance(shape, Bar)]
    due, done = [b for b in bars if not b.filled], [b for b in bars if b.filled]
    assert [bar.dashed for bar in due] == [False, False, True]
    assert [round(bar.height / due[0].height, 6) for bar in due] == [1, 1, 0.5]
    assert [round(bar.height / due[0].height, 6) for bar in done] == [0.5, 1]
    assert due[0].x < due[1].x < due[2].x
    marks = {shape.kind: shape.at for shape in chart.shapes if isinstance(shape, Marks)}
    assert len(marks.pop("plus")) == 1
    base = chart.height - 26
    scores = {kind: [round((base - y) * 10 / PAIN, 6) for _, y in at] for kind, at in marks.items()}
    assert scores == {"dot": [10, 0], "bar": [4, 0]}  # highest and median of each week


@pytest.mark.django_db
class TestPage:
    def test_a_patient_without_a_plan_or_entry_has_no_course(self, as_staff, world):
        patient = PatientFactory()
        join(patient, world.therapist)
        page = as_staff(world.therapist).get(reverse("patient", args=[patient.pk]))
        assert b"The course so far" not in page.content

    def test_each_week_opens_its_review(self, as_staff, world, django_assert_num_queries):
        did = tuple(Performed(line, (line.amount_low,)) for line in world.version.lines.all())
        record_revision(
            patient=world.patient,
            entry=uuid4(),
            revision=uuid4(),
            replaces=None,
            told=Told(FIRST_DAY, 1, "paper", world.version, did, pain_worst=6),
            user=world.therapist,
        )
        today = FIRST_DAY + timedelta(days=9)
        with django_assert_num_queries(5):
            found = course(world.patient, today)
        assert [row.first_day for row in found.weeks] == [FIRST_DAY + timedelta(7), FIRST_DAY]
        assert [row.pain_highest for row in found.weeks] == [None, 6]
        assert (found.weeks[1].sessions.done, found.weeks[0].sessions.done) == (1, 0)
        page = as_staff(world.therapist).get(reverse("patient", args=[world.patient.pk]))
        assert b"The course so far" in page.content

    def test_weeks_begin_on_mondays_whatever_day_it_is(self, world):
        for back in range(7):
            today = FIRST_DAY + timedelta(days=400 + back)
            found = course(world.patient, today)
            assert len(found.weeks) == WEEKS
            assert all(row.first_day.weekday() == 0 for row in found.weeks)
            assert found.weeks[0].last_day == today
            weeks = figures_of({world.patient.pk: today}, of=world.patient.pk)
            assert weeks.weeks(world.patient.pk)[-1].sessions == found.weeks[0].sessions
