"""What the phone says when it has not reached the clinic: after a day, and after a week."""

import pytest
from playwright.sync_api import expect

from tests.browser.test_phone_said import open_home  # noqa: F401 - a fixture

DAY_MS = 24 * 3600 * 1000
SHOWS = """(ago_ms) => {
  const now = Date.now();
  Date.now = () => now;  // the same instant for what is kept and what is asked
  home.store.keep("contact", now - ago_ms);
  document.dispatchEvent(new CustomEvent("home:handed"));
  return [...document.querySelectorAll("[data-net=long], [data-net=week]")]
    .filter((words) => !words.hidden).map((words) => words.dataset.net);
}"""


@pytest.fixture
def cut_off(open_home, phone_context):  # noqa: F811 - the fixture above
    """Return the page of a phone that no longer reaches the clinic."""
    page = open_home()
    page.wait_for_function("() => home.store.kept('contact') !== null")
    phone_context.set_offline(True)
    return page


SAID = {
    0: [],
    DAY_MS: [],
    DAY_MS + 1: ["long"],
    2 * DAY_MS: ["long"],
    6 * DAY_MS: ["long"],
    7 * DAY_MS: ["long"],
    7 * DAY_MS + 1: ["week"],
    8 * DAY_MS: ["week"],
    # A clock put back: the last contact seems to lie ahead.
    -DAY_MS: [],
    -2 * DAY_MS: ["long"],
    -8 * DAY_MS: ["week"],
}


def test_a_day_and_a_week_without_contact_are_told_apart(cut_off):
    assert {ago_ms: cut_off.evaluate(SHOWS, ago_ms) for ago_ms in SAID} == SAID


def test_after_a_week_the_phone_says_to_ring_before_going_on(cut_off):
    cut_off.evaluate(SHOWS, 8 * DAY_MS)
    expect(cut_off.get_by_text("Ring the clinic before you go on")).to_be_visible()
    cut_off.evaluate(SHOWS, 2 * DAY_MS)
    expect(cut_off.get_by_text("has not reached the clinic for more than a day")).to_be_visible()
    expect(cut_off.get_by_text("Ring the clinic before you go on")).to_be_hidden()
