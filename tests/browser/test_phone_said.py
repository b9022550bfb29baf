"""What can be said of exercises and sessions on the phone, each in one tap and at most one more."""

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from clinic.http import today_in
from logs.models import MissedReason, Revision
from patients import phones
from tests.browser.handset import reopened
from tests.browser.session_steps import after_pains, stop_here
from tests.browser.test_phone import press
from tests.logs.homes import enrol_home
from tests.world import issue

EASIER = {"exercise": "elbow_bend_sitting", "easier_allowed": True}


@pytest.fixture
def open_home(phone_context, live_server, live_world):
    """Return a function that enrols a phone under a plan of those lines and opens its page."""
    page = phone_context.new_page()
    problems = []
    page.on("pageerror", lambda problem: problems.append(str(problem)))

    def opened(lines=None, **patient):
        for name, value in patient.items():
            setattr(live_world.patient, name, value)
        live_world.patient.save()
        if lines:
            issue(live_world.patient, live_world.therapist, today_in("Europe/London"), lines)
        now = timezone.now()
        link = phones.make_invite(by=live_world.therapist, patient=live_world.patient, now=now)
        page.goto(f"{live_server.url}/home/join#{link.partition('#')[2]}")
        page.locator("[data-join]").tap()
        page.wait_for_url("**/home/")
        expect(page.locator("html[data-ready]")).to_have_count(1)
        return page

    yield opened
    assert not problems


def start(page):
    page.locator("[data-start]").tap()
    page.locator("[data-score='1']").tap()


def save(page):
    page.locator("[data-save]").tap()
    expect(page.locator("[data-sent=received]")).to_be_visible()
    done = Revision.objects.get(is_current=True).performances.all()
    return [(d.amounts, d.ended, d.why, d.step, d.hurt) for d in done]


def test_an_exercise_is_skipped_in_one_tap_and_one_for_the_reason(open_home):
    page = open_home()
    start(page)
    press(page, "Skip this one")
    expect(page.get_by_role("heading", name="Why do you skip this one?")).to_be_focused()
    expect(page.locator("[data-why]:visible")).to_have_count(6)
    expect(page.get_by_role("button", name="I forgot")).to_be_hidden()
    press(page, "Tired")
    expect(page.get_by_text("Exercise 2 of 2")).to_be_visible()
    press(page, "Skip this one")
    press(page, "No answer")
    after_pains(page)
    assert save(page) == [
        ([], "skipped", "tired", None, None),
        ([], "skipped", None, None, None),
    ]


def test_too_hard_takes_one_more_tap_for_how_much(open_home):
    page = open_home()
    start(page)
    press(page, "Too hard")
    page.locator("[data-hard-all]").tap()
    press(page, "Too hard")
    press(page, "Some of it")
    page.get_by_role("button", name="You did: less").tap()
    press(page, "That is right")
    after_pains(page)
    assert save(page) == [
        ([8], None, "too_hard", None, None),
        ([7], "stopped", "too_hard", None, None),
    ]


def test_the_easier_step_is_there_only_where_the_therapist_allowed_it(open_home):
    page = open_home([EASIER, {"exercise": "arm_lift_forward_lying"}])
    start(page)
    press(page, "Easier today: with no weight to lift")
    heading = "Bend and straighten the elbow: with no weight to lift"
    expect(page.get_by_role("heading", name=heading)).to_be_focused()
    expect(page.locator("[data-screen=exercise] .picture")).to_be_visible()
    press(page, "Back to the usual step")
    expect(page.get_by_role("heading", name=heading)).to_be_hidden()
    press(page, "Too hard")
    press(page, "Easier today: with no weight to lift")
    page.locator("[data-all]").tap()
    expect(page.locator("[data-easier]")).to_be_hidden()
    page.locator("[data-all]").tap()
    after_pains(page)
    assert [row[1:4] for row in save(page)] == [
        (None, "too_hard", "gravity_reduced"),
        (None, None, None),
    ]


def test_a_session_is_stopped_with_its_reason_and_keeps_an_unconfirmed_count_so(open_home):
    page = open_home()
    start(page)
    page.locator("[data-all]").tap()
    press(page, "Stop here for now")
    expect(page.get_by_role("heading", name="Why do you stop here?")).to_be_focused()
    press(page, "I was not well")
    after_pains(page)
    assert save(page) == [([8], None, None, None, None), ([], "stopped", "unwell", None, None)]


def test_pain_is_named_with_an_exercise_in_one_tap_and_effort_is_asked_once(open_home):
    page = open_home()
    start(page)
    for _ in range(2):
        page.locator("[data-all]").tap()
    page.locator("[data-score='0']").tap()
    page.locator("[data-score='3']").tap()
    expect(
        page.get_by_role("heading", name="Which exercise did the pain belong to?")
    ).to_be_focused()
    expect(page.locator("[data-hurt-limit]")).to_be_hidden()
    press(page, "Bend and straighten the elbow")
    expect(page.get_by_role("heading", name="How hard was this session for you?")).to_be_focused()
    expect(page.get_by_text("0: like resting")).to_be_visible()
    expect(page.get_by_text("0: no pain")).to_be_hidden()
    page.locator("[data-score='7']").tap()
    assert [row[4] for row in save(page)] == [False, True]
    assert Revision.objects.get().effort == 7


def test_without_pain_nothing_is_asked_of_it(open_home):
    page = open_home()
    start(page)
    page.locator("[data-all]").tap()
    stop_here(page)
    page.locator("[data-score='0']").tap()
    page.locator("[data-score='']").tap()
    expect(page.get_by_role("heading", name="How hard was this session for you?")).to_be_visible()
    expect(page.locator("[data-screen=hurt]")).to_be_hidden()
    page.locator("[data-score='']").tap()
    assert [row[4] for row in save(page)] == [None, None]
    assert Revision.objects.get().effort is None


def test_how_the_week_stands_is_a_plain_line(open_home):
    page = open_home()
    weekday = page.evaluate("(new Date().getDay() + 6) % 7")
    due = 2 * weekday
    if due:
        expect(page.locator("[data-screen=today] [data-week]")).to_have_text(
            f"This week so far: 0 of {due} sessions done."
        )
    start(page)
    page.locator("[data-all]").tap()
    stop_here(page)
    after_pains(page)
    save(page)
    said = f"This week so far: 1 of {due + 1} sessions done."
    expect(page.locator("[data-screen=done] [data-week]")).to_have_text(said)
    press(page, "Back to today")
    reopened(page)
    expect(page.locator("[data-screen=today] [data-week]")).to_have_text(said)


def test_a_session_of_yesterday_is_put_right_and_marked(open_home, live_world):
    other = enrol_home(live_world.patient, now=timezone.now())
    page = open_home()
    yesterday = page.evaluate("home.day(-1)")
    other.post("entries", {"entries": [other.record(live_world.version, day=yesterday)]})
    reopened(page)
    page.locator("[data-score='']").tap()  # the morning after
    page.get_by_role("button", name="Put right: Session 1 of 2").tap()
    expect(page.locator("[data-screen=score] [data-yesterday]")).to_contain_text("For ")
    page.locator("[data-score='1']").tap()
    press(page, "Skip this one")
    press(page, "Pain")
    page.locator("[data-all]").tap()
    after_pains(page)
    assert [row[:3] for row in save(page)] == [([], "skipped", "pain"), ([8], None, None)]
    now = Revision.objects.get(is_current=True)
    assert (now.day.isoformat(), now.entry.revisions.count()) == (yesterday, 2)
    assert now.replaces is not None


def opened_before(page, days=2):
    page.evaluate(f"home.store.keep('since', home.day(-{days}))")
    reopened(page)


def test_why_yesterday_was_missed_is_asked_once_and_reaches_the_clinic(open_home):
    page = open_home()
    opened_before(page)
    expect(page.get_by_role("heading", name="A session of yesterday is not put in")).to_be_focused()
    expect(page.locator("[data-why]:visible")).to_have_count(6)
    expect(page.get_by_role("button", name="Too hard")).to_be_hidden()
    with page.expect_response("**/home/missed") as answer:
        yesterday = page.evaluate("home.day(-1)")
        press(page, "I forgot")
    assert answer.value.status == 200
    told = MissedReason.objects.get()
    assert (told.day.isoformat(), told.reason, told.source) == (yesterday, "forgot", "phone")
    expect(page.get_by_role("heading", name="My exercises")).to_be_visible()
    page.wait_for_function("() => (home.store.kept('whys') ?? []).length === 0")
    reopened(page)
    expect(page.get_by_role("heading", name="My exercises")).to_be_visible()


def test_not_now_is_an_answer_and_is_not_asked_again(open_home):
    page = open_home()
    opened_before(page)
    press(page, "Not now")
    expect(page.get_by_role("heading", name="My exercises")).to_be_visible()
    reopened(page)
    expect(page.get_by_role("heading", name="My exercises")).to_be_visible()
    assert not MissedReason.objects.exists()


def test_what_was_done_after_all_can_be_put_in_from_the_question(open_home):
    page = open_home()
    opened_before(page)
    press(page, "I did it: put it in")
    expect(page.locator("[data-screen=score] [data-yesterday]")).to_contain_text("For ")
    page.locator("[data-score='']").tap()
    for _ in range(2):
        page.locator("[data-all]").tap()
    after_pains(page)
    save(page)
    assert Revision.objects.get().day.isoformat() == page.evaluate("home.day(-1)")


def test_a_reason_waits_on_the_phone_until_the_clinic_has_it(open_home, phone_context):
    page = open_home()
    phone_context.route("**/home/missed", lambda route: route.abort())
    opened_before(page)
    press(page, "No time")
    page.wait_for_function("() => (home.store.kept('whys') ?? []).length === 1")
    phone_context.unroute("**/home/missed")
    reopened(page)
    page.wait_for_function("() => (home.store.kept('whys') ?? []).length === 0")
    assert MissedReason.objects.get().reason == "no_time"


def test_no_day_before_the_phone_was_here_is_asked_about(open_home):
    page = open_home()
    reopened(page)
    expect(page.get_by_role("heading", name="My exercises")).to_be_visible()


def test_all_of_it_goes_by_keyboard(open_home):
    page = open_home([EASIER])
    page.locator("[data-start]").press("Enter")
    page.locator("[data-score='1']").press("Enter")
    page.locator("[data-easier]").press("Enter")
    page.locator("[data-hard]").press("Space")
    page.locator("[data-hard-none]").press("Enter")
    page.locator("[data-score='4']").press("Enter")
    page.locator("[data-score='4']").press("Enter")
    page.locator("[data-hurt-lines] button").press("Space")
    page.locator("[data-save]").press("Enter")
    expect(page.locator("[data-sent=received]")).to_be_visible()
    done = Revision.objects.get().performances.get()
    assert (done.ended, done.why, done.step, done.hurt) == ("skipped", "too_hard", None, True)
