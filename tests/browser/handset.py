"""A clinic's server and a patient's phone as processes of their own, to be cut off and killed."""

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path
from urllib.parse import urlsplit
from urllib.request import urlopen

from django.conf import settings
from django.db import connection
from django.utils import timezone
from playwright.sync_api import Error, expect

from logs.models import Revision
from patients import phones
from tests.conftest import CHROMIUM

ROOT = Path(__file__).resolve().parents[2]
START_WITHIN_S = 45
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


# Serves the clinic on a port; another worker's script may stand in for ours, and another clock.
SERVE = """
import datetime, sys, django
from pathlib import Path
django.setup()
from django.core.management import call_command
from logs import phone_shell
if sys.argv[2]:
    phone_shell._WORKER = Path(sys.argv[2])
if sys.argv[3]:
    from django.utils import timezone
    ahead = datetime.datetime.fromisoformat(sys.argv[3]) - timezone.now()
    timezone.now = lambda: datetime.datetime.now(datetime.UTC) + ahead
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

    def start(self, worker=None, now=None):
        """Serve; ``now`` sets the clock of the server, which runs on from there."""
        environment = os.environ | {
            "DJANGO_SETTINGS_MODULE": "tests.settings",
            "HANDRAIL_DATA_DIR": str(settings.DATA_DIR),
            "HANDRAIL_PUBLIC_ADDRESS": self.address,
            "DATABASE_URL": database_url_of_the_test(),
        }
        self.process = subprocess.Popen(
            [sys.executable, "-c", SERVE, str(self.port), str(worker or ""), str(now or "")],
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
        self.kill()
        raise AssertionError("the server did not start")

    def kill(self):
        if self.process:
            self.process.kill()
            self.process.wait()
            self.process = None


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
        # A clinic that is down or a phone that hangs up makes a dead line, not a fault of the test.
        behind = ("127.0.0.1", self.clinic.port)
        with near, suppress(OSError), socket.create_connection(behind) as far:
            self.carry_between(near, far)

    def carry_between(self, near, far):
        request = near.recv(65536)
        if not request:
            return
        is_entries = request.startswith(b"POST /home/entries")
        head, _, body = request.partition(b"\r\n\r\n")
        length = 0
        for line in head.split(b"\r\n"):
            if line.lower().startswith(b"content-length:"):
                length = int(line.split(b":")[1])
        while len(body) < length:
            part = near.recv(65536)
            if not part:
                return
            body += part
        head = b"\r\n".join(
            line for line in head.split(b"\r\n") if not line.lower().startswith(b"connection:")
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

    def start(self, **more):
        device = dict(self.playwright.devices["Pixel 7"])
        del device["default_browser_type"]
        self.context = self.playwright.chromium.launch_persistent_context(
            str(self.folder), executable_path=CHROMIUM, args=ARGUMENTS, **device, **more
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


def reopened(page):
    """Open the page anew once all it keeps is on the disk: what came last has ended by then."""
    page.evaluate("home.store.run(['notes', 'outbox', 'received'], 'readwrite', () => undefined)")
    page.reload()
    ready(page)


def do_session(page, *, tap=True, begun=False, saved="Saved on this phone."):
    steps = [
        "[data-start]",
        "[data-score='1']",
        "[data-finish]",
        "[data-why-none]:visible",
        "[data-score='2']",
        "[data-score='2']",
        "[data-hurt-unsaid]",
        "[data-save]",
    ]
    for step in steps[begun:]:
        button = page.locator(step)
        button.tap() if tap else button.click()
    if saved:
        expect(page.locator("[data-screen=done]").get_by_text(saved)).to_be_visible()


def waiting_on(page):
    return page.evaluate("home.outbox.all().then((rows) => rows.map((row) => row.uuid))")


def all_sent(page):
    """Wait until nothing waits, also over a page that opens itself anew on what it has learnt."""
    page.evaluate("void home.send.flush()")
    until = time.monotonic() + 20
    while True:
        try:
            if not waiting_on(page):
                return
        except Error as gone:
            if "navigation" not in str(gone):
                raise
            ready(page)
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
