"""A phone that never reaches the clinic hands what waits over as a file, and keeps it as well."""

import json
import time

import pytest
from jsonschema import Draft202012Validator
from playwright.sync_api import expect

from logs.handover import read_handover
from logs.handover_actions import import_handover
from patients import phones
from tests.browser.handset import (
    QUEUE,
    all_sent,
    do_session,
    enrolled,
    once_each,
    reopened,
    waiting_on,
)
from tests.world import FIXTURES

SCHEMA = json.loads((FIXTURES / "handover.schema.json").read_text())
GIVE = "[data-handover-give]:visible"

# The phone's own sharing as a page meets it: it says what it can, and is given the file.
SHARES = """() => {
window.given = [];
navigator.canShare = ({ files }) => files.every((file) => file.type === "text/plain");
navigator.share = async ({ files }) => {
  if (!navigator.userActivation.isActive) throw new DOMException("late", "NotAllowedError");
  if (window.outcome) throw new DOMException(window.outcome, window.outcome);
  window.given.push({ name: files[0].name, text: await files[0].text() });
};
}"""

FULL = """() => {
  IDBObjectStore.prototype.put = () => { throw new DOMException("full", "QuotaExceededError"); };
}"""


def opened_without_a_clinic(phone, clinic, world):
    page = enrolled(phone.start(), clinic.address, world)
    expect(page.locator("[data-handover]")).to_be_hidden()
    clinic.kill()
    do_session(page)
    page.locator("[data-home]:visible").tap()
    return page


def take_in(world, content):
    handed = read_handover(content)
    return import_handover(by=world.therapist, patient=world.patient, handover=handed)


def test_what_waits_is_handed_over_kept_and_stored_once(
    phone, clinic, live_world, tmp_path, violations
):
    page = opened_without_a_clinic(phone, clinic, live_world)
    made = page.evaluate(QUEUE, 30)
    page.evaluate("home.send.flush()")
    expect(page.locator(GIVE)).to_be_visible()
    assert violations(page) == []
    with page.expect_download() as downloaded:
        page.locator(GIVE).tap()
    path = tmp_path / downloaded.value.suggested_filename
    assert path.name.startswith("sessions-")
    downloaded.value.save_as(path)
    expect(page.get_by_text("The file is made: give it to the clinic.")).to_be_visible()
    waiting = waiting_on(page)
    assert set(made) < set(waiting)
    assert len(waiting) == 31  # nothing left the phone
    content = path.read_bytes()
    Draft202012Validator(SCHEMA).validate(json.loads(content))
    for planted in (live_world.patient.name, live_world.patient.clinic_number):
        assert planted not in content.decode()
    assert take_in(live_world, content).stored == 31
    once_each(waiting)
    assert take_in(live_world, content).duplicate == 31
    clinic.start()
    all_sent(page)  # the clinic's network: what went by file is known there, and leaves the phone
    expect(page.locator("[data-handover]")).to_be_hidden()
    once_each(waiting)


WHYS = """(told) => home.store
  .keep("whys", told.map(([owner, day, reason]) => ({ owner, day, reason })))
  .then(() => document.dispatchEvent(new CustomEvent("home:reasons")))"""


@pytest.mark.parametrize("is_alone", [True, False])
def test_why_sessions_were_missed_goes_with_it_and_stays_until_the_clinic_names_its_day(
    phone, clinic, live_world, tmp_path, is_alone
):
    if is_alone:
        page = enrolled(phone.start(), clinic.address, live_world)
        clinic.kill()
    else:
        page = opened_without_a_clinic(phone, clinic, live_world)
    owner, before, yesterday = page.evaluate("[home.data.owner, home.day(-2), home.day(-1)]")
    mine = [[owner, before, "tired"], [owner, yesterday, "pain"]]
    page.evaluate(WHYS, [*mine, ["another", yesterday, "forgot"]])
    reopened(page)  # it is offered again by a page opened without a connection
    with page.expect_download() as downloaded:
        page.locator(GIVE).tap()
    downloaded.value.save_as(tmp_path / "file.txt")
    content = (tmp_path / "file.txt").read_bytes()
    file = json.loads(content)
    Draft202012Validator(SCHEMA).validate(file)
    assert file["missed"] == [{"day": day, "reason": reason} for _, day, reason in mine]
    assert len(file["records"]) == (0 if is_alone else 1)
    assert take_in(live_world, content).rejected == 0
    assert take_in(live_world, content).stored == 0
    assert page.evaluate("home.store.kept('whys').length") == 3  # nothing left the phone
    told = live_world.patient.missed_reasons.values_list("day", "reason")
    assert [(str(day), reason) for day, reason in told] == [(day, why) for _, day, why in mine]
    clinic.start()
    page.evaluate("void home.send.flush()")  # the page may open itself anew on what it learns
    page.wait_for_function("() => home.store.kept('whys').map((one) => one.owner) == 'another'")
    expect(page.locator("[data-handover]")).to_be_hidden()


def test_the_phones_own_sharing_is_given_the_file_in_the_press(phone, clinic, live_world):
    page = opened_without_a_clinic(phone, clinic, live_world)
    page.evaluate(SHARES)
    page.evaluate("window.outcome = 'AbortError'")
    page.locator(GIVE).tap()
    expect(page.get_by_text("The file is made")).to_be_hidden()
    page.evaluate("window.outcome = ''")
    page.locator(GIVE).tap()
    expect(page.get_by_text("The file is made")).to_be_visible()
    (given,) = page.evaluate("window.given")
    assert given["name"].endswith(".txt")
    assert take_in(live_world, given["text"].encode()).stored == 1


def test_sharing_that_fails_ends_in_a_download(phone, clinic, live_world):
    page = opened_without_a_clinic(phone, clinic, live_world)
    page.evaluate(SHARES)
    page.evaluate("window.outcome = 'NotAllowedError'")
    with page.expect_download():
        page.locator(GIVE).tap()


@pytest.mark.parametrize("is_kept", [True, False])
def test_a_phone_that_is_shut_out_hands_over_what_it_could_not_send(
    phone,
    clinic,
    live_world,
    tmp_path,
    is_kept,
):
    page = enrolled(phone.start(), clinic.address, live_world)
    if is_kept:
        clinic.kill()
    else:  # what the phone can't keep on its disk is in the file as well
        page.evaluate(FULL)
        clinic.kill()
    made = page.evaluate(QUEUE, 3)
    handset = live_world.patient.phones.get()
    phones.revoke_phone(by=live_world.therapist, phone=handset, now=handset.enrolled_at)
    clinic.start()
    page.evaluate("home.send.flush()")
    if is_kept:
        page.reload()
        expect(page.get_by_text("This phone isn’t set up")).to_be_visible()
        expect(page.get_by_text("stays on this phone.")).to_be_visible()
    with page.expect_download() as downloaded:
        page.locator(GIVE).tap()
    downloaded.value.save_as(tmp_path / "file.txt")
    assert take_in(live_world, (tmp_path / "file.txt").read_bytes()).stored == 3
    once_each(made)


def test_in_the_clinics_network_what_waits_goes_by_itself(phone, clinic, live_world):
    page = opened_without_a_clinic(phone, clinic, live_world)
    waiting = waiting_on(page)
    clinic.start()
    until = time.monotonic() + 30
    while waiting_on(page):
        assert time.monotonic() < until
        page.wait_for_timeout(200)
    once_each(waiting)
    reopened(page)
    expect(page.locator("[data-handover]")).to_be_hidden()
