"""Reported stop signs on record: stored once, never changed, answered by a named person."""

from datetime import UTC, date, datetime, timedelta
from uuid import UUID, uuid4

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from clinic.actions import ActionRefused
from clinic.models import AuditRow
from logs.actions import Outcome, mark_heard
from logs.holds import Hold
from logs.models import StopAnswer, StopReport
from logs.review import review_of
from logs.stop_actions import Decision, ToldStop, answer_stop, record_stop
from logs.stop_queries import holds_by_patient, open_stops, stops_of
from logs.stops import longest_wait
from logs.thresholds import read_thresholds
from plans.schedule import Window
from tests.logs.homes import enrol_home
from tests.world import FIRST_DAY, FIXTURES, PatientFactory, join

DAY = FIRST_DAY + timedelta(2)
AT = datetime(2026, 3, 4, 10, tzinfo=UTC)
WEEK = Window(FIRST_DAY, FIRST_DAY + timedelta(6))
LATER = FIRST_DAY + timedelta(30)


def told(tier="today", sign="pop", from_occasion=2, **changes):
    given = {"reported_at": AT, "day": DAY, "source": "telephone"} | changes
    return ToldStop(tier=tier, sign=sign, from_occasion=from_occasion, **given)


def report(world, uuid=None, **changes):
    uuid = uuid or uuid4()
    assert record_stop(patient=world.patient, uuid=uuid, told=told(**changes), user=world.therapist)
    return StopReport.objects.get(pk=uuid)


def goes_on(day=DAY + timedelta(2), number=1, words="Examined, nothing torn.", sentence=""):
    return Decision(words, True, day, number, sentence)


def answer(world, of, decision=None, seen=0, by=None):
    return answer_stop(
        by=by or world.therapist, report=of, decision=decision or goes_on(), seen=seen
    )


def held_days(world, today=LATER):
    tallies = review_of(world.patient, WEEK, today).sessions.days
    return [tally.held for tally in tallies]


def refused(act):
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        act()
    return str(caught.value)


def test_a_report_holds_what_is_due_until_the_clinic_has_answered(world):
    assert held_days(world) == [0] * 7
    stop = report(world)
    assert held_days(world) == [0, 0, 1, 2, 2, 2, 2]
    answer(world, stop)
    assert held_days(world) == [0, 0, 1, 2, 0, 0, 0]


def test_the_third_tier_holds_nothing(world):
    stop = report(world, tier="next_visit", sign="stiff", from_occasion=None)
    assert held_days(world) == [0] * 7
    answer(world, stop, Decision("Read at the visit.", goes_on=True))


def test_held_days_are_neither_due_nor_missed_and_prescribe_nothing(world):
    mark_heard(patient=world.patient, days=WEEK.days(), source="paper", by=world.therapist)

    def found():
        review = review_of(world.patient, WEEK, LATER)
        prescribed = sum(row.prescribed.repetitions for row in review.volume.joints)
        return review.sessions.due, review.sessions.held, review.missed.sessions, prescribed

    due, held, missed, prescribed = found()
    assert (due, held, missed) == (14, 0, 14)
    report(world)
    # Two sessions on each of two days and one of the third are left, of the same two lines.
    assert found() == (5, 9, 5, prescribed * 5 // 14)


def test_an_answer_that_the_plan_waits_holds_on_and_a_later_one_ends_it(world):
    stop = report(world)
    answer(world, stop, Decision("Seen by the surgeon first.", goes_on=False))
    assert held_days(world) == [0, 0, 1, 2, 2, 2, 2]
    answer(world, stop, goes_on(DAY + timedelta(1), 2), seen=1)
    assert held_days(world) == [0, 0, 1, 1, 0, 0, 0]
    (shown,) = stops_of(world.patient)
    assert [a.words for a in shown.answers] == [
        "Seen by the surgeon first.",
        "Examined, nothing torn.",
    ]
    assert StopAnswer.objects.get(is_current=True).number == 2


def test_a_correction_may_hold_again(world):
    stop = report(world)
    answer(world, stop)
    answer(world, stop, Decision("The X-ray shows more.", goes_on=False), seen=1)
    assert held_days(world) == [0, 0, 1, 2, 2, 2, 2]


def test_each_act_leaves_one_audit_row(world):
    stop = report(world)
    answer(world, stop)
    answer(world, stop, Decision("Held again.", goes_on=False), seen=1)
    rows = AuditRow.objects.filter(patient=world.patient.pk, verb__contains="stop sign")
    assert [(row.verb, row.actor) for row in rows.order_by("pk")] == [
        ("reported stop sign", "Thea Therapist"),
        ("answered stop sign", "Thea Therapist"),
        ("corrected answer to stop sign", "Thea Therapist"),
    ]


def test_the_same_report_is_stored_once_and_another_content_is_a_conflict(world):
    uuid = uuid4()

    def record(**changes):
        return record_stop(
            patient=world.patient, uuid=uuid, told=told(**changes), user=world.therapist
        )

    assert [record(), record(), record(sign="fever")] == [
        Outcome.STORED,
        Outcome.DUPLICATE,
        Outcome.CONFLICT,
    ]
    other = PatientFactory()
    found = record_stop(patient=other, uuid=uuid, told=told(), user=world.therapist)
    assert found is Outcome.CONFLICT
    assert StopReport.objects.get().sign == "pop"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"tier": "soon"}, "Choose one"),
        ({"sign": "A pop!"}, "Choose one"),
        ({"from_occasion": None}, "from which session"),
        ({"from_occasion": 14}, "from which session"),
        ({"tier": "next_visit"}, "holds nothing"),
        ({"reported_at": datetime(2026, 3, 4, 10)}, "offset"),  # noqa: DTZ001
        ({"source": "phone"}, "by telephone or at a visit"),
        ({"source": "pigeon"}, "by telephone or at a visit"),
        ({"note": "x" * 501}, "500 characters"),
    ],
)
def test_what_no_report_can_say_is_refused(world, changes, words):
    with pytest.raises(ActionRefused, match=words):
        report(world, **changes)
    assert not StopReport.objects.exists()


@pytest.mark.parametrize(
    ("decision", "words"),
    [
        (goes_on(words=" "), "Write what was decided"),
        (goes_on(words="x" * 501), "500 characters"),
        (goes_on(sentence="x" * 201), "200 characters"),
        (Decision("On.", goes_on=True), "from which day"),
        (goes_on(DAY, 1), "before it was held"),
        (goes_on(number=13), "from 1 to 12"),
        (Decision("Wait.", False, DAY, 2), "Say either"),
    ],
)
def test_what_no_answer_can_say_is_refused(world, decision, words):
    stop = report(world)
    with pytest.raises(ActionRefused, match=words):
        answer(world, stop, decision)
    stop.refresh_from_db()
    assert stop.answered_at is None


def test_a_student_reports_but_does_not_answer(world):
    record_stop(patient=world.patient, uuid=uuid4(), told=told(), user=world.student)
    with pytest.raises(ActionRefused, match="therapist in charge"):
        answer(world, StopReport.objects.get(), by=world.student)


def test_nobody_answers_what_somebody_has_answered_meanwhile(world):
    stop = report(world)
    answer(world, stop)
    with pytest.raises(ActionRefused, match="meanwhile"):
        answer(world, stop, by=world.supervisor)
    assert StopAnswer.objects.count() == 1


def test_neither_a_report_nor_an_answer_ever_changes(world):
    stop = report(world)
    mine = StopReport.objects.filter(pk=stop.pk)
    for change in ({"sign": "fever"}, {"from_occasion": 3}, {"day": LATER}, {"note": "Other."}):
        assert "never changes" in refused(lambda c=change: mine.update(**c))
    now = timezone.now()
    assert "never changes" in refused(lambda: mine.update(answered_at=now, sign="fever"))
    answer(world, stop)
    for change in ({"answered_at": None}, {"answered_at": now + timedelta(1)}):
        assert "never changes" in refused(lambda c=change: mine.update(**c))
    answers = StopAnswer.objects.all()
    for change in ({"words": "Other."}, {"goes_on": False}, {"ends_day": LATER}):
        assert refused(lambda c=change: answers.update(**c))
    assert "never changes" in refused(lambda: answers.update(words="Other.", is_current=False))


@pytest.mark.parametrize(
    ("changes", "constraint"),
    [
        ({"tier": "soon", "from_occasion": None}, "stop_tier_is_known"),
        ({"sign": ""}, "stop_names_its_sign"),
        ({"from_occasion": None}, "stop_holds_as_its_tier_does"),
        ({"from_occasion": 14}, "stop_holds_as_its_tier_does"),
        ({"tier": "next_visit"}, "stop_holds_as_its_tier_does"),
        ({"source": "phone"}, "stop_came_by_phone_or_staff"),
        ({"source": "pigeon"}, "stop_came_by_phone_or_staff"),
        ({"recorded_by": None}, "stop_came_by_phone_or_staff"),
        ({"answered_at": AT}, "stop_answered_once_received"),
    ],
)
def test_a_report_cannot_be_nonsense(world, changes, constraint):
    good = {
        "patient": world.patient,
        "tier": "today",
        "sign": "pop",
        "reported_at": AT,
        "day": DAY,
        "from_occasion": 2,
        "source": "visit",
        "recorded_by": world.therapist,
        "received_at": timezone.now(),
    }
    StopReport.objects.create(pk=uuid4(), **good)
    assert constraint in refused(lambda: StopReport.objects.create(pk=uuid4(), **good | changes))


@pytest.mark.parametrize(
    ("changes", "constraint"),
    [
        ({"words": ""}, "stop_answer_in_words"),
        ({"ends_occasion": None}, "stop_answer_ends_where_it_goes_on"),
        ({"ends_occasion": 13}, "stop_answer_ends_where_it_goes_on"),
        ({"goes_on": False}, "stop_answer_ends_where_it_goes_on"),
        ({"number": 1, "is_current": False}, ""),
        ({"number": 2}, ""),
    ],
)
def test_an_answer_cannot_be_nonsense(world, changes, constraint):
    stop = report(world)
    good = {
        "report": stop,
        "number": 1,
        "words": "On.",
        "goes_on": True,
        "ends_day": DAY,
        "ends_occasion": 3,
        "answered_by": world.therapist,
        "answered_at": timezone.now(),
    }
    if not constraint:  # a second one of the same number, or a second current one
        StopAnswer.objects.create(**good)
    assert constraint in refused(lambda: StopAnswer.objects.create(**good | changes))


class TestFromThePhone:
    @pytest.fixture
    def home(self, world):
        return enrol_home(world.patient)

    def record(self, home, **changes):
        return {
            "kind": "stop",
            "v": 1,
            "uuid": str(uuid4()),
            "owner": home.record(home.phone.patient.plan_versions.get())["owner"],
            "tier": "emergency",
            "sign": "chest",
            "reported_at": "2026-03-04T10:00:00.000Z",
            "zone": "Europe/London",
            "day": "2026-03-04",
            "from_occasion": 2,
            **changes,
        }

    def test_it_is_stored_named_and_holds(self, world, home):
        record = self.record(home)
        assert home.send(record) == [{"uuid": record["uuid"], "result": "stored"}]
        assert home.send(record, record) == [{"uuid": record["uuid"], "result": "duplicate"}] * 2
        stop = StopReport.objects.get()
        assert (stop.tier, stop.sign, stop.source) == ("emergency", "chest", "phone")
        assert (stop.phone, stop.recorded_by, stop.day) == (home.phone, None, date(2026, 3, 4))
        assert held_days(world) == [0, 0, 1, 2, 2, 2, 2]
        row = AuditRow.objects.get(verb="reported stop sign")
        assert row.actor == f"phone: {home.phone.label}"

    def test_it_travels_with_entries_and_a_poisoned_one_stops_no_other(self, world, home):
        good, entry = self.record(home), home.record(world.version)
        bad = self.record(home, from_occasion=0)
        results = [a["result"] for a in home.send(bad, entry, good)]
        assert results == ["rejected", "stored", "stored"]

    @pytest.mark.parametrize(
        ("changes", "code"),
        [
            ({"v": 2}, "later_form"),
            ({"kind": "song"}, "later_form"),
            ({"v": 0}, "bad_v"),
            ({"owner": "somebody"}, "other_owner"),
            ({"tier": "soon"}, "out_of_bounds"),
            ({"tier": 1}, "bad_tier"),
            ({"sign": "No, sign"}, "out_of_bounds"),
            ({"from_occasion": None}, "out_of_bounds"),
            ({"from_occasion": 14}, "bad_from_occasion"),
            ({"reported_at": None}, "bad_reported_at"),
            ({"reported_at": "yesterday"}, "bad_reported_at"),
            ({"day": "2026-02-30"}, "bad_day"),
            ({"zone": "a\0b"}, "bad_zone"),
            ({"mood": 3}, "unknown_key"),
        ],
    )
    def test_what_is_no_report_is_refused_by_a_code(self, home, changes, code):
        (answer,) = home.send(self.record(home, **changes))
        assert (answer["result"], answer["code"]) == ("rejected", code)
        assert not StopReport.objects.exists()

    def test_other_content_under_a_known_uuid_is_a_conflict(self, home):
        record = self.record(home)
        home.send(record)
        assert home.send(record | {"sign": "breath"})[0]["code"] == "conflict"

    def test_a_sign_that_the_clinic_has_struck_from_its_list_is_taken(self, home):
        assert home.send(self.record(home, sign="old_sign"))[0]["result"] == "stored"

    def test_a_server_put_back_says_that_it_lacks_it(self, home):
        record = self.record(home)
        assert home.post("known", {"uuids": [record["uuid"]]}).json()["missing"] == [record["uuid"]]
        home.send(record)
        assert home.post("known", {"uuids": [record["uuid"]]}).json()["missing"] == []
        body = {"store": home.store, "pending": 0, "zone": "Europe/London", "last": record["uuid"]}
        assert home.post("report", body).json()["last_known"] is True


def test_open_reports_are_shown_to_those_in_care_the_most_urgent_first(
    world, django_assert_num_queries
):
    for tier, sign, number in (
        ("next_visit", "stiff", None),
        ("today", "pop", 1),
        ("emergency", "chest", 1),
    ):
        report(world, tier=tier, sign=sign, from_occasion=number)
    answered = report(world)
    answer(world, answered)
    elsewhere = PatientFactory()
    join(elsewhere, world.outsider)
    record_stop(patient=elsewhere, uuid=uuid4(), told=told(), user=world.outsider)
    with django_assert_num_queries(1):
        shown = open_stops(world.therapist)
    assert [stop.sign for stop in shown] == ["chest", "pop", "stiff"]
    assert [stop.name for stop in open_stops(world.outsider)] == [elsewhere.name]
    assert len(open_stops(world.supervisor)) == 4
    assert open_stops(world.administrator) == ()


def test_a_report_waits_as_long_as_the_clinic_says():
    limits = read_thresholds(FIXTURES / "thresholds.toml")
    assert longest_wait("emergency", limits) == timedelta(minutes=15)
    assert longest_wait("today", limits) == timedelta(hours=2)
    assert longest_wait("next_visit", limits) == timedelta(days=14)
    assert {
        limit.source for name, limit in limits.by_name().items() if name.startswith("stop_")
    } == {"common practice, no source"}


moments = st.tuples(st.integers(0, 6), st.integers(1, 3))
reports = st.lists(
    st.tuples(
        st.sampled_from(["emergency", "today", "next_visit"]),
        moments,
        st.none() | st.just("wait") | moments,
    ),
    max_size=4,
)


@pytest.mark.django_db
@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(reports, st.randoms(use_true_random=False))
def test_the_order_in_which_reports_and_answers_arrive_does_not_matter(world, given, random):
    """Held days, open reports and the many's holds are the same in any order of arrival."""

    def after(order):
        with transaction.atomic():
            for place in order:
                tier, (day, number), answered = given[place]
                holds = tier != "next_visit"
                stop = report(
                    world,
                    UUID(int=place + 1),
                    tier=tier,
                    day=FIRST_DAY + timedelta(day),
                    from_occasion=number if holds else None,
                )
                if answered == "wait" and holds:
                    answer(world, stop, Decision("Wait.", goes_on=False))
                elif answered and holds:
                    ends = max((day, number), answered if answered != "wait" else (0, 1))
                    answer(world, stop, goes_on(FIRST_DAY + timedelta(ends[0]), ends[1]))
            found = (
                held_days(world),
                sorted(stop.uuid for stop in open_stops(world.therapist)),
                sorted(holds_by_patient(WEEK).get(world.patient.pk, ()), key=repr),
            )
            single = [stop.hold for stop in stops_of(world.patient) if stop.hold]
            transaction.set_rollback(True)
        touching = {h for h in single if h.end_day is None or h.end_day >= WEEK.first_day}
        assert set(found[2]) == touching
        return found

    order = list(range(len(given)))
    straight = after(order)
    random.shuffle(order)
    assert after(order) == straight


def test_a_hold_of_many_is_that_of_one(world, django_assert_num_queries):
    stop = report(world)
    with django_assert_num_queries(1):
        assert holds_by_patient(WEEK) == {world.patient.pk: (Hold(DAY, 2),)}
    answer(world, stop)
    ends = DAY + timedelta(2)
    assert holds_by_patient(WEEK) == {world.patient.pk: (Hold(DAY, 2, ends, 1),)}
    assert holds_by_patient(Window(ends + timedelta(1), LATER)) == {}
    assert holds_by_patient(Window(FIRST_DAY - timedelta(9), DAY - timedelta(1))) == {}
