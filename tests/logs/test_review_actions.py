"""What is said at a review: why sessions were missed, which entries are one, that it was done."""

# ruff: noqa: F811 (fixtures of the page are used by their names)

from datetime import date, timedelta
from uuid import UUID

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from clinic.actions import ActionRefused
from clinic.models import AuditRow
from logs.missed import ToldReason, missed_sessions
from logs.models import Entry, MissedReason, ReviewRecord, SessionPair
from logs.review import review_of
from logs.review_actions import say_why_missed
from logs.tally import DayTally
from logs.upkeep import wrong_days
from plans.schedule import Window
from tests.logs.test_review_page import (
    TODAY,
    clock,  # noqa: F401
    day,
    heard,
    shown,  # noqa: F401
    tell,
    words,
)
from tests.world import PatientFactory, join


def post(client, world, name, **data):
    return client.post(reverse(name, args=[world.patient.pk]) + "?window=version", data)


def tally(number, due, done, *, is_heard=True):
    there = date(2026, 3, 1) + timedelta(days=number)
    return DayTally(there, 1, due, done, 0, 0, done, 0, 0, is_heard, (), ())


class TestMissedSessions:
    def test_only_heard_days_have_missed_sessions(self):
        found = missed_sessions([tally(1, 2, 0, is_heard=False), tally(2, 2, 2)], [])
        assert (found.sessions, found.days) == (0, ())

    def test_a_reason_for_what_was_done_after_all_counts_not(self):
        found = missed_sessions([tally(1, 2, 2)], [ToldReason(date(2026, 3, 2), None, "pain")])
        assert found.by_reason == {}

    @given(
        st.lists(st.tuples(st.integers(0, 4), st.integers(0, 4), st.booleans()), max_size=20),
        st.lists(
            st.tuples(
                st.integers(0, 20),
                st.none() | st.integers(1, 4),
                st.sampled_from(["pain", "forgot"]),
            ),
            max_size=20,
        ),
    )
    def test_all_missed_have_a_reason_or_none_and_each_once(self, days, told):
        tallies = [
            tally(number, due, min(done, due), is_heard=is_heard)
            for number, (due, done, is_heard) in enumerate(days)
        ]
        reasons = [ToldReason(date(2026, 3, 1) + timedelta(days=n), o, r) for n, o, r in told]
        found = missed_sessions(tallies, reasons)
        given_one = sum(row.sessions for row in found.by_reason.values())
        expected = sum(each.due - each.done for each in tallies if each.is_heard)
        assert given_one + found.without_reason == found.sessions == expected


def test_a_reason_is_kept_shown_changed_and_taken_back(as_staff, shown, world):
    heard(world, 0, 1)
    tell(world, 0, 1)
    client = as_staff(world.therapist)
    assert "3 missed on days heard from: 3 without a reason." in shown("?window=version")
    answer = post(client, world, "missed", day=day(1).isoformat(), reason="pain")
    assert answer["Location"].endswith("?window=version#missed")
    text = shown("?window=version")
    assert "3 missed on days heard from: pain 2 ( Tue 3 Mar ); 1 without a reason." in text
    post(client, world, "missed", day=day(1).isoformat(), reason="forgot")
    assert "forgot 2 ( Tue 3 Mar )" in shown("?window=version")
    post(client, world, "missed", day=day(1).isoformat(), reason="")
    assert "3 without a reason." in shown("?window=version")
    assert not MissedReason.objects.exists()
    rows = AuditRow.objects.filter(patient=world.patient.pk, verb__contains="why missed")
    assert [(row.detail["before"], row.detail["reason"]) for row in rows.order_by("pk")] == [
        ("", "pain"),
        ("pain", "forgot"),
        ("forgot", ""),
    ]


@pytest.mark.parametrize("changes", [{"day": TODAY}, {"reason": "lazy"}, {"source": "rumour"}])
def test_what_no_one_can_have_missed_or_said_is_refused(world, changes):
    given = {"day": day(0), "reason": "pain", "today": TODAY, "source": "visit"} | changes
    with pytest.raises(ActionRefused):
        say_why_missed(by=world.therapist, patient=world.patient, **given)


@pytest.fixture
def doubles(world):
    """Two entries that are perhaps one session."""
    tell(world, 0, 1)
    tell(world, 0, 1, source="telephone")
    heard(world, 0)
    return sorted(str(pk) for pk in Entry.objects.values_list("pk", flat=True))


def done_of(world):
    found = review_of(world.patient, Window(day(0), TODAY), TODAY)
    return found.sessions.done, len(found.sessions.perhaps_same)


def test_two_entries_are_called_two_the_same_and_left_open_again(as_staff, world, doubles):
    client = as_staff(world.therapist)
    one, other = doubles
    assert done_of(world) == (1, 1)
    post(client, world, "pair", one=other, other=one, word="two")
    assert done_of(world) == (2, 0)
    assert wrong_days(world.patient.pk) == ()
    post(client, world, "pair", one=one, other=other, word="same")
    assert done_of(world) == (1, 1)
    page = client.get(reverse("review", args=[world.patient.pk]) + "?window=version")
    text = words(page.content.decode())
    assert "perhaps the same" not in text
    assert "The same session as telephone, session 1" in text
    post(client, world, "pair", one=one, other=other, word="unsaid")
    assert done_of(world) == (1, 1)
    assert not SessionPair.objects.exists()
    assert wrong_days(world.patient.pk) == ()
    verbs = AuditRow.objects.filter(patient=world.patient.pk, verb__contains="two entries")
    assert [row.verb for row in verbs.order_by("pk")] == [
        "two entries are two",
        "two entries are the same",
        "took back a word on two entries",
    ]


def test_nothing_is_said_of_one_entry_or_of_a_strangers(as_staff, world, doubles):
    client = as_staff(world.therapist)
    one, other = doubles
    post(client, world, "pair", one=one, other=one, word="same")
    assert not SessionPair.objects.exists()
    someone = PatientFactory()
    join(someone, world.therapist)
    theirs = Entry.objects.create(pk=UUID(int=7), patient=someone)
    assert (
        post(client, world, "pair", one=one, other=str(theirs.pk), word="same").status_code == 404
    )
    assert post(client, world, "pair", one=one, other=other, word="perhaps").status_code == 404


def test_a_review_is_on_record_and_gives_its_window(as_staff, shown, world, monkeypatch):
    client = as_staff(world.therapist)
    assert "No review is on record yet." in shown()
    assert "Since last review" not in shown()
    days = {"first_day": day(0).isoformat(), "last_day": TODAY.isoformat()}
    answer = post(client, world, "reviewed", note=" all well ", **days)
    assert answer["Location"].endswith("?window=version#reviewed")
    record = ReviewRecord.objects.get()
    assert (record.day, record.first_day, record.note) == (TODAY, day(0), "all well")
    assert AuditRow.objects.filter(verb="reviewed", user=world.therapist).count() == 1
    later = (TODAY + timedelta(days=5)).isoformat()
    monkeypatch.setattr("logs.review_views.today_in", lambda zone: date.fromisoformat(later))
    text = shown("?window=review")
    assert "Review, Mon 16 Mar 2026 to Sat 21 Mar 2026" in text
    assert "Last reviewed on Mon 16 Mar 2026 by Thea Therapist: “all well”." in text


def test_a_review_that_ends_before_it_begins_is_not_kept(as_staff, world):
    data = {"first_day": "2026-03-07", "last_day": "2026-03-05"}
    post(as_staff(world.therapist), world, "reviewed", **data)
    assert not ReviewRecord.objects.exists()


@pytest.mark.parametrize("who", ["outsider", "administrator"])
@pytest.mark.parametrize("name", ["missed", "pair", "reviewed"])
def test_a_stranger_says_nothing(as_staff, world, doubles, who, name):
    data = {
        "day": day(0).isoformat(),
        "reason": "pain",
        "one": doubles[0],
        "other": doubles[1],
        "word": "two",
        "first_day": day(0).isoformat(),
        "last_day": day(1).isoformat(),
    }
    client = as_staff(getattr(world, who))
    assert post(client, world, name, **data).status_code == 404
    assert not MissedReason.objects.exists()
    assert not SessionPair.objects.exists()
    assert not ReviewRecord.objects.exists()
