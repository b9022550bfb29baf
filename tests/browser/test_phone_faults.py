"""What may go wrong with a phone, done for real: a server process, cut lines, killed browsers.

The criterion of each: what was said to be saved is at the clinic once, and nothing more. The
counts are printed.
"""

import sqlite3
import time
from datetime import date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.utils import timezone
from playwright.sync_api import expect

from logs.models import Revision
from patients import phones
from patients.models import Phone, PhoneStore
from tests.browser.handset import (
    QUEUE,
    ROOT,
    Cutter,
    all_sent,
    do_session,
    enrolled,
    free_port,
    once_each,
    ready,
    reopened,
    waiting_on,
)
from tests.browser.session_steps import after_pains, stop_here
from tests.world import PASSWORD, PatientFactory, issue


def test_without_a_network_the_page_opens_cold_and_a_session_waits(phone, clinic, live_world):
    enrolled(phone.start(), clinic.address, live_world)
    clinic.kill()
    phone.close()
    page = phone.start()  # a cold start, and nobody answers
    page.goto(f"{clinic.address}/home/")
    ready(page)
    expect(page.get_by_text("Session 1 of 2: not yet")).to_be_visible()
    do_session(page)
    page.locator("[data-home]:visible").tap()
    reopened(page)
    expect(page.get_by_text("Session 1 of 2: done")).to_be_visible()
    page.locator("[data-read]").tap()
    assert page.locator("[data-screen=reading] svg:visible").count() == 2
    waiting = waiting_on(page)
    assert len(waiting) == 1
    clinic.start()
    all_sent(page)
    once_each(waiting)


def test_a_browser_killed_right_after_saved_loses_nothing(phone, clinic, live_world):
    enrolled(phone.start(), clinic.address, live_world)
    phone.close()  # Chromium writes a new cookie to the disk only within half a minute, or here
    page = phone.start()
    page.goto(f"{clinic.address}/home/")
    ready(page)
    clinic.kill()
    do_session(page)
    waiting = waiting_on(page)
    phone.kill()
    clinic.start()
    page = phone.start()
    page.goto(f"{clinic.address}/home/")
    ready(page)
    all_sent(page)
    once_each(waiting)


def test_an_answer_cut_off_after_the_clinic_stored_it_stores_it_once(phone, clinic, live_world):
    page = enrolled(phone.start(), clinic.address, live_world)
    clinic.kill()
    made = page.evaluate(QUEUE, 3)
    cutter = Cutter(clinic, port=clinic.port)  # at the clinic's address, and the clinic behind it
    clinic.port = free_port()
    clinic.start()
    cutter.start()
    page.evaluate("home.send.flush()")
    assert sorted(waiting_on(page)) == sorted(made)  # stored, and the phone was never told
    assert Revision.objects.count() == len(made)
    all_sent(page)
    assert cutter.cut == 1
    once_each(made)


def test_two_hundred_sessions_and_a_server_killed_among_them(phone, clinic, live_world):
    page = enrolled(phone.start(), clinic.address, live_world)
    made = page.evaluate(QUEUE, 200)
    page.evaluate("void home.send.flush()")
    until = time.monotonic() + 10
    while Revision.objects.count() < 20 and time.monotonic() < until:
        time.sleep(0.01)
    clinic.kill()
    middle = Revision.objects.count()
    assert 20 <= middle < 200
    clinic.start()
    all_sent(page)
    print(f"killed at {middle}")  # noqa: T201
    once_each(made)


def test_two_windows_send_the_same_queue_once(phone, clinic, live_world):
    page = enrolled(phone.start(), clinic.address, live_world)
    made = page.evaluate(QUEUE, 40)
    other = phone.context.new_page()
    other.goto(f"{clinic.address}/home/")
    ready(other)
    page.evaluate("void home.send.flush()")
    all_sent(other)
    once_each(made)


def test_a_newer_page_waits_until_the_session_is_over(phone, clinic, live_world, tmp_path):
    page = enrolled(phone.start(), clinic.address, live_world)
    reopened(page)
    first = page.locator("meta[name=home-shell]").get_attribute("content")
    page.locator("[data-start]").tap()
    page.locator("[data-score='1']").tap()
    words = ROOT / "logs/static/logs/home/worker.js"
    clinic.kill()
    newer = tmp_path / "worker.js"
    newer.write_text(words.read_text() + "// newer\n")
    clinic.start(worker=newer)
    page.evaluate("""async () => {
        const it = await navigator.serviceWorker.getRegistration();
        await it.update();
        while (!it.waiting) await new Promise((then) => setTimeout(then, 50));
    }""")
    page.evaluate("void home.send.flush()")
    page.wait_for_timeout(1500)  # time enough to take over, were it to
    states = (
        "navigator.serviceWorker.getRegistration()"
        ".then((it) => [it.waiting?.state, it.active.state])"
    )
    assert page.evaluate(states) == ["installed", "activated"]
    stop_here(page)
    after_pains(page, "2")
    page.locator("[data-save]").tap()
    expect(page.locator("[data-sent=received]")).to_be_visible()
    page.locator("[data-home]:visible").tap()
    expect(page.get_by_text("Session 1 of 2: done")).to_be_visible()
    # The page asks the newer worker in, and opens itself anew.
    shell = page.locator("meta[name=home-shell]")
    expect(shell).not_to_have_attribute("content", first, timeout=20_000)
    page = phone.context.new_page()
    page.goto(f"{clinic.address}/home/")
    ready(page)
    assert page.locator("meta[name=home-shell]").get_attribute("content") != first
    assert Revision.objects.count() == 1


def test_a_clock_a_day_ahead_moves_no_heard_day_and_is_told(phone, clinic, live_world):
    page = enrolled(phone.start(), clinic.address, live_world)
    page.clock.install(time=timezone.now() + timedelta(days=1))
    page.goto(f"{clinic.address}/home/")
    ready(page)
    page.locator("[data-why-none]:visible").tap()  # why nothing was done "yesterday"
    do_session(page)
    all_sent(page)
    handset = Phone.objects.get()
    assert abs(handset.clock_ahead_s - 24 * 3600) < 60
    assert Revision.objects.get().day == timezone.now().date() + timedelta(days=1)
    last_empty = PhoneStore.objects.get().last_empty_day
    assert last_empty is not None
    assert last_empty <= phones.local_day(live_world.patient, timezone.now())


ROOM_BYTES = 3 * 1024 * 1024

# Keeps ever smaller pieces until not even a short one finds room.
FILL = """async () => {
  let pieces = 0;
  for (let size = 256 * 1024; size >= 64; size /= 4)
    while (await home.store.keep(`filler ${pieces}`, "x".repeat(size))) pieces++;
  return pieces;
}"""


class FullPhone:
    """A phone whose browser grants the clinic's page 3 MB, all of which gets used."""

    def __init__(self, phone, address):
        self.page = phone.start()
        # The browser holds to it as long as the session that asked for it lives.
        self.session = phone.context.new_cdp_session(self.page)
        quota = {"origin": address, "quotaSize": ROOM_BYTES}
        self.session.send("Storage.overrideQuotaForOrigin", quota)

    def fill(self):
        assert self.page.evaluate(FILL) > 5

    def make_room(self):
        self.session.send("Storage.overrideQuotaForOrigin", {"origin": self.page.url})
        self.session.detach()


NOT_SAVED = "This was not saved on this phone"


def test_a_full_phone_says_that_it_saved_nothing_and_the_clinic_receives_it(
    phone, clinic, live_world
):
    full = FullPhone(phone, clinic.address)
    page = enrolled(full.page, clinic.address, live_world)
    full.fill()
    do_session(page, saved=None)
    expect(page.locator("[data-sent=received]")).to_be_visible()
    expect(page.locator("[data-kept=yes]")).to_be_hidden()
    expect(page.locator("[data-kept=no]")).to_be_hidden()
    expect(page.locator("[data-keep-again]")).to_be_hidden()
    assert Revision.objects.count() == 1
    once_each([str(Revision.objects.get().pk)])


def test_on_a_full_phone_without_a_clinic_what_was_put_in_stays_open(phone, clinic, live_world):
    full = FullPhone(phone, clinic.address)
    page = enrolled(full.page, clinic.address, live_world)
    clinic.kill()
    full.fill()
    do_session(page, saved=NOT_SAVED)
    again = page.get_by_role("button", name="Save it again")
    again.tap()
    expect(page.locator("[data-kept=no]")).to_be_visible()
    page.locator("[data-home]:visible").tap()
    page.locator("[data-start]").tap()  # what was put in is open still, at its last step
    expect(page.locator("[data-save]")).to_be_visible()
    page.locator("#note").fill("told twice")
    page.locator("[data-save]").tap()
    expect(page.locator("[data-kept=no]")).to_be_visible()
    waiting = waiting_on(page)
    assert len(waiting) == 1
    full.make_room()
    again.tap()
    expect(page.locator("[data-kept=yes]")).to_be_visible()
    page.reload()  # now it is on the disk
    ready(page)
    assert waiting_on(page) == waiting
    clinic.start()
    all_sent(page)
    once_each(waiting)
    assert Revision.objects.get().note == "told twice"


# The hours in which a local day is 23 or 25 hours long (23.5 or 24.5 on Lord Howe Island), from the
# IANA time zone database, 2026: the evening before, within the hour that comes twice or just after
# the one that is left out, late on that day, and soon after the midnight behind it. In UTC.
CHANGES = {
    "New York, an hour twice": (
        "America/New_York",
        [
            ("2026-11-01T03:30:00Z", "2026-10-31"),
            ("2026-11-01T05:30:00Z", "2026-11-01"),
            ("2026-11-01T06:30:00Z", "2026-11-01"),
            ("2026-11-02T04:45:00Z", "2026-11-01"),
            ("2026-11-02T05:15:00Z", "2026-11-02"),
        ],
    ),
    "New York, an hour left out": (
        "America/New_York",
        [
            ("2026-03-08T04:30:00Z", "2026-03-07"),
            ("2026-03-08T06:59:00Z", "2026-03-08"),
            ("2026-03-08T07:01:00Z", "2026-03-08"),
            ("2026-03-09T03:45:00Z", "2026-03-08"),
            ("2026-03-09T04:15:00Z", "2026-03-09"),
        ],
    ),
    "Lord Howe, half an hour twice": (
        "Australia/Lord_Howe",
        [
            ("2026-04-04T12:30:00Z", "2026-04-04"),
            ("2026-04-04T14:45:00Z", "2026-04-05"),
            ("2026-04-04T15:15:00Z", "2026-04-05"),
            ("2026-04-05T13:15:00Z", "2026-04-05"),
            ("2026-04-05T13:45:00Z", "2026-04-06"),
        ],
    ),
    "Lord Howe, half an hour left out": (
        "Australia/Lord_Howe",
        [
            ("2026-10-03T13:00:00Z", "2026-10-03"),
            ("2026-10-03T15:29:00Z", "2026-10-04"),
            ("2026-10-03T15:31:00Z", "2026-10-04"),
            ("2026-10-04T12:45:00Z", "2026-10-04"),
            ("2026-10-04T13:15:00Z", "2026-10-05"),
        ],
    ),
}


@pytest.mark.parametrize("change", CHANGES)
def test_when_the_clocks_change_each_session_is_of_one_day(phone, clinic, live_world, change):
    zone, moments = CHANGES[change]
    for instant, day in moments:  # the table itself, by the library's own time zones
        local = datetime.fromisoformat(instant).astimezone(ZoneInfo(zone))
        assert local.date().isoformat() == day
    clinic.kill()
    clinic.start(now=moments[0][0].replace("Z", "+00:00"))
    page = phone.start(timezone_id=zone)
    page.clock.install(time=moments[0][0])
    enrolled(page, clinic.address, live_world)
    clinic.kill()
    for instant, day in moments:
        page.clock.set_system_time(instant)
        page.goto(f"{clinic.address}/home/")
        ready(page)
        assert page.evaluate("home.day()") == day
        days = [date.fromisoformat(page.evaluate(f"home.day({moved})")) for moved in (-1, 0, 1)]
        assert {later - earlier for earlier, later in pairwise(days)} == {timedelta(days=1)}
        if page.locator("[data-screen=score]").is_visible():  # asks for the morning after
            page.locator("[data-score='']").tap()
        if page.get_by_role(
            "button", name="Not now"
        ).is_visible():  # and why yesterday's is missing
            page.get_by_role("button", name="Not now").tap()
        if page.locator("[data-start]").is_visible():
            do_session(page)
        else:  # both of that day are done: one more, beside them
            page.locator("[data-extra]").tap()
            do_session(page, begun=True)
    waiting = waiting_on(page)
    assert len(waiting) == len(moments)
    clinic.start(now=moments[-1][0].replace("Z", "+00:00"))
    all_sent(page)
    once_each(waiting)
    days = sorted(str(day) for day in Revision.objects.values_list("day", flat=True))
    assert days == sorted(day for _, day in moments)
    middle = Revision.objects.filter(day=moments[1][1]).order_by("began_at")
    assert [revision.occasion for revision in middle] == [1, 2, None]
    page.wait_for_function("() => home.store.kept('contact') !== null")
    until = time.monotonic() + 10
    while str(PhoneStore.objects.get().last_empty_day) != moments[-1][1]:
        assert time.monotonic() < until, PhoneStore.objects.get().last_empty_day
        page.wait_for_timeout(100)


def enrol_by(page, clinic, world, patient):
    link = phones.make_invite(by=world.therapist, patient=patient, now=timezone.now())
    page.goto(f"{clinic.address}/home/join#{link.partition('#')[2]}")
    page.locator("[data-join]").tap()
    page.wait_for_url("**/home/")
    ready(page)


def test_a_phone_shut_out_keeps_what_it_has_and_sends_it_to_nobody_else(phone, clinic, live_world):
    page = enrolled(phone.start(), clinic.address, live_world)
    clinic.kill()
    do_session(page)
    waiting = waiting_on(page)
    handset = Phone.objects.get()
    phones.revoke_phone(by=live_world.therapist, phone=handset, now=timezone.now())
    clinic.start()
    page.evaluate("void home.send.flush()")
    page.wait_for_function("() => home.store.kept('plan') === null")
    page.reload()
    expect(page.get_by_text("This phone isn’t set up")).to_be_visible()
    expect(page.get_by_text("stays on this phone.")).to_be_visible()
    assert Revision.objects.count() == 0
    other = PatientFactory()
    issue(other, live_world.therapist)
    enrol_by(page, clinic, live_world, other)  # the phone is another's now
    expect(page.get_by_text("Sessions of another person wait on this phone.")).to_be_visible()
    page.evaluate("home.send.flush()")
    assert waiting_on(page) == waiting
    assert Revision.objects.count() == 0
    enrol_by(page, clinic, live_world, live_world.patient)
    all_sent(page)
    once_each(waiting)
    assert Revision.objects.get().patient == live_world.patient


def test_signing_out_as_staff_in_the_same_browser_leaves_the_phone_alone(phone, clinic, live_world):
    page = enrolled(phone.start(), clinic.address, live_world)
    clinic.kill()
    do_session(page)
    waiting = waiting_on(page)
    clinic.start()
    staff = phone.context.new_page()
    staff.goto(f"{clinic.address}/sign-in/")
    staff.locator("[name=username]").fill(live_world.therapist.username)
    staff.locator("[name=password]").fill(PASSWORD)
    staff.keyboard.press("Enter")
    staff.get_by_role("button", name="Sign out").click()
    staff.wait_for_url("**/sign-in/**")
    all_sent(page)
    once_each(waiting)


class Backup:
    """A copy of the clinic's database, taken and put back as the database's own tools do."""

    def __init__(self):
        self.name = connection.settings_dict["NAME"]
        self.copy = None
        if connection.vendor == "sqlite":
            connection.ensure_connection()
            self.copy = sqlite3.connect(":memory:")
            connection.connection.backup(self.copy)
        else:
            self._copied(f"{self.name}_copy", self.name)

    def put_back(self):
        if self.copy:
            self.copy.backup(connection.connection)
            self.copy.close()
        else:
            self._copied(self.name, f"{self.name}_copy")
            self._run(f'DROP DATABASE "{self.name}_copy"')

    def _copied(self, to, of):
        self._run(f'DROP DATABASE IF EXISTS "{to}" WITH (FORCE)')
        # What the killed server had open may stand a moment longer.
        self._run(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "  # noqa: S608 - a name of our own
            f"WHERE datname = '{of}' AND pid <> pg_backend_pid()"
        )
        self._run(f'CREATE DATABASE "{to}" TEMPLATE "{of}"')

    def _run(self, statement):
        connection.close()
        with connection._nodb_cursor() as cursor:
            cursor.execute(statement)


@pytest.mark.parametrize("opens_anew", [True, False])
def test_a_clinic_put_back_to_its_backup_is_told_all_again(phone, clinic, live_world, opens_anew):
    page = enrolled(phone.start(), clinic.address, live_world)
    do_session(page)
    all_sent(page)
    kept = {str(uuid) for uuid in Revision.objects.values_list("pk", flat=True)}
    clinic.kill()
    backup = Backup()
    clinic.start()
    page.locator("[data-home]:visible").tap()
    do_session(page)
    made = page.evaluate(QUEUE, 5)
    all_sent(page)
    before = {str(uuid) for uuid in Revision.objects.values_list("pk", flat=True)}
    assert len(before) == 7
    clinic.kill()
    backup.put_back()
    assert {str(uuid) for uuid in Revision.objects.values_list("pk", flat=True)} == kept
    clinic.start()
    if opens_anew:
        reopened(page)
    page.evaluate("void home.send.flush()")
    until = time.monotonic() + 20
    while Revision.objects.count() < len(before):
        assert time.monotonic() < until, "not all was told again"
        page.wait_for_timeout(200)
    all_sent(page)
    assert set(made) < before
    once_each(sorted(before))


def test_a_plan_asked_for_before_a_session_came_forgets_none_of_it(phone, clinic, live_world):
    page = enrolled(phone.start(), clinic.address, live_world)
    held = []

    def hold_one(route):
        if "have=older" in route.request.url and not held:
            held.append((route, route.fetch()))  # as the clinic has it now
        else:
            route.abort()  # no other plan makes up for it

    page.route("**/home/plan?*", hold_one)
    do_session(page)
    all_sent(page)
    page.evaluate("home.store.keep('plan', { ...home.store.kept('plan'), hash: 'older' })")
    page.evaluate("void home.send.flush()")
    until = time.monotonic() + 20
    while not held:
        assert time.monotonic() < until, "no plan was asked for"
        page.wait_for_timeout(50)
    made = page.evaluate(QUEUE, 3)
    page.evaluate("void home.send.flush()")
    page.wait_for_timeout(500)  # time enough to send them, were it to
    [(route, answer)] = held
    route.fulfill(response=answer)
    page.wait_for_function("() => home.store.kept('plan').hash !== 'older'")
    all_sent(page)
    kept = page.evaluate("home.store.kept('plan').data.records.map((one) => one.uuid)")
    assert set(made) < set(kept)


# The bug to be found: each sending makes its records new UUIDs, so that nothing is known again.
FORGETS_ITS_UUIDS = """() => {
  const { all } = home.outbox;
  const fresh = (record) => ({ ...record, uuid: home.uuid(), entry: home.uuid() });
  const anew = (row) => ({ ...row, record: fresh(row.record) });
  home.outbox.all = async () => (await all()).map(anew);
}"""


def test_two_windows_with_a_planted_bug_are_found_out(phone, clinic, live_world):
    page = enrolled(phone.start(), clinic.address, live_world)
    clinic.kill()
    made = page.evaluate(QUEUE, 10)
    other = phone.context.new_page()
    other.goto(f"{clinic.address}/home/")
    ready(other)
    for window in (page, other):  # before there is a server that an honest record could reach
        window.evaluate(FORGETS_ITS_UUIDS)
    clinic.start()
    for window in (page, other):
        window.evaluate("void home.send.flush()")
    until = time.monotonic() + 20
    while Revision.objects.count() <= len(made) and time.monotonic() < until:
        page.wait_for_timeout(200)
    with pytest.raises(AssertionError):
        once_each(made)
