"""What may go wrong with a phone, done for real: a server process, cut lines, killed browsers.

The criterion of each: what was said to be saved is at the clinic once, and nothing more. The
counts are printed.
"""

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlsplit
from urllib.request import urlopen

import pytest
from django.conf import settings
from django.db import connection
from django.utils import timezone
from playwright.sync_api import expect

from logs.models import Revision
from patients import phones
from patients.models import Phone, PhoneStore
from tests.browser.conftest import ARGUMENTS
from tests.conftest import CHROMIUM

ROOT = Path(__file__).resolve().parents[2]
START_WITHIN_S = 15


# Serves the clinic on a port; another worker's script may stand in for ours.
SERVE = """
import sys, django
from pathlib import Path
django.setup()
from django.core.management import call_command
from logs import phone_shell
if sys.argv[2]:
    phone_shell._WORKER = Path(sys.argv[2])
call_command("runserver", sys.argv[1], use_reloader=False)
"""


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def database_url_of_the_test():
    """Return where another process finds the database of the test."""
    name = connection.settings_dict["NAME"]
    if connection.vendor == "sqlite":
        return f"sqlite:///{name}"
    return urlsplit(os.environ["DATABASE_URL"])._replace(path=f"/{name}").geturl()


class Clinic:
    """The clinic's server as a process of its own, on the database of the test."""

    def __init__(self):
        self.port = free_port()
        self.process = None

    @property
    def address(self):
        return f"http://localhost:{self.port}"

    def start(self, worker=None):
        environment = os.environ | {
            "DJANGO_SETTINGS_MODULE": "tests.settings",
            "HANDRAIL_DATA_DIR": str(settings.DATA_DIR),
            "HANDRAIL_PUBLIC_ADDRESS": self.address,
            "DATABASE_URL": database_url_of_the_test(),
        }
        self.process = subprocess.Popen(
            [sys.executable, "-c", SERVE, str(self.port), str(worker or "")],
            cwd=ROOT,
            env=environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        until = time.monotonic() + START_WITHIN_S
        while time.monotonic() < until:
            try:
                with urlopen(f"{self.address}/home/shell", timeout=2):  # noqa: S310 - ours
                    return
            except OSError:
                time.sleep(0.1)
        raise AssertionError("the server did not start")

    def kill(self):
        if self.process:
            self.process.kill()
            self.process.wait()
            self.process = None


@pytest.fixture
def clinic(live_world):
    clinic = Clinic()
    clinic.start()
    yield clinic
    clinic.kill()


class Cutter(threading.Thread):
    """Stands between phone and clinic, and can cut a line after the clinic has answered."""

    def __init__(self, clinic, *, port):
        super().__init__(daemon=True)
        self.clinic = clinic
        self.cuts_left = 1
        self.cut = 0
        self.listener = socket.create_server(("127.0.0.1", port))

    def run(self):
        while True:
            near, _ = self.listener.accept()
            threading.Thread(target=self.carry, args=(near,), daemon=True).start()

    def carry(self, near):
        with near, socket.create_connection(("127.0.0.1", self.clinic.port)) as far:
            request = near.recv(65536)
            if request:
                is_entries = request.startswith(b"POST /home/entries")
                head, _, body = request.partition(b"\r\n\r\n")
                length = 0
                for line in head.split(b"\r\n"):
                    if line.lower().startswith(b"content-length:"):
                        length = int(line.split(b":")[1])
                while len(body) < length:
                    body += near.recv(65536)
                head = b"\r\n".join(
                    line
                    for line in head.split(b"\r\n")
                    if not line.lower().startswith(b"connection:")
                )
                far.sendall(head + b"\r\nConnection: close\r\n\r\n" + body)
                answer = b""
                while part := far.recv(65536):
                    answer += part
                if is_entries and self.cuts_left and b" 200 " in answer.split(b"\r\n")[0]:
                    self.cuts_left -= 1
                    self.cut += 1
                    return
                near.sendall(answer)


class Handset:
    """A browser on one folder: started, closed and killed, it stays the same phone."""

    def __init__(self, playwright, folder):
        self.playwright = playwright
        self.folder = folder
        self.context = None

    def start(self):
        device = dict(self.playwright.devices["Pixel 7"])
        del device["default_browser_type"]
        self.context = self.playwright.chromium.launch_persistent_context(
            str(self.folder), executable_path=CHROMIUM, args=ARGUMENTS, **device
        )
        self.context.set_default_timeout(10_000)
        return self.context.pages[0]

    def close(self):
        if self.context:
            self.context.close()
            self.context = None

    def kill(self):
        """End the browser as a flat battery would: all its processes, without a word."""
        mark = f"--user-data-dir={self.folder}".encode()
        ours = []
        for process in Path("/proc").glob("[0-9]*"):
            try:
                if mark in (process / "cmdline").read_bytes().split(b"\0"):
                    ours.append(int(process.name))
            except OSError:
                continue
        assert ours
        for pid in ours:
            os.kill(pid, signal.SIGKILL)
        self.context = None


@pytest.fixture
def phone(playwright, tmp_path):
    phone = Handset(playwright, tmp_path / "phone")
    yield phone
    phone.close()


def enrolled(page, address, world):
    link = phones.make_invite(by=world.therapist, patient=world.patient, now=timezone.now())
    page.goto(f"{address}/home/join#{link.partition('#')[2]}")
    page.locator("[data-join]").tap()
    page.wait_for_url("**/home/")
    ready(page)
    page.evaluate("navigator.serviceWorker.ready.then((it) => it.active.state)")
    page.wait_for_function("() => home.store.kept('plan') !== null")
    return page


def ready(page):
    expect(page.locator("html[data-ready]")).to_have_count(1)


def do_session(page, *, tap=True, begun=False, saved="Saved on this phone."):
    steps = [
        "[data-start]",
        "[data-score='1']",
        "[data-finish]",
        "[data-score='2']",
        "[data-score='2']",
        "[data-save]",
    ]
    for step in steps[begun:]:
        button = page.locator(step)
        button.tap() if tap else button.click()
    expect(page.locator("[data-screen=done]").get_by_text(saved)).to_be_visible()


def waiting_on(page):
    return page.evaluate("home.outbox.all().then((rows) => rows.map((row) => row.uuid))")


def all_sent(page):
    page.evaluate("void home.send.flush()")
    until = time.monotonic() + 20
    while waiting_on(page):
        assert time.monotonic() < until, "something still waits"
        page.wait_for_timeout(100)


# Puts as many sessions into the queue as are named, and tells their UUIDs.
QUEUE = """async (count) => {
  const made = [];
  for (let n = 0; n < count; n++) {
    const record = { v: 1, uuid: home.uuid(), entry: home.uuid(), replaces: null,
      owner: home.data.owner, day: home.day(), occasion: null, version: home.data.newest,
      began_at: new Date().toISOString(), zone: home.zone(), pain_before: null, pain_worst: null,
      pain_after: null, pain_next_morning: null, effort: null, note: "x".repeat(400),
      performances: [] };
    await home.outbox.add(record);
    made.push(record.uuid);
  }
  return made;
}"""


def once_each(uuids):
    """Assert that the clinic has exactly these, and print the counts."""
    held = sorted(str(uuid) for uuid in Revision.objects.values_list("pk", flat=True))
    lost, more = set(uuids) - set(held), set(held) - set(uuids)
    print(f"saved {len(uuids)}, held {len(held)}, lost {len(lost)}, more {len(more)}")  # noqa: T201
    assert (sorted(uuids), lost, more) == (held, set(), set())


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
    page.reload()
    ready(page)
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
    page.reload()
    ready(page)
    first = page.locator("meta[name=home-shell]").get_attribute("content")
    page.locator("[data-start]").tap()
    page.locator("[data-score='1']").tap()
    words = ROOT / "logs/static/logs/home/worker.js"
    clinic.kill()
    newer = tmp_path / "worker.js"
    newer.write_text(words.read_text() + "// newer\n")
    clinic.start(worker=newer)
    page.evaluate("navigator.serviceWorker.getRegistration().then((it) => it.update())")
    page.evaluate("void home.send.flush()")
    page.wait_for_timeout(1500)
    states = (
        "navigator.serviceWorker.getRegistration()"
        ".then((it) => [it.waiting?.state, it.active.state])"
    )
    assert page.evaluate(states) == ["installed", "activated"]
    page.locator("[data-finish]").tap()
    page.locator("[data-score='2']").tap()
    page.locator("[data-score='2']").tap()
    page.locator("[data-save]").tap()
    expect(page.locator("[data-sent=received]")).to_be_visible()
    page.locator("[data-home]:visible").tap()
    expect(page.get_by_text("Session 1 of 2: done")).to_be_visible()
    page.wait_for_timeout(2000)  # the page asks the newer worker in, and opens itself anew
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
    do_session(page)
    all_sent(page)
    handset = Phone.objects.get()
    assert abs(handset.clock_ahead_s - 24 * 3600) < 60
    assert Revision.objects.get().day == timezone.now().date() + timedelta(days=1)
    last_empty = PhoneStore.objects.get().last_empty_day
    assert last_empty is not None
    assert last_empty <= phones.local_day(live_world.patient, timezone.now())
