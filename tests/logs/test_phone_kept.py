"""What a phone keeps to open without a network: the shell, the plan as told, and nothing of who."""

import json
import re
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from logs import phone_shell
from patients import phones
from patients.models import PhoneStore
from plans.actions import new_draft, put_in_force
from tests.logs.homes import enrol_home
from tests.world import PatientFactory, issue

NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _noon(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: NOON)


def test_the_worker_is_asked_for_anew_and_keeps_all_that_the_bare_page_loads(client, db):
    answer = client.get("/home/worker.js")
    assert answer["Cache-Control"] == "no-cache"
    assert answer["Content-Type"].startswith("text/javascript")
    assets = json.loads(re.search(r"ASSETS = (\[.*?\]);", answer.content.decode())[1])
    shell = client.get("/home/shell").content.decode()
    loaded = re.findall(r'(?:href|src)="(/static/[^"]+)"', shell)
    assert len(loaded) > 10
    assert set(loaded) == set(assets)


def test_the_bare_page_is_the_same_for_everyone(client, home, world):
    shell = client.get("/home/shell").content
    assert home.client.get("/home/shell").content == shell
    assert phone_shell.shell_version().encode() in shell
    assert "Set-Cookie" not in client.get("/home/shell").headers


def test_the_version_changes_with_what_the_page_loads(tmp_path, monkeypatch, db):
    before = phone_shell.shell_version()
    assert phone_shell.shell_version() == before
    other = tmp_path / "other.js"
    other.write_text("// another")
    monkeypatch.setattr(phone_shell.finders, "find", lambda name: str(other))
    assert phone_shell.shell_version() != before


def test_the_manifest_has_what_an_installation_needs(client, db):
    # W3C Web Application Manifest: start within scope, a standalone display, icons with sizes.
    answer = client.get("/home/manifest.webmanifest")
    assert answer["Content-Type"] == "application/manifest+json"
    told = answer.json()
    assert told["start_url"].startswith(told["scope"])
    assert told["display"] == "standalone"
    assert {icon["sizes"] for icon in told["icons"]} == {"192x192", "512x512"}
    assert {icon["purpose"] for icon in told["icons"]} == {"any", "maskable"}


def test_the_plan_is_told_once_and_names_nobody(home, world):
    plan = home.client.get("/home/plan").json()
    assert home.client.get(f"/home/plan?have={plan['hash']}").json() == {"v": 1, "same": True}
    text = json.dumps(plan, ensure_ascii=False)
    assert "Arm lift" in text
    patient = world.patient
    for secret in (*patient.name.split(), patient.clinic_number, world.episode.diagnosis, "1961"):
        assert secret not in text
    issue(patient, world.therapist, NOON.date(), [{"sets": 3}])
    assert home.client.get(f"/home/plan?have={plan['hash']}").json()["hash"] != plan["hash"]


def test_the_plan_is_given_to_enrolled_phones_only(client, home, world):
    assert client.get("/home/plan").status_code == 401
    phones.revoke_phone(by=world.therapist, phone=home.phone, now=NOON)
    assert home.client.get("/home/plan").json() == {"v": 1, "error": "unknown_phone"}


def test_a_withdrawn_plan_has_no_occasions_at_the_next_contact(home, world):
    draft = new_draft(by=world.therapist, patient=world.patient)
    draft.lines.all().delete()
    put_in_force(by=world.therapist, version=draft, effective_day=NOON.date(), pain_limit=4)
    days = home.client.get("/home/plan").json()["data"]["days"]
    assert days["2026-03-04"]["occasions"] == []
    assert "ended" in days["2026-03-04"]["words"]


def test_a_report_tells_which_version_a_phone_keeps_and_how_its_clock_stands(home):
    body = {"store": home.store, "pending": 2, "zone": "", "version": 1}
    home.post("report", {**body, "sent_at": "2026-03-05T12:00:00.000Z"})
    home.phone.refresh_from_db()
    assert (home.phone.last_version, home.phone.last_contact_at) == (1, NOON)
    assert home.phone.clock_ahead_s == timedelta(days=1).total_seconds()


@pytest.mark.parametrize("sent_at", [None, 5, "", "yesterday", "2026-03-05T12:00:00", "9999-12-31"])
def test_a_clock_that_says_nothing_is_left_out(home, sent_at):
    home.post("report", {"store": home.store, "pending": 0, "zone": "", "sent_at": sent_at})
    home.phone.refresh_from_db()
    assert home.phone.clock_ahead_s is None


def test_a_server_put_back_asks_again_and_hears_nothing_of_the_days_it_lost(home, world):
    there = home.record(world.version)
    home.send(there)
    lost = str(uuid4())
    body = {"store": home.store, "pending": 0, "zone": ""}
    assert home.post("report", body | {"last": lost}).json()["last_known"] is False
    assert PhoneStore.objects.get().last_empty_day is None
    answer = home.post("known", {"uuids": [there["uuid"], lost, "no uuid"]}).json()
    assert answer["missing"] == [lost]
    assert home.post("report", body | {"last": there["uuid"]}).json()["last_known"] is True
    assert PhoneStore.objects.get().last_empty_day == NOON.date()


def test_what_another_patient_told_is_not_known_here(home, world):
    there = home.record(world.version)
    home.send(there)
    other = enrol_home(PatientFactory())
    assert other.post("known", {"uuids": [there["uuid"]]}).json()["missing"] == [there["uuid"]]
