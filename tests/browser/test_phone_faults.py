"""What may go wrong with a phone, done for real: a server process, cut lines, killed browsers.

The criterion of each: what was said to be saved is at the clinic once, and nothing more. The
counts are printed.
"""

import time
from datetime import timedelta

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
    waiting_on,
)
from tests.browser.session_steps import after_pains, stop_here


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
    stop_here(page)
    after_pains(page, "2")
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
