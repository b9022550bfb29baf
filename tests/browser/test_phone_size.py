"""What a phone has to fetch, counted on the line from the production server, all of it included."""

import gzip
import os
import re
import socket
import subprocess
import sys
import threading
import time
from urllib.request import urlopen

import pytest
from django.conf import settings
from django.utils import timezone

from plans.exercise import movement_of
from plans.figure import moving_data
from tests.browser.handset import (
    ROOT,
    START_WITHIN_S,
    Handset,
    database_url_of_the_test,
    enrolled,
    free_port,
    ready,
)
from tests.plans.test_safety_pages import limit as set_limit
from tests.world import issue, shipped_exercises, stock

FIRST_VISIT_KB = 150
FIRST_VISIT_WITHOUT_FIGURES_KB = 80
LATER_VISIT_KB = 4


class Meter(threading.Thread):
    """Stands between phone and clinic and counts the bytes that the clinic sends, heads as well."""

    def __init__(self, to_port):
        super().__init__(daemon=True)
        self.to_port = to_port
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.port = self.listener.getsockname()[1]
        self.sent_bytes = 0

    def run(self):
        while True:
            near, _ = self.listener.accept()
            far = socket.create_connection(("127.0.0.1", self.to_port))
            for here, there, counts in ((near, far, False), (far, near, True)):
                threading.Thread(target=self.carry, args=(here, there, counts), daemon=True).start()

    def carry(self, here, there, counts):
        try:
            while part := here.recv(65536):
                self.sent_bytes += len(part) if counts else 0
                there.sendall(part)
            there.shutdown(socket.SHUT_WR)
        except OSError:
            pass  # either end hung up
        finally:
            if counts:
                here.close()
                there.close()


@pytest.fixture
def meter(live_world):
    """The production server behind a meter."""
    port = free_port()
    meter = Meter(port)
    meter.start()
    environment = os.environ | {
        "DJANGO_SETTINGS_MODULE": "clinic.settings",
        "HANDRAIL_DATA_DIR": str(settings.DATA_DIR),
        "HANDRAIL_PUBLIC_ADDRESS": f"http://localhost:{meter.port}",
        "DATABASE_URL": database_url_of_the_test(),
    }
    command = [sys.executable, ROOT / "manage.py", "serve", "--port", str(port), "--workers", "1"]
    process = subprocess.Popen(
        command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    until = time.monotonic() + START_WITHIN_S
    while True:
        try:
            urlopen(f"http://localhost:{port}/home/shell", timeout=2).close()
            break
        except OSError:
            assert time.monotonic() < until, "the server did not start"
            time.sleep(0.1)
    yield meter
    process.terminate()
    process.wait(timeout=30)


def heaviest(count):
    """The steps whose moving figures take most, one an exercise."""
    sizes = {
        (key, step.effort): len(moving_data(movement_of(exercise, step), "right"))
        for key, exercise in shipped_exercises().items()
        for step in exercise.steps
        if len(step.poses) > 1
    }
    found = {}
    for key, effort in sorted(sizes, key=sizes.get, reverse=True):
        found.setdefault(key, effort)
    return list(found.items())[:count]


def kb(meter, since=0):
    return (meter.sent_bytes - since) / 1000


def compressed_kb(text):
    return len(gzip.compress(text.encode(), 6)) / 1000


def without_figures(text):
    return re.sub(r'<svg.*?</svg>|data-frames="[^"]*"', "", text)


def test_the_first_visit_is_small_and_later_ones_are_nothing_but_data(
    playwright, tmp_path, meter, live_world
):
    chosen = heaviest(8)
    stock(*(key for key, _ in chosen))
    lines = [{"exercise": key, "step": effort.key} for key, effort in chosen]
    issue(live_world.patient, live_world.therapist, timezone.now().date(), lines)
    for kind in ("bearing", "traction", "orthosis"):
        set_limit(live_world, kind=kind)
    address = f"http://localhost:{meter.port}"
    phone = Handset(playwright, tmp_path / "phone")
    try:
        page = enrolled(phone.start(), address, live_world)
        assert page.locator("[data-screen=reading] .moving svg").count() == 8
        page.wait_for_timeout(500)
        first_kb = kb(meter)
        text = page.context.request.get(f"{address}/home/").text()
        bare = without_figures(text)
        assert bare.count("<article") >= 8
        figures_kb = compressed_kb(text) - compressed_kb(bare)
        print(f"first visit {first_kb:.1f} kB, {figures_kb:.1f} of it figures")  # noqa: T201
        assert 10 < first_kb < FIRST_VISIT_KB
        assert 10 < first_kb - figures_kb < FIRST_VISIT_WITHOUT_FIGURES_KB
        before = meter.sent_bytes
        page.reload()
        ready(page)
        page.wait_for_timeout(1_000)
        later_kb = kb(meter, before)
        print(f"later visit {later_kb:.1f} kB")  # noqa: T201
        assert 0 < later_kb < LATER_VISIT_KB
    finally:
        phone.close()
