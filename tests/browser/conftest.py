"""Real Chromium against a live server: desktop and phone pages, sign-in, axe."""

import threading
import time
from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings as django_settings
from django.db import connection
from django.test import Client
from playwright.sync_api import Error

from tests.browser.handset import ARGUMENTS, Clinic, Handset
from tests.conftest import CHROMIUM
from tests.world import make_world

AXE_OPTIONS = {"rules": {"target-size": {"enabled": True}}}


def pytest_collection_modifyitems(items):
    """Mark all that lives here, and give each test a database that other threads can read."""
    for item in items:
        if "tests/browser/" in str(item.path):
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.django_db(transaction=True))


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
    return {**browser_type_launch_args, "executable_path": CHROMIUM, "args": ARGUMENTS}


@pytest.fixture(scope="session")
def base_url():
    """Stand in for the plugin's own fixture, which pytest warns of: addresses are given whole."""


@pytest.fixture(scope="session")
def browser_context_args(browser_context_args):
    return {**browser_context_args, "viewport": {"width": 1280, "height": 860}}


class Door:
    """Lets requests through to an application while a test runs; what comes later is refused."""

    def __init__(self, application):
        self._application = application
        self._changed = threading.Condition()
        self._inside = 0
        self._is_open = False

    def __call__(self, environ, start_response):
        with self._changed:
            if not self._is_open:
                start_response("503 Service Unavailable", [("Content-Length", "0")])
                return [b""]
            self._inside += 1
        try:
            return self._application(environ, start_response)
        finally:
            with self._changed:
                self._inside -= 1
                self._changed.notify_all()

    def open(self):
        with self._changed:
            self._is_open = True

    def close(self):
        """Let nobody in, and wait until all are out."""
        with self._changed:
            self._is_open = False
            assert self._changed.wait_for(lambda: not self._inside, timeout=20), "still answering"


@pytest.fixture(scope="session")
def live_server(live_server):
    """Return the plugin's server, with a door before it."""
    httpd = live_server.thread.httpd
    live_server.door = Door(httpd.get_app())
    httpd.set_app(live_server.door)
    return live_server


@pytest.fixture(autouse=True)
def _answered(request, transactional_db):
    """Let servers end what they still answer before the tables are emptied: no deadlock."""
    served = "live_server" in request.fixturenames
    door = request.getfixturevalue("live_server").door if served else None
    if door:
        door.open()
    yield
    if door:
        door.close()
    if connection.vendor == "postgresql":
        _wait_for_killed_servers()


def _wait_for_killed_servers():
    until = time.monotonic() + 10
    others = (
        "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database()"
        " AND pid <> pg_backend_pid() AND state <> 'idle'"
    )
    while time.monotonic() < until:
        with connection.cursor() as cursor:
            cursor.execute(others)
            if cursor.fetchone() == (0,):
                return
        time.sleep(0.05)


@pytest.fixture
def live_world(transactional_db):
    """Return the small world, committed, so that the live server sees it."""
    return make_world()


@pytest.fixture
def staff_page(page, live_server):
    """Return a function that opens the live server's pages as someone, already signed in."""

    def open_as(user, path="/"):
        client = Client()
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        name = django_settings.SESSION_COOKIE_NAME
        page.context.add_cookies(
            [{"name": name, "value": client.cookies[name].value, "url": live_server.url}]
        )
        page.goto(live_server.url + path)
        return page

    return open_as


@pytest.fixture
def phone_context(browser, playwright, live_server):
    """Return a browser context that is a phone: touch, 412 px wide, its own storage."""
    context = browser.new_context(**playwright.devices["Pixel 7"], base_url=live_server.url)
    context.set_default_timeout(timedelta(seconds=10).total_seconds() * 1000)
    yield context
    context.close()


@pytest.fixture
def violations():
    """Return a function that lists what axe finds wrong on a page, target sizes included."""

    def looked_at(page):
        return Axe().run(page, options=AXE_OPTIONS).response["violations"]

    def run(page):
        try:
            results = looked_at(page)
        except Error as gone:  # a phone's page that has just opened itself anew, on a newer plan
            if not any(words in str(gone) for words in ("axe is not defined", "navigation")):
                raise
            page.wait_for_load_state()
            results = looked_at(page)
        return [
            f"{rule['id']}: {node['target']} {node['failureSummary']}"
            for rule in results
            for node in rule["nodes"]
        ]

    return run


@pytest.fixture
def clinic(live_world):
    """Return the clinic's server as a process of its own, started."""
    clinic = Clinic()
    clinic.start()
    yield clinic
    clinic.kill()


@pytest.fixture
def phone(playwright, tmp_path):
    """Return a phone as a browser of its own, not yet started."""
    phone = Handset(playwright, tmp_path / "phone")
    yield phone
    phone.close()
