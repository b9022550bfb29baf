"""The production server, started as a process of its own and asked over HTTP."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

import pytest
from django.conf import settings

MANAGE = Path(settings.BASE_DIR) / "manage.py"
POLICY = "content-security-policy"


def environment(folder):
    kept = {k: v for k, v in os.environ.items() if not k.startswith("HANDRAIL_")}
    kept.pop("DATABASE_URL", None)
    return kept | {
        "HANDRAIL_DATA_DIR": str(folder),
        "DJANGO_SETTINGS_MODULE": "clinic.settings",
        "PYTHONUNBUFFERED": "1",
    }


def run(folder, *words, **more):
    return subprocess.run(
        [sys.executable, MANAGE, *words],
        env=environment(folder) | more,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A data folder that was set up."""
    folder = tmp_path_factory.mktemp("served")
    (folder / "password").write_text("a long walk home\n")
    done = run(folder, "setup", "--administrator", "keeper", "--password-file", folder / "password")
    assert done.returncode == 0, done.stderr
    return folder


@pytest.fixture
def server(folder):
    """The running server: its process and its address."""
    port = free_port()
    process = subprocess.Popen(
        [sys.executable, MANAGE, "serve", "--port", str(port)],
        env=environment(folder),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    address = f"http://127.0.0.1:{port}"
    try:
        wait_for(address)
        yield process, address
    finally:
        if process.poll() is None:
            process.terminate()
        try:
            process.communicate(timeout=40)
        except subprocess.TimeoutExpired:
            process.kill()  # its workers end with it
            raise


def wait_for(address, seconds=60):
    deadline = time.monotonic() + seconds
    while True:
        try:
            return get(address + "/sign-in/")
        except (URLError, ConnectionError):
            if time.monotonic() > deadline:
                raise
            time.sleep(0.1)


def get(address):
    with urlopen(address, timeout=20) as answer:  # noqa: S310 (our own server)
        assert answer.status == 200
        return {k.lower(): v for k, v in answer.headers.items()}, answer.read().decode(
            errors="replace"
        )


def test_it_serves_pages_and_hashed_static_files_under_the_policy_and_stops_on_term(server):
    process, address = server
    headers, page = get(address + "/sign-in/")
    assert "script-src 'self'" in headers[POLICY]
    sheet = re.search(r'href="(/static/clinic/staff\.[0-9a-f]{12}\.css)"', page)
    assert sheet, page
    headers, _ = get(address + sheet[1])
    assert "script-src 'self'" in headers[POLICY]
    assert "immutable" in headers["cache-control"]
    process.send_signal(signal.SIGTERM)
    out, err = process.communicate(timeout=30)
    assert process.returncode == 0, err
    assert out.startswith(f"Serving {address}, ")
    assert err == ""


def test_all_that_a_phone_keeps_for_days_without_a_network_is_there(server):
    _, address = server
    headers, script = get(address + "/home/worker.js")
    assert headers["content-type"].startswith("text/javascript")
    kept = json.loads(re.search(r"const ASSETS = (\[.*\]);", script)[1])
    assert len(kept) > 5
    for asset in [*kept, "/home/shell", "/home/manifest.webmanifest"]:
        get(address + asset)  # anything but 200 raises


def test_it_stops_cleanly_when_a_terminal_interrupts_the_workers_too(server):
    process, _ = server
    os.killpg(process.pid, signal.SIGINT)
    _, err = process.communicate(timeout=30)
    assert process.returncode == 0, err


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="finds the worker through /proc")
def test_a_worker_that_is_killed_is_replaced(server):
    process, address = server
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children")

    def workers():
        return set(map(int, children.read_text().split()))

    (old,) = workers()
    os.kill(old, signal.SIGKILL)
    wait_for(address)
    assert old not in workers()
    process.send_signal(signal.SIGTERM)
    process.communicate(timeout=30)
    assert process.returncode == 0


def test_the_workers_end_when_the_first_process_is_killed(server):
    process, address = server
    process.kill()
    process.communicate(timeout=30)  # until the last holder of its output is gone
    with pytest.raises(URLError):
        get(address + "/sign-in/")


def test_a_second_server_on_the_same_port_is_refused(server, folder):
    _, address = server
    done = run(folder, "serve", "--port", address.rsplit(":", 1)[1])
    assert done.returncode == 1
    assert "already in use" in done.stderr


def test_it_refuses_a_database_that_was_not_set_up(tmp_path):
    done = run(tmp_path, "serve", "--port", str(free_port()))
    assert done.returncode == 1
    assert "run `uv run manage.py setup` first" in done.stderr


@pytest.mark.parametrize(
    ("words", "address", "sentence"),
    [
        (["--certificate", "some.pem"], "http://localhost:8000", "both --certificate and --key"),
        ([], "https://clinic.example", "give --certificate and --key"),
        (["--certificate", "none.pem", "--key", "none.key"], "https://clinic.example", "No such"),
    ],
)
def test_it_refuses_encryption_that_cannot_work(folder, words, address, sentence):
    done = run(folder, "serve", "--port", str(free_port()), *words, HANDRAIL_PUBLIC_ADDRESS=address)
    assert done.returncode == 1
    assert sentence in done.stderr
