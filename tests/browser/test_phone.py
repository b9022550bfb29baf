"""The patient's phone in Chromium: enrolment, a session, what gets lost on the way, and reading."""

import json
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from logs.models import Revision
from patients import phones
from patients.models import Phone, PhoneStore
from tests.browser.handset import reopened
from tests.browser.session_steps import after_pains, stop_here
from tests.logs.homes import enrol_home
from tests.plans.test_safety_pages import limit as set_limit
from tests.world import issue

NARROWEST_PX = 320
# Every language in every size of text, each in one of the schemes.
LOOKS = [
    ("en", "large", "light"),
    ("es", "large", "dark"),
    ("ar", "large", "light"),
    ("en", "normal", "light"),
    ("en", "largest", "dark"),
    ("es", "normal", "dark"),
    ("es", "largest", "light"),
    ("ar", "normal", "light"),
    ("ar", "largest", "dark"),
]


@pytest.fixture
def home_page(phone_context, live_server, live_world):
    """Return a function that enrols the phone of the world's patient and opens its page."""

    def open_home(**changes):
        for name, value in changes.items():
            setattr(live_world.patient, name, value)
        live_world.patient.save()
        enrol(page)
        expect(page.locator("html[data-ready]")).to_have_count(1)
        return page

    def enrol(page):
        now = timezone.now()
        link = phones.make_invite(by=live_world.therapist, patient=live_world.patient, now=now)
        page.goto(f"{live_server.url}/home/join#{link.partition('#')[2]}")
        page.locator("[data-join]").tap()
        page.wait_for_url("**/home/")

    page = phone_context.new_page()
    problems = []
    page.on("pageerror", lambda problem: problems.append(str(problem)))
    yield open_home
    assert not problems


def press(page, name):
    page.get_by_role("button", name=name, exact=True).tap()


def skip(page):
    press(page, "Skip this one")
    page.locator("[data-why-none]:visible").tap()


def through_the_pains(page, worst="3"):
    after_pains(page, worst)
    press(page, "Save")


def test_a_phone_is_enrolled_and_a_session_reaches_the_clinic(home_page, live_world):
    page = home_page()
    expect(page.get_by_text("Session 1 of 2: not yet")).to_be_visible()
    press(page, "Start session 1")
    page.locator("[data-score='1']").tap()
    expect(page.get_by_role("heading", name="Arm lift to the front, lying down")).to_be_focused()
    press(page, "All of it: 8 times")
    press(page, "Another number")
    page.get_by_role("button", name="You did: less").tap()
    press(page, "That is right")
    through_the_pains(page)
    expect(page.get_by_text("Received by the clinic.", exact=True)).to_be_visible()
    revision = Revision.objects.get()
    assert [done.amounts for done in revision.performances.all()] == [[8], [7]]
    assert all(done.is_confirmed for done in revision.performances.all())
    assert (revision.pain_before, revision.pain_worst, revision.pain_after) == (1, 3, 2)
    assert (revision.occasion, revision.began_at is not None) == (1, True)
    assert revision.time_zone == "UTC" or "/" in revision.time_zone
    press(page, "Back to today")
    expect(page.get_by_text("Session 1 of 2: done")).to_be_visible()
    expect(page.get_by_role("button", name="Start session 2")).to_be_visible()


def test_the_page_reports_that_nothing_waits_after_each_load_and_each_save(home_page):
    page = home_page()
    with page.expect_response("**/home/report") as answer:
        page.reload()
    body = answer.value.request.post_data_json
    assert body["pending"] == 0
    store = PhoneStore.objects.get()
    assert (str(store.store_id), store.is_first) == (body["store"], True)
    assert store.last_empty_day is not None
    press(page, "Start session 1")
    page.locator("[data-score='']").tap()
    skip(page)
    with page.expect_response("**/home/report"):
        skip(page)
        through_the_pains(page)
    assert PhoneStore.objects.count() == 1


def test_what_is_not_confirmed_does_not_count(home_page):
    page = home_page()
    press(page, "Start session 1")
    page.locator("[data-score='0']").tap()
    press(page, "Another number")
    page.locator("[data-more]").tap()
    page.locator("[data-amounts-back]").tap()
    stop_here(page)
    through_the_pains(page)
    expect(page.get_by_text("Received by the clinic.", exact=True)).to_be_visible()
    done = Revision.objects.get().performances.get()
    assert (done.amounts, done.ended, done.why) == ([], "stopped", None)


def test_a_session_put_right_replaces_the_one_before(home_page):
    page = home_page()
    press(page, "Start session 1")
    page.locator("[data-score='0']").tap()
    for _ in range(2):
        press(page, "All of it: 8 times")
    through_the_pains(page)
    press(page, "Back to today")
    reopened(page)
    page.get_by_role("button", name="Put right: Session 1 of 2").tap()
    expect(page.locator("[data-score='0']")).to_have_attribute("aria-pressed", "true")
    page.locator("[data-score='2']").tap()
    expect(page.locator("[data-all]")).to_have_attribute("aria-pressed", "true")
    skip(page)
    press(page, "All of it: 8 times")
    through_the_pains(page, worst="3")
    expect(page.get_by_text("Received by the clinic.", exact=True)).to_be_visible()
    now = Revision.objects.get(is_current=True)
    assert (Revision.objects.count(), now.entry.revisions.count()) == (2, 2)
    assert (now.pain_before, [d.amounts for d in now.performances.all()]) == (2, [[], [8]])


def test_an_answer_lost_on_the_way_stores_the_session_once(home_page, phone_context):
    page = home_page()
    lost = []

    def lose_the_first(route):
        answer = route.fetch()  # the clinic has stored it; the phone never hears
        if lost:
            route.fulfill(response=answer)
        else:
            lost.append(answer)
            route.abort("timedout")

    phone_context.route("**/home/entries", lose_the_first)
    press(page, "Start session 1")
    page.locator("[data-score='0']").tap()
    stop_here(page)
    through_the_pains(page)
    expect(page.get_by_text("Not yet received by the clinic.").last).to_be_visible()
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(page.get_by_text("Received by the clinic.", exact=True)).to_be_visible()
    assert lost
    assert Revision.objects.count() == 1


@pytest.mark.parametrize(
    "answer",
    [
        {"status": 200, "content_type": "text/html", "body": "<h1>Welcome to the café</h1>"},
        {"status": 200, "content_type": "application/json", "body": "{}"},
        {"status": 200, "content_type": "application/json", "body": '{"v":1,"answers":[]}'},
        {"status": 302, "headers": {"Location": "/sign-in/"}},
        {"status": 500, "body": "down"},
    ],
)
def test_only_an_answer_that_names_the_session_counts_as_received(home_page, phone_context, answer):
    page = home_page()
    phone_context.route("**/home/entries", lambda route: route.fulfill(**answer))
    press(page, "Start session 1")
    page.locator("[data-score='0']").tap()
    stop_here(page)
    through_the_pains(page)
    expect(page.get_by_text("Not yet received by the clinic.").last).to_be_visible()
    expect(page.get_by_text("Received by the clinic.", exact=True)).to_be_hidden()
    phone_context.unroute("**/home/entries")
    with page.expect_response("**/home/report"):
        page.reload()  # what waited is still there, and goes
    assert Revision.objects.count() == 1
    expect(page.get_by_text("Session 1 of 2: done")).to_be_visible()


def test_what_the_clinic_refuses_stays_on_the_phone_and_counts_as_not_sent(
    home_page, phone_context
):
    page = home_page()

    def refuse(route):
        sent = route.request.post_data_json["entries"]
        answers = [{"uuid": r["uuid"], "result": "rejected", "code": "conflict"} for r in sent]
        route.fulfill(json={"v": 1, "answers": answers})

    phone_context.route("**/home/entries", refuse)
    press(page, "Start session 1")
    page.locator("[data-score='0']").tap()
    stop_here(page)
    through_the_pains(page)
    expect(page.locator("[data-sent=refused]")).to_be_visible()
    with page.expect_response("**/home/report") as answer:
        page.reload()
    assert answer.value.request.post_data_json["pending"] == 1
    expect(page.locator("[data-sending=refused]")).to_be_visible()


def test_a_phone_shut_out_is_told_whom_to_ring(home_page, live_world):
    page = home_page()
    press(page, "Start session 1")
    page.locator("[data-score='0']").tap()
    stop_here(page)
    phones.revoke_phone(by=live_world.therapist, phone=Phone.objects.get(), now=timezone.now())
    through_the_pains(page)
    expect(page.get_by_text("has closed this phone’s access").last).to_be_visible()
    assert not Revision.objects.exists()


def test_yesterday_is_put_in_and_marked_so(home_page):
    page = home_page()
    press(page, "Put in yesterday")
    expect(page.locator("[data-screen=score] [data-yesterday]")).to_contain_text("For ")
    page.locator("[data-score='']").tap()
    for _ in range(2):
        press(page, "All of it: 8 times")
    through_the_pains(page)
    expect(page.get_by_text("Received by the clinic.", exact=True)).to_be_visible()
    revision = Revision.objects.get()
    local_today = page.evaluate("home.day()")
    assert (revision.day + timedelta(days=1)).isoformat() == local_today
    assert revision.began_at is None


def test_the_next_morning_is_asked_once_and_joins_yesterdays_session(
    home_page, live_world, live_server
):
    other = enrol_home(live_world.patient, now=timezone.now())
    page = home_page()
    yesterday = page.evaluate("home.day(-1)")
    other.post("entries", {"entries": [other.record(live_world.version, day=yesterday)]})
    reopened(page)
    expect(page.get_by_role("heading", name="Yesterday you exercised.")).to_be_visible()
    page.locator("[data-score='9']").tap()
    expect(page.get_by_text("Do no exercises now. Ring the clinic today.")).to_be_visible()
    expect(page.get_by_text("Received by the clinic.", exact=True)).to_be_visible()
    now = Revision.objects.get(is_current=True)
    assert (now.day.isoformat(), now.pain_next_morning, now.pain_worst) == (yesterday, 9, 4)
    assert now.performances.count() == 2
    reopened(page)
    expect(page.get_by_role("heading", name="My exercises")).to_be_visible()


def test_a_session_left_open_goes_on_where_it_was(home_page):
    page = home_page()
    press(page, "Start session 1")
    page.locator("[data-score='1']").tap()
    press(page, "All of it: 8 times")
    reopened(page)
    press(page, "Go on with the session you began")
    expect(page.get_by_text("Exercise 2 of 2")).to_be_visible()
    press(page, "All of it: 8 times")
    through_the_pains(page)
    expect(page.get_by_text("Received by the clinic.", exact=True)).to_be_visible()
    assert Revision.objects.get().performances.count() == 2


def test_a_weight_is_put_right_with_the_number(home_page, live_world):
    line = {"load_g": 1500, "load_means": "held", "sets": 2}
    issue(live_world.patient, live_world.therapist, timezone.now().date(), [line])
    page = home_page()
    press(page, "Start session 1")
    page.locator("[data-score='0']").tap()
    press(page, "Another number or weight")
    page.get_by_role("button", name="Weight: less").tap()
    expect(page.get_by_text("1.25 kg")).to_be_visible()
    page.get_by_role("button", name="Set 2: less").tap()
    press(page, "That is right")
    through_the_pains(page)
    expect(page.get_by_text("Received by the clinic.", exact=True)).to_be_visible()
    done = Revision.objects.get().performances.get()
    assert (done.amounts, done.load_g) == ([8, 7], 1250)


def test_pain_above_the_limit_says_what_to_do(home_page):
    page = home_page()
    press(page, "Start session 1")
    page.locator("[data-score='0']").tap()
    stop_here(page)
    page.locator("[data-score='5']").tap()  # the limit of the plan is 4
    page.locator("[data-score='2']").tap()
    expect(page.locator("[data-hurt-limit]")).to_be_visible()
    page.locator("[data-hurt-unsaid]").tap()
    expect(page.locator("[data-above-limit]")).to_be_visible()
    press(page, "Save")
    press(page, "Back to today")
    expect(page.locator("[data-today-limit]")).to_be_visible()


def test_stop_signs_are_one_tap_away_and_lead_back(home_page):
    page = home_page()
    press(page, "Start session 1")
    page.get_by_role("link", name="Something is wrong").tap()
    listed = page.locator("[data-screen=stop]")
    expect(listed.get_by_text("Nobody is watching this page. Ring now.")).to_be_visible()
    assert listed.locator("a[href='tel:112']").is_visible()
    page.locator("[data-stop-back]").tap()
    expect(page.get_by_role("heading", name="How much does it hurt now")).to_be_visible()


def test_without_scripts_the_plan_can_be_read(browser, live_server, live_world):
    home = enrol_home(live_world.patient, now=timezone.now())
    context = browser.new_context(java_script_enabled=False, base_url=live_server.url)
    value = home.client.cookies[phones.COOKIE_NAME].value
    context.add_cookies([{"name": phones.COOKIE_NAME, "value": value, "url": live_server.url}])
    page = context.new_page()
    page.goto("/home/")
    expect(page.get_by_role("heading", name="Bend and straighten the elbow")).to_be_visible()
    expect(page.get_by_text("Write it on your paper sheet.")).to_be_visible()
    expect(page.get_by_role("heading", name="Emergency: ring now")).to_be_visible()
    expect(page.get_by_role("button")).to_have_count(0)
    context.close()


@pytest.mark.look
@pytest.mark.parametrize(("language", "text_size", "scheme"), LOOKS)
def test_every_screen_fits_the_narrowest_phone_with_large_targets(
    home_page, live_world, violations, language, text_size, scheme
):
    for kind in ("bearing", "traction", "orthosis"):
        set_limit(live_world, kind=kind)
    page = home_page(language=language, text_size=text_size)
    expect(page.locator("[data-screen=today] .must-not li")).to_have_count(4)
    page.emulate_media(color_scheme=scheme)
    page.set_viewport_size({"width": NARROWEST_PX, "height": 640})
    seen = []

    def look():
        shown = page.locator("[data-screen]:visible")
        expect(shown).to_have_count(1)  # a page just loaded shows all until its script has run
        seen.append(shown.get_attribute("data-screen"))
        assert violations(page) == []
        assert page.evaluate(TOO_WIDE) == []
        assert page.evaluate(TOO_SMALL) == []
        assert page.evaluate(TOO_PALE) == []

    look()
    page.locator("[data-start]").tap()
    look()
    page.locator("[data-score='8']").tap()
    look()
    page.locator("[data-number]").tap()
    look()
    page.locator("[data-confirm]").tap()
    page.locator("[data-hard]").tap()
    look()
    page.locator("[data-screen=hard] [data-back]").tap()
    page.locator("[data-skip]").tap()
    look()
    page.locator("[data-why=too_hard]").tap()
    page.locator("[data-score='8']").tap()
    page.locator("[data-score='8']").tap()
    look()
    page.locator("[data-hurt-none]").tap()
    look()
    page.locator("[data-score='8']").tap()
    look()
    page.locator("[data-save]").tap()
    expect(page.locator("[data-sent=received]")).to_be_visible()
    look()
    page.locator("[data-screen=done] [data-home]").tap()
    page.locator("[data-read]").tap()
    look()
    page.locator("[data-stop]").tap()
    look()
    assert set(seen) == {
        "today", "score", "exercise", "amounts", "hard", "why", "hurt", "note", "done", "reading",
        "stop",
    }  # fmt: skip


# What reaches beyond the narrowest screen; nothing, where the page does not scroll sideways.
TOO_WIDE = """() => document.documentElement.scrollWidth <= innerWidth ? [] :
  [...document.querySelectorAll("body *")]
  .filter((one) => one.checkVisibility())
  .map((one) => [one, one.getBoundingClientRect()])
  .filter(([, box]) => box.right > innerWidth || box.left < 0)
  .map(([one]) => `${one.tagName} ${one.className} ${one.textContent.trim().slice(0, 30)}`)"""

# Controls below 56 px either way, of those that show.
TOO_SMALL = """() => [...document.querySelectorAll("button, a, textarea")]
  .filter((one) => one.checkVisibility())
  .map((one) => [one.textContent.trim(), one.getBoundingClientRect()])
  .filter(([, box]) => box.width < 56 || box.height < 56)
  .map(([words, box]) => `${words}: ${box.width} by ${box.height}`)"""

# Texts below a contrast of 7 to 1 (WCAG 2.2, 1.4.6), by the relative luminance that WCAG defines.
TOO_PALE = """() => {
  const channel = (value) => {
    const part = value / 255;
    return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
  };
  const numbers = (colour) => colour.match(/[\\d.]+/g).map(Number);
  const luminance = ([red, green, blue]) =>
    0.2126 * channel(red) + 0.7152 * channel(green) + 0.0722 * channel(blue);
  const ground = (one) => {
    for (let at = one; at; at = at.parentElement) {
      const colour = numbers(getComputedStyle(at).backgroundColor);
      if (colour.length === 3 || colour[3] > 0) return colour;
    }
    return [255, 255, 255];
  };
  const pale = [];
  for (const one of document.querySelectorAll("body *")) {
    const hasText = [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim());
    if (!hasText || !one.checkVisibility()) continue;
    const pair = [numbers(getComputedStyle(one).color), ground(one)].map(luminance);
    const ratio = (Math.max(...pair) + 0.05) / (Math.min(...pair) + 0.05);
    if (ratio < 7) pale.push(`${one.textContent.trim().slice(0, 40)}: ${ratio.toFixed(2)}`);
  }
  return pale;
}"""


# All that the phone keeps: its own store, the worker's cache, and how much lies elsewhere.
KEPT = """async () => {
  const kept = { outside: localStorage.length + sessionStorage.length, cached: [] };
  const all = (name) => home.store.run([name], "readonly",
    (rows, tell) => void (rows.getAll().onsuccess = (event) => tell(event.target.result)));
  for (const name of ["notes", "outbox", "received"]) kept[name] = await all(name);
  kept.session = home.store.kept("session");
  for (const name of await caches.keys())
    for (const request of await (await caches.open(name)).keys())
      kept.cached.push(await (await caches.match(request)).text());
  return kept;
}"""


def test_nothing_that_the_phone_keeps_says_who_the_patient_is(home_page, live_world):
    page = home_page()
    press(page, "Start session 1")
    page.locator("[data-score='1']").tap()
    press(page, "All of it: 8 times")
    kept = json.dumps(page.evaluate(KEPT))
    assert "performances" in kept
    assert live_world.version.lines.first().key in kept
    patient = live_world.patient
    for secret in (*patient.name.split(), patient.clinic_number, live_world.episode.diagnosis):
        assert secret not in kept
    stop_here(page)
    through_the_pains(page)
    expect(page.get_by_text("Received by the clinic.", exact=True)).to_be_visible()
    left = page.evaluate(KEPT)
    assert (left["outbox"], left["session"]) == ([], None)
    assert left["outside"] == 0
    [mark] = left["received"]
    assert set(mark) == {"uuid", "hash", "at"}
    for secret in (*patient.name.split(), patient.clinic_number, live_world.episode.diagnosis):
        assert secret not in json.dumps(left)
