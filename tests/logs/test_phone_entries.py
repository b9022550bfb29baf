"""What reaches the clinic from a phone: once each, in any order, and by nobody else."""

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from clinic.models import AuditRow
from logs.heard import heard_days
from logs.models import Entry, Performance, Revision
from logs.queries import hearing_of
from patients import phones
from plans.schedule import Window
from tests.logs.homes import ORIGIN, enrol_home
from tests.world import PatientFactory, issue


def test_a_session_is_stored_and_its_uuid_named(world, home):
    record = home.record(world.version, note="My arm felt light.")
    assert home.send(record) == [{"uuid": record["uuid"], "result": "stored"}]
    revision = Revision.objects.get()
    assert str(revision.pk) == record["uuid"]
    assert (revision.day, revision.occasion) == (date(2026, 3, 4), 1)
    assert (revision.pain_before, revision.pain_worst, revision.pain_after) == (2, 4, 3)
    assert revision.began_at == datetime(2026, 3, 4, 9, tzinfo=UTC)
    assert revision.phone == home.phone
    done = {row.line.key: row.amounts for row in revision.performances.all()}
    assert done == {p["line"]: p["amounts"] for p in record["performances"]}
    assert AuditRow.objects.filter(verb="recorded entry", patient=world.patient.pk).count() == 1


def test_the_same_record_again_is_a_duplicate_and_stored_once(world, home):
    record = home.record(world.version)
    home.send(record)
    assert home.send(record, record) == [{"uuid": record["uuid"], "result": "duplicate"}] * 2
    assert Revision.objects.count() == 1


def test_the_same_uuid_with_another_content_is_a_conflict(world, home):
    record = home.record(world.version)
    home.send(record)
    answers = home.send(record | {"pain_worst": 9})
    assert answers == [{"uuid": record["uuid"], "result": "rejected", "code": "conflict"}]
    assert Revision.objects.get().pain_worst == 4


@pytest.mark.parametrize("late_first", [False, True])
def test_a_correction_counts_whichever_arrives_first(world, home, late_first):
    first = home.record(world.version)
    second = first | {"uuid": str(uuid4()), "replaces": first["uuid"], "pain_worst": 7}
    for record in (second, first) if late_first else (first, second):
        assert home.send(record)[0]["result"] == "stored"
    assert Revision.objects.get(is_current=True).pain_worst == 7
    assert Entry.objects.count() == 1


def test_a_bad_record_among_good_ones_takes_nothing_with_it(world, home):
    good, bad, also_good = (home.record(world.version) for _ in range(3))
    bad["pain_worst"] = 11
    results = [answer["result"] for answer in home.send(good, bad, 7, also_good)]
    assert results == ["stored", "rejected", "rejected", "stored"]
    assert Revision.objects.count() == 2


def test_a_session_of_a_version_no_longer_in_force_is_stored(world, home):
    issue(world.patient, world.therapist, day=date(2026, 3, 3), lines=[])
    record = home.record(world.version)
    assert home.send(record)[0]["result"] == "stored"
    assert Performance.objects.filter(line__version=world.version).count() == 2


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"version": 9}, "unknown_version"),
        ({"owner": "somebody-else"}, "other_owner"),
        (
            {"performances": [{"line": "x", "amounts": [], "load_g": None, "confirmed": True}]},
            "unknown_line",
        ),
        ({"v": 3}, "later_form"),
        ({"streak": 4}, "unknown_key"),
    ],
)
def test_what_does_not_fit_this_patient_is_refused_by_name(world, home, changes, code):
    record = home.record(world.version) | changes
    answers = home.send(record)
    assert answers == [{"uuid": record["uuid"], "result": "rejected", "code": code}]
    assert not Revision.objects.exists()


def test_entries_of_a_phone_never_land_with_another_patient(world, home):
    other = PatientFactory()
    issue(other, world.therapist)
    theirs = enrol_home(other)
    record = home.record(world.version)
    assert theirs.send(record)[0]["code"] == "other_owner"
    home.send(record)
    stolen = record | {"owner": phones.owner_key(other)}
    assert theirs.send(stolen)[0] == {
        "uuid": record["uuid"],
        "result": "rejected",
        "code": "conflict",
    }
    assert Revision.objects.get().entry.patient == world.patient


@pytest.mark.parametrize("path", ["entries", "report"])
def test_an_unknown_or_revoked_phone_is_told_so_in_json_and_never_sent_elsewhere(world, home, path):
    body = {"entries": [home.record(world.version)]}
    if path == "report":
        body = {"store": home.store, "pending": 0, "zone": "Europe/London"}
    phones.revoke_phone(by=world.therapist, phone=home.phone, now=timezone.now())
    for _ in range(2):
        answer = home.post(path, body)
        assert answer.status_code == 401
        assert answer.json() == {"v": 1, "error": "unknown_phone"}
        home.client.cookies.clear()
    assert not Revision.objects.exists()


@pytest.mark.parametrize("path", ["entries", "report", "enrol"])
@pytest.mark.parametrize(
    ("origin", "more", "status"),
    [
        ("https://elsewhere.example", {}, 403),
        ("null", {}, 403),
        (None, {}, 403),
        (ORIGIN, {"content_type": "text/plain"}, 415),
        (ORIGIN, {"content_type": "application/x-www-form-urlencoded"}, 415),
    ],
)
def test_only_our_own_pages_can_send(home, path, origin, more, status):
    assert home.post(path, "{}", origin=origin, **more).status_code == status


@pytest.mark.parametrize("body", ["{", "[]", "7", "[" * 100_000, b"\xff"])
def test_what_is_no_json_object_is_refused(home, body):
    answer = home.post("entries", body)
    assert answer.status_code == 400
    assert answer.json()["error"] in {"not_json", "not_an_object"}


@pytest.mark.parametrize("body", [{}, {"entries": {}}, {"entries": [], "more": 1}])
def test_a_body_of_another_shape_is_refused(home, body):
    assert home.post("entries", body).status_code == 400


def test_a_batch_too_large_is_named_so_that_the_phone_can_split_it(home):
    assert home.post("entries", {"entries": [{}] * 101}).status_code == 413
    assert home.post("entries", '"' + "x" * (256 * 1024) + '"').status_code == 413


def test_a_get_is_refused_in_json(home):
    assert home.client.get("/home/entries").json() == {"v": 1, "error": "post_only"}


def test_the_plan_is_read_once_a_batch_and_each_record_costs_the_same(world, home):
    def cost(count):
        records = [home.record(world.version) for _ in range(count)]
        with CaptureQueriesContext(connection) as queries:
            home.send(*records)
            return len(queries)

    one, two, five = cost(1), cost(2), cost(5)
    assert five - two == 3 * (two - one)


def test_a_report_makes_days_heard_by_the_servers_clock(world, home, monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: datetime(2026, 3, 6, 12, tzinfo=UTC))
    body = {"store": home.store, "pending": 0, "zone": "Europe/London"}
    assert home.post("report", body).json() == {"v": 1, "noted": True, "last_known": True}
    assert home.phone.stores.get().last_empty_day == date(2026, 3, 6)


@pytest.mark.parametrize(
    "changes", [{"store": "x"}, {"pending": -1}, {"pending": "0"}, {"pending": True}, {"zone": 3}]
)
def test_a_report_that_says_nothing_clear_is_refused(home, changes):
    body = {"store": home.store, "pending": 0, "zone": "Europe/London"} | changes
    assert home.post("report", body).status_code == 400
    assert home.phone.stores.get().last_empty_day is None


def test_heard_days_follow_from_what_a_phone_reported(world, home):
    """An empty report on the 6th speaks for the days before it, from enrolment on."""
    phones.report(
        phone=home.phone,
        store_id=home.phone.stores.get().store_id,
        pending=0,
        time_zone="",
        now=datetime(2026, 3, 6, 12, tzinfo=UTC),
    )
    window = Window(date(2026, 3, 1), date(2026, 3, 8))
    hearing = hearing_of(world.patient, window)
    heard = heard_days(
        marked=hearing.marked,
        phones=hearing.phones,
        window=window,
        today=date(2026, 3, 9),
    )
    assert heard == {date(2026, 3, 2) + timedelta(days=n) for n in range(4)}
