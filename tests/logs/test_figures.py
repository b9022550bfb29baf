"""The caseload's figures of many at once are those that the pure functions find one by one."""

from collections import Counter, defaultdict
from datetime import UTC, date, datetime, timedelta
from statistics import median
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from logs import demo
from logs.adherence import dose_adherence, session_adherence
from logs.caseload import caseload
from logs.figure_queries import figures_of, kept_columns, marked_days, phone_days, span_columns
from logs.figures import READ_DAYS, Figures, SessionSums
from logs.heard import PhoneWord, StoreReport, heard_days
from logs.holds import held_numbers
from logs.models import HeardDay, KeptDay
from logs.queries import hearing_of, overseen_patients, tellings_in
from logs.simulator import simulate
from logs.stop_actions import Decision, ToldStop, answer_stop, record_stop
from logs.stop_queries import stops_of
from logs.stops import holds_of
from logs.tally import SessionAdherence
from logs.thresholds import read_thresholds
from logs.windows import last_days
from patients.models import Patient, Phone, PhoneStore
from plans.queries import schedule_of
from plans.schedule import Unit, Window, iso_week, occasions, version_on
from tests.logs.test_simulator import shipped
from tests.world import FIXTURES, PatientFactory, stock

LIMITS = read_thresholds(FIXTURES / "thresholds.toml")
NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
ZONE = ZoneInfo("Europe/London")


@pytest.fixture
def clinic(db):
    """The demo's people, as many told again of others, and what was simulated."""
    stock(*shipped()["exercises"])
    people = list(simulate(seed=3, last_day=date(2026, 11, 24), people=24, **shipped()))
    staff = demo.add_clinic(shipped()["cast"], "a password of nobody")
    demo.add_people(people, staff=staff, zone=ZONE, now=NOW)
    for place, patient in enumerate(Patient.objects.order_by("pk")[:16]):
        report_signs(patient, staff["therapist"], place)


def report_signs(patient, by, place):
    """Stop signs of every kind: at each session of a day, open, answered at once or days later."""
    for back in (30, 12, 4)[: 1 + place % 3]:
        day, number = NOW.date() - timedelta(back + place % 4), 1 + place % 3
        uuid = uuid4()
        told = ToldStop("today", "pop", NOW - timedelta(back), day, number, "visit")
        record_stop(patient=patient, uuid=uuid, told=told, user=by)
        report = patient.stop_reports.get(pk=uuid)
        if place % 5 == 4:
            answer_stop(by=by, report=report, decision=Decision("Waits.", goes_on=False), seen=0)
        elif back > 4 or place % 2:
            ends = day + timedelta(place % 4 + 1), 1 + (place + back) % 3
            answer_stop(by=by, report=report, decision=Decision("On.", True, *ends), seen=0)


def reviewed(patient, read, today):
    """Tellings, heard days and adherence by the functions that the review is made of."""
    schedule, hearing = schedule_of(patient), hearing_of(patient, read)
    tellings = [telling for telling in tellings_in(patient, read) if telling.strike is None]
    heard = heard_days(
        marked=hearing.marked.keys(), phones=hearing.phones, window=read, today=today
    )
    given = {
        "versions": schedule.versions,
        "occasions": occasions(schedule.versions, schedule.pauses, read),
        "sessions": [telling.session for telling in tellings],
        "heard": heard,
        "window": read,
        "today": today,
    }
    holds = holds_of(stops_of(patient))
    asked = [*given["occasions"], *given["sessions"]]
    given["held"] = held_numbers(holds, [(one.day, one.number) for one in asked])
    return tellings, heard, session_adherence(**given), dose_adherence(**given)


def one_by_one(patient, today, days):
    """A patient's figures from those of a review."""
    tellings, heard, adherence, dose = reviewed(patient, last_days(READ_DAYS, today), today)
    schedule = schedule_of(patient)
    last_word = max((*heard, *(telling.session.day for telling in tellings)), default=None)
    in_force = version_on(schedule.versions, today)
    window = SessionAdherence(adherence.days[-days:])

    def fortnight(ends):
        part = last_days(14, ends)
        worst = defaultdict(list)
        for telling in tellings:
            if telling.session.day in part and telling.pain.worst is not None:
                worst[telling.session.day].append(telling.pain.worst)
        pain = median(map(max, worst.values())) if len(worst) >= 3 else None
        repetitions = sum(
            day.performed
            for day in dose.days
            if day.day in part and day.line.unit is Unit.REPETITIONS
        )
        return pain, repetitions

    return {
        "sums": (
            window.due,
            window.done,
            window.extra,
            window.unheard,
            window.heard.due,
            window.heard.done,
            window.held,
        ),
        "held": window.held,
        "percents": (window.percent, window.lower_percent, window.upper_percent),
        "last_word": last_word,
        "silent": sum(
            tally.due > 0 and tally.day < today and (last_word is None or tally.day > last_word)
            for tally in adherence.days
        ),
        "now": fortnight(today),
        "before": fortnight(today - timedelta(14)),
        "overdone": max(Counter(iso_week(day.day) for day in dose.overdone).values(), default=0),
        "since": in_force.first_day if in_force and in_force.lines else None,
        "paused": in_force is not None and any(today in pause for pause in schedule.pauses),
    }


def at_once(row):
    sums = row.sessions
    return {
        "sums": tuple(sums),
        "held": sums.held,
        "percents": (sums.percent, sums.lower_percent, sums.upper_percent),
        "last_word": row.last_word,
        "silent": row.silent_days,
        "now": (row.pain, row.repetitions),
        "before": (row.pain_before, row.repetitions_before),
        "overdone": row.overdone,
        "since": row.plan_since,
        "paused": row.is_paused,
    }


def test_every_figure_of_everyone_is_that_of_their_review(clinic):
    patients = overseen_patients()
    assert len(patients) == 24
    seen = defaultdict(set)
    for back in (0, 1, 9, 20, 33):  # as the clinic stood on days gone by, entries included
        # Two present days at once, as on either side of the date line.
        today_of = {
            patient.pk: NOW.date() - timedelta(back + place % 2)
            for place, patient in enumerate(patients)
        }
        for days in (14, 28):
            rows = caseload(
                patients,
                today_of=today_of,
                waiting=frozenset(),
                precautions_due=frozenset(),
                stops={},
                days=days,
                limits=LIMITS,
            )
            for row in rows:
                mine = Patient.objects.get(pk=row.patient.pk)
                expected = one_by_one(mine, today_of[mine.pk], days)
                assert at_once(row) == expected, (mine, back, days)
                for name, value in expected.items():
                    seen[name].add(value)
    # The clinic is varied enough for each figure to have been told from another.
    assert all(len(values) > 1 for values in seen.values())
    assert {value > 0 for value in seen["overdone"]} == {True, False}


@pytest.mark.parametrize("days", [1, 9, 176, 182])
def test_weeks_of_one_patient_are_those_of_the_review(clinic, days):
    today = NOW.date()
    read = last_days(days, today)
    for patient in Patient.objects.order_by("pk")[::3]:
        tellings, _, adherence, dose = reviewed(patient, read, today)
        weeks = figures_of({patient.pk: today}, days, of=patient.pk).weeks(patient.pk)
        assert [week.sessions for week in weeks] == [
            SessionSums(
                week.due,
                week.done,
                week.extra,
                week.unheard,
                week.heard.due,
                week.heard.done,
                week.held,
            )
            for week in adherence.by_week().values()
        ]
        assert (weeks[0].first_day, weeks[-1].last_day) == (read.first_day, today)
        worst = defaultdict(list)
        for told in tellings:
            if told.pain.worst is not None:
                worst[told.session.day].append(told.pain.worst)
        for week, after in zip(weeks, [*weeks[1:], None], strict=True):
            assert after is None or week.last_day + timedelta(1) == after.first_day
            there = Window(week.first_day, week.last_day)
            assert week.repetitions == sum(
                day.performed
                for day in dose.days
                if day.day in there and day.line.unit is Unit.REPETITIONS
            )
            assert week.worst_pains == tuple(max(worst[d]) for d in there.days() if d in worst)


def test_a_version_that_was_not_in_force_is_judged_by_the_one_that_was(clinic):
    today = NOW.date()
    figures = Figures({patient.pk: today for patient in overseen_patients()})
    window = last_days(READ_DAYS, today)
    figures.add_spans(span_columns(window))
    figures.add_kept(kept_columns(window))
    assert figures.unclear  # mornings before a new version was issued: the test above has them


def test_kept_columns_are_the_rows(clinic):
    window = Window(date(2026, 10, 20), date(2026, 11, 24))
    found = kept_columns(window)
    columns = zip(*(column.tolist() for column in found), strict=True)
    rows = KeptDay.objects.filter(day__range=(window.first_day, window.last_day)).values_list(
        "patient", "day", "numbered", "beside", "pain_worst", "beyond", "repetitions", "version"
    )
    assert sorted(columns) == sorted(
        (pk, day.toordinal(), numbered, beside, -1 if pain is None else pain, beyond, told, v or 0)
        for pk, day, numbered, beside, pain, beyond, told, v in rows
    )


def test_the_largest_numbers_that_columns_hold_come_through(world):
    largest = {"numbered": 32767, "beside": 32767, "beyond": 32767, "pain_worst": 10}
    more = {"repetitions": 2**31 - 1, "version": 2**31 - 1}
    day = date(2026, 3, 31)
    KeptDay.objects.create(patient=world.patient, day=day, **largest, **more)
    found = kept_columns(Window(date(2026, 3, 1), day))
    for name, value in (largest | more).items():
        assert getattr(found, name).tolist() == [value]
    assert found.day.tolist() == [day.toordinal()]


def test_nothing_kept_and_no_phone_gives_zeros(world):
    HeardDay.objects.all().delete()
    (row,) = caseload(
        overseen_patients(),
        today_of={world.patient.pk: date(2030, 1, 7)},
        waiting=frozenset(),
        precautions_due=frozenset(),
        stops={},
        days=14,
        limits=LIMITS,
    )
    due = 14 * max(line.sessions_per_day for line in world.version.lines.all())
    assert row.sessions == SessionSums(due, 0, 0, due, 0, 0, 0)
    assert (row.sessions.percent, row.sessions.lower_percent) == (None, 0)
    assert (row.last_word, row.pain, row.pain_before, row.overdone) == (None, None, None, 0)


days = st.integers(-5, 40).map(lambda n: date(2026, 3, 2) + timedelta(n))
made = st.lists(st.tuples(days, st.none() | days), max_size=3)
# The first store of a phone is its first, the others replaced it.
reports = made.map(
    lambda stores: [
        StoreReport("a", day, place == 0, empty) for place, (day, empty) in enumerate(stores)
    ]
)
phones = st.lists(
    st.builds(
        lambda enrolled, kept, reports: PhoneWord(
            enrolled, None if kept is None else enrolled + timedelta(kept), tuple(reports)
        ),
        days,
        st.none() | st.integers(0, 30),
        reports,
    ),
    max_size=3,
)


@pytest.mark.django_db
@settings(max_examples=150)
@given(phones, days)
def test_the_heard_days_of_phones_are_the_same(phones, first):
    with transaction.atomic():
        _compare(phones, first)


def _compare(phones, first):
    window = Window(first, first + timedelta(READ_DAYS - 2))
    heard = heard_days(marked=[], phones=phones, window=window, today=date(2027, 1, 1))
    patient = PatientFactory()
    for number, phone in enumerate(phones):
        row = Phone.objects.create(
            patient=patient,
            label="phone",
            token_hash=f"{patient.pk}/{number}",
            enrolled_at=NOW,
            enrolled_day=phone.enrolled_day,
            revoked_day=phone.revoked_day,
        )
        for report in phone.reports:
            PhoneStore.objects.create(
                phone=row,
                store_id=uuid4(),
                made_day=report.made_day,
                is_first=report.first_store,
                last_empty_day=report.last_empty_day,
            )
    # The last day of the figures is the present day, which is never heard.
    figures = Figures({patient.pk: window.last_day + timedelta(1)})
    figures.add_heard(marked_days(window), phone_days())
    transaction.set_rollback(True)
    found = figures.is_heard[0, :-1].tolist()
    assert {day for day, is_heard in zip(window.days(), found, strict=True) if is_heard} == heard


def test_span_columns_are_the_rows(world):
    day = date(2026, 4, 1)
    (span,) = world.patient.due_spans.all()
    assert [column.tolist() for column in span_columns(Window(day, day))] == [
        [world.patient.pk],
        [date(2026, 3, 2).toordinal()],
        [1],
        [date(2026, 3, 2).toordinal()],
        [0],
        [span.occasions],
    ]
