"""What all tests share: the world, signed-in clients, no network, and what must not be skipped."""

import os
import shutil
import socket

import pytest
from hypothesis import HealthCheck, settings

from tests.world import World, make_world

# The browser driver keeps an event loop in this thread, which Django takes for asynchronous code.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")

settings.register_profile(
    "house", deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)
settings.load_profile("house")

CHROMIUM = shutil.which("chromium") or shutil.which("google-chrome")
MUST_RUN_ALL = os.environ.get("HANDRAIL_TESTS_MUST_RUN_ALL") == "1"


def pytest_collection_modifyitems(items):
    """Leave browser tests out where there is no Chromium, unless everything must run."""
    if CHROMIUM or MUST_RUN_ALL:
        return
    for item in items:
        if item.get_closest_marker("browser"):
            item.add_marker(pytest.mark.skip(reason="Chromium is not installed"))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    """Where everything must run, a skipped test is a failed one."""
    report = yield
    if MUST_RUN_ALL and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
    return report


@pytest.fixture(autouse=True)
def _no_network(monkeypatch):
    """Refuse every connection but those to this machine."""
    real_connect = socket.socket.connect

    def connect(self, address):
        if isinstance(address, tuple) and address[0] not in {"127.0.0.1", "::1", "localhost"}:
            raise OSError(f"tests use no network: {address}")
        return real_connect(self, address)

    monkeypatch.setattr(socket.socket, "connect", connect)


@pytest.fixture
def world(db) -> World:
    """Return the shared small world, in the test's database."""
    return make_world()


@pytest.fixture
def as_staff(client):
    """Return a function that signs the test client in as someone and returns it."""

    def sign_in(user):
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        return client

    return sign_in
