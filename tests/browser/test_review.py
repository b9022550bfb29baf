"""What only a browser shows of review and caseload: keys, figures opening in place, fit, axe."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from logs.actions import Performed, Told, mark_heard, record_revision
from tests.world import issue


@pytest.fixture
def told(live_world):
    """Three weeks of a plan with sessions, pain, an extra one and a correction."""
    today = timezone.now().date()
    patient = live_world.patient
    version = issue(patient, live_world.therapist, today - timedelta(days=20))
    lines = list(version.lines.all())
    for days in range(20, 2, -1):
        for occasion in (1, 2) if days % 3 else (1, None):
            entry, first = uuid4(), uuid4()
            content = {
                "day": today - timedelta(days=days),
                "occasion": occasion,
                "source": "paper",
                "version": version,
                "pain_worst": 3 + days % 4,
                "pain_after": 2,
            }
            for revision, replaces, amounts in [(first, None, (8,)), (uuid4(), first, (9,))][
                : 2 if days == 5 else 1
            ]:
                performed = tuple(Performed(line, amounts) for line in lines)
                record_revision(
                    patient=patient,
                    entry=entry,
                    revision=revision,
                    replaces=replaces,
                    told=Told(performances=performed, **content),
                    user=live_world.therapist,
                )
    mark_heard(
        patient=patient,
        days=[today - timedelta(days=days) for days in range(20, 4, -1)],
        source="paper",
        by=live_world.therapist,
    )
    return live_world


@pytest.fixture
def review(told, staff_page):
    return staff_page(told.therapist, reverse("review", args=[told.patient.pk]) + "?window=version")


def focused(page):
    return page.evaluate("document.activeElement.getAttribute('href')")


def test_the_calendar_is_one_tab_stop_and_arrows_move_by_day_and_week(review):
    days = review.locator(".calendar a.day")
    assert review.locator(".calendar a[tabindex='0']").count() == 1
    newest = days.first
    newest.focus()
    start = focused(review)
    review.keyboard.press("ArrowRight")
    following = focused(review)
    review.keyboard.press("ArrowLeft")
    assert focused(review) == start
    review.keyboard.press("ArrowLeft")
    assert focused(review) == start  # nothing before the first
    if following != start:
        assert following == days.nth(1).get_attribute("href")
    review.keyboard.press("ArrowDown")
    assert focused(review) != start
    review.keyboard.press("ArrowUp")
    assert focused(review) == start


def test_a_day_opens_below_the_calendar_without_leaving_the_page(review):
    address = review.url
    day = review.locator(".calendar a.day").nth(2)
    day.focus()
    says = day.get_attribute("title").partition(":")[0]
    review.keyboard.press("Enter")
    review.locator("#day-panel").get_by_text(f"Behind: {says}").wait_for()
    assert review.url == address
    review.wait_for_function(
        "document.querySelector('#day-panel').getBoundingClientRect().bottom <= innerHeight + 1"
    )
    review.locator("#day-panel").get_by_role("link").first.click()  # from a line to its day
    review.locator("#day-panel").get_by_text(f"Behind: {says}").wait_for()
    assert review.url == address
    review.get_by_role("link", name="Every day as a table").click()
    review.locator("#day-panel").get_by_text("Behind: each day").wait_for()


def test_a_figure_opens_below_its_table_without_leaving_the_page(review):
    address = review.url
    review.locator(".doses a").first.click()
    panel = review.locator("#dose-days")
    panel.get_by_text("Behind:").wait_for()
    assert panel.locator("tbody tr").count() >= 18
    assert review.url == address


def test_figures_open_without_script_too(browser, told, live_server, staff_page):
    page = staff_page(told.therapist, "/")
    cookies = page.context.cookies()
    context = browser.new_context(java_script_enabled=False)
    context.add_cookies(cookies)
    plain = context.new_page()
    plain.goto(live_server.url + reverse("review", args=[told.patient.pk]))
    plain.locator(".doses a").first.click()
    plain.locator("#behind").get_by_text("Behind:").wait_for()
    context.close()


def test_the_caseload_follows_a_choice_at_once(told, staff_page):
    page = staff_page(told.supervisor, reverse("caseload"))
    page.get_by_label("Flag", exact=True).select_option("no_plan")
    page.get_by_text("Nobody matches this choice.").wait_for()
    assert "flag=no_plan" in page.url


@pytest.mark.look
@pytest.mark.parametrize(("width", "scheme"), [(320, "dark"), (390, "light"), (1280, "light")])
@pytest.mark.parametrize("which", ["review", "caseload"])
def test_pages_fit_and_have_no_barrier(told, staff_page, violations, which, width, scheme):
    user = told.therapist if which == "review" else told.supervisor
    path = reverse("review", args=[told.patient.pk]) if which == "review" else reverse("caseload")
    page = staff_page(user, path)
    page.set_viewport_size({"width": width, "height": 860})
    page.emulate_media(color_scheme=scheme)
    for folded in page.locator("details > summary").all():
        folded.click()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert violations(page) == []
