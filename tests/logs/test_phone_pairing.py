"""A short code typed into a phone, and what the phone says of itself."""

import json
import re
from datetime import UTC, datetime
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from patients import phones
from patients.models import Phone
from tests.logs.homes import ORIGIN, enrol_home

NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _noon(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: NOON)


def type_in(client, code, **more):
    body = {"code": code, "store": str(uuid4()), "zone": "Europe/London", **more}
    return client.post(
        "/home/enrol", json.dumps(body), "application/json", headers={"Origin": ORIGIN}
    )


def test_a_typed_code_gives_the_phone_its_credential(client, world):
    _, code = phones.make_invite_with_code(by=world.therapist, patient=world.patient, now=NOON)
    assert type_in(client, f"{code[:4]} {code[4:]}").json() == {"v": 1, "enrolled": True}
    assert world.version.lines.count() == client.get("/home/").content.decode().count("<article")
    again = type_in(client, code)
    assert (again.status_code, again.json()["error"]) == (410, "code_not_good")


def test_a_closed_door_and_two_keys_at_once_are_refused(client, world, monkeypatch):
    assert type_in(client, "12345678", secret="x").status_code == 400
    assert type_in(client, "").status_code == 400
    monkeypatch.setattr("patients.pairing.MOST_WRONG_AN_HOUR", 0)
    answer = type_in(client, "12345678")
    assert (answer.status_code, answer.json()["error"]) == (429, "codes_closed")


def test_a_phone_that_is_not_set_up_is_led_to_the_code(client, db):
    page = client.get("/home/")
    assert page.status_code == 403
    assert 'href="/home/join"' in page.content.decode()
    join = client.get("/home/join").content.decode()
    assert 'autocomplete="one-time-code"' in join
    assert re.findall(r'data-key="(\d)"', join) == list("1234567890")


def said(home, **changes):
    body = {"store": home.store, "pending": 0, "zone": "Europe/London", **changes}
    answer = home.post("report", body)
    assert answer.status_code == 200
    return Phone.objects.get()


def test_what_a_phone_says_of_itself_is_kept_and_shown(world, as_staff):
    home = enrol_home(world.patient)
    phone = said(
        home, pending=3, version=1, persistent=False, installed=True, sent_at="2026-03-04T13:07:00Z"
    )
    assert (phone.waiting, phone.last_version, phone.last_contact_at) == (3, 1, NOON)
    assert (phone.keeps_storage, phone.is_installed, phone.clock_ahead_s) == (False, True, 4020)
    page = as_staff(world.therapist).get(reverse("patient", args=[world.patient.pk]))
    text = page.content.decode()
    for words in (
        "version 1",
        "3 sessions when last heard",
        "67 minutes ahead",
        "the browser may clear it",
        "the home screen",
    ):
        assert words in text


@pytest.mark.parametrize(
    "wrong", [{"version": "1"}, {"version": 0}, {"persistent": 1}, {"installed": "yes"}]
)
def test_what_a_phone_says_otherwise_leaves_what_was_known(world, wrong):
    home = enrol_home(world.patient)
    said(home, version=1, persistent=True, installed=True)
    phone = said(home, **wrong)
    assert (phone.last_version, phone.keeps_storage, phone.is_installed) == (1, True, True)
