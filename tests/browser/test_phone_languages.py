"""The patient's way through a session in each language and size of text; Arabic from the right."""

import re

import pytest
from playwright.sync_api import expect

from clinic.languages import LANGUAGES
from logs.models import Revision
from tests.browser.test_phone import NARROWEST_PX, TOO_PALE, TOO_SMALL, TOO_WIDE, home_page

__all__ = ["home_page"]

# What is wider or higher than the place it has: its end could not be read.
TOO_CUT = """() => [...document.querySelectorAll("body *")]
  .filter((one) => one.checkVisibility() && !one.closest("svg"))
  .filter((one) => getComputedStyle(one).display !== "inline")
  .filter((one) => one.scrollWidth > one.clientWidth + 1 ||
    (getComputedStyle(one).overflowY === "hidden" && one.scrollHeight > one.clientHeight + 1))
  .map((one) => `${one.tagName} ${one.className} ${one.textContent.trim().slice(0, 30)}`)"""


def walk(page, look):
    """Go through a whole session of two exercises, and look at each screen."""
    look("today")
    page.locator("[data-start]").tap()
    look("score")
    page.locator("[data-score='1']").tap()
    look("exercise")
    page.locator("[data-all]").tap()
    page.locator("[data-number]").tap()
    look("amounts")
    page.locator("[data-confirm]").tap()
    page.locator("[data-score='3']").tap()
    page.locator("[data-score='2']").tap()
    look("hurt")
    page.locator("[data-hurt-none]").tap()
    page.locator("[data-score='4']").tap()  # how hard it was
    look("note")
    page.locator("[data-save]").tap()
    expect(page.locator("[data-sent=received]")).to_be_visible()
    look("done")
    page.locator("[data-stop]").tap()
    look("stop")


def is_right_of(page, first, second):
    """Whether one control stands to the right of another on the same row."""
    one, other = (page.locator(selector).bounding_box() for selector in (first, second))
    return abs(one["y"] - other["y"]) < 2 and one["x"] > other["x"]


@pytest.mark.look
@pytest.mark.parametrize("width_px", [390, NARROWEST_PX])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_main_way_in_arabic_runs_from_the_right_and_is_all_in_arabic(
    home_page, violations, width_px, scheme
):
    page = home_page(language="ar")
    page.emulate_media(color_scheme=scheme)
    page.set_viewport_size({"width": width_px, "height": 800})
    seen = []

    def look(name):
        expect(page.locator(f"[data-screen={name}]")).to_be_visible()
        seen.append(name)
        root = page.locator("html")
        assert (root.get_attribute("lang"), root.get_attribute("dir")) == ("ar", "rtl")
        assert violations(page) == []
        for wrong in (TOO_WIDE, TOO_SMALL, TOO_PALE, TOO_CUT):
            assert page.evaluate(wrong) == []
        said = page.locator("body").inner_text()
        assert not re.search("[A-Za-z]", said), said
        assert not re.search("[\u0660-\u0669\u06f0-\u06f9]", said), "European digits only"
        if name == "score":
            assert is_right_of(page, "[data-score='0']", "[data-score='1']")
        if name == "amounts":
            assert is_right_of(page, "[data-less]", "[data-more]")
        if name != "note":
            assert is_right_of(page, "[data-stop]", ".call-link")

    walk(page, look)
    assert len(seen) == 8
    assert Revision.objects.get().performances.count() == 2


@pytest.mark.look
@pytest.mark.parametrize("text_size", ["normal", "large", "largest"])
@pytest.mark.parametrize("language", LANGUAGES)
def test_each_size_of_text_fits_the_narrowest_phone_and_cuts_nothing(
    home_page, language, text_size
):
    page = home_page(language=language, text_size=text_size)
    page.set_viewport_size({"width": NARROWEST_PX, "height": 640})
    sizes = set()

    def look(name):
        expect(page.locator(f"[data-screen={name}]")).to_be_visible()
        assert page.evaluate(TOO_WIDE) == []
        assert page.evaluate(TOO_CUT) == []
        sizes.add(page.evaluate("parseFloat(getComputedStyle(document.body).fontSize)"))

    walk(page, look)
    assert sizes == {{"normal": 18, "large": 22, "largest": 26}[text_size]}


def test_a_figure_is_the_same_in_every_direction(home_page):
    def drawn(page):
        shown = page.locator("[data-screen=reading] .still svg").first
        across = shown.evaluate("one => one.getScreenCTM().a")
        return re.sub("<title.*?</title>", "", shown.inner_html()), across

    pictures = []
    for language in ("en", "ar"):
        page = home_page(language=language)
        page.emulate_media(reduced_motion="reduce")
        page.locator("[data-read]").tap()
        pictures.append(drawn(page))
    assert pictures[0] == pictures[1]
    assert pictures[0][1] > 0
