"""Why a session was missed, told by a phone; and how the week stands on it."""

from datetime import UTC, date, datetime

import pytest
from django.utils import timezone

from clinic.models import AuditRow
from logs.models import MissedReason
from logs.phone_plan import home_page
from logs.review_actions import say_why_missed
from patients import phones
from patients.models import Patient

NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)  # a Wednesday
YESTERDAY = "2026-03-03"


@pytest.fixture(autouse=True)
def _noon(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: NOON)


def tell(home, **changes):
    body = {"owner": phones.owner_key(home.phone.patient), "day": YESTERDAY, "reason": "tired"}
    return home.post("missed", body | changes)


def test_a_reason_is_kept_with_the_day_named_and_its_audit_row(home, world):
    assert tell(home).json() == {"v": 1, "day": YESTERDAY}
    told = MissedReason.objects.get()
    assert (told.day, told.occasion, told.reason) == (date(2026, 3, 3), None, "tired")
    assert (told.source, told.recorded_by) == ("phone", None)
    row = AuditRow.objects.get(verb="said why missed")
    assert (row.patient, row.actor) == (world.patient.pk, f"phone: {home.phone.label}")
    tell(home)
    assert MissedReason.objects.count() == 1
    assert AuditRow.objects.filter(verb="said why missed").count() == 1


def test_told_otherwise_by_the_phone_the_later_word_counts(home):
    tell(home)
    tell(home, reason="pain")
    assert MissedReason.objects.get().reason == "pain"


def test_what_a_person_put_in_stands_against_a_phone(home, world):
    say_why_missed(
        by=world.therapist,
        patient=world.patient,
        day=date(2026, 3, 3),
        reason="unwell",
        today=date(2026, 3, 4),
    )
    assert tell(home).status_code == 200
    assert MissedReason.objects.get().reason == "unwell"


@pytest.mark.parametrize(
    ("changes", "status", "code"),
    [
        ({"reason": "too_hard"}, 400, "bad_reason"),
        ({"reason": ""}, 400, "bad_reason"),
        ({"reason": None}, 400, "bad_reason"),
        ({"day": "2026-03-04"}, 409, "not_over"),
        ({"day": "yesterday"}, 400, "bad_day"),
        ({"owner": "somebody-else"}, 409, "other_owner"),
        ({"note": "x"}, 400, "bad_request"),
    ],
)
def test_what_is_no_reason_for_a_day_gone_is_refused_by_name(home, changes, status, code):
    answer = tell(home, **changes)
    assert (answer.status_code, answer.json()["error"]) == (status, code)
    assert not MissedReason.objects.exists()


def test_a_phone_shut_out_is_told_so(home, world):
    phones.revoke_phone(by=world.therapist, phone=home.phone, now=NOON)
    assert tell(home).status_code == 401
    assert not MissedReason.objects.exists()


def test_the_phone_learns_that_a_reason_is_known(home, world):
    assert home_page(patient=world.patient, now=NOON).why_told == ()
    tell(home)
    assert home_page(patient=world.patient, now=NOON).why_told == (YESTERDAY,)


def test_the_week_counts_as_the_review_does_whatever_the_source(home, world):
    """Two due a day; Monday one of them and one more beside, Tuesday both, today one."""
    done = [("2026-03-02", 1), ("2026-03-02", None), ("2026-03-03", 1), ("2026-03-03", 2)]
    home.send(*(home.record(world.version, day=day, occasion=n) for day, n in done))
    home.send(home.record(world.version, occasion=1))
    nothing = home.record(world.version, occasion=2)
    nothing["performances"] = [
        {"line": world.version.lines.first().key, "amounts": [], "load_g": None, "confirmed": True}
    ]
    home.send(nothing)
    week = home_page(patient=world.patient, now=NOON).week
    assert week == {"2026-03-02": (1, 2), "2026-03-03": (2, 2), "2026-03-04": (1, 2)}


def test_opening_the_page_takes_so_many_queries(home, world, django_assert_num_queries):
    home.send(home.record(world.version))
    patient = Patient.objects.get(pk=world.patient.pk)
    home_page(patient=patient, now=NOON)
    with django_assert_num_queries(12):
        home_page(patient=patient, now=NOON)
