"""The sheet as a web page in Chromium: on narrow phones, light and dark, and printed."""

import re
import unicodedata
from io import BytesIO

import pytest
from django.urls import reverse
from pypdf import PdfReader

from clinic.languages import LANGUAGES
from plans.sheet_words import sheet_words
from tests.browser.test_phone import NARROWEST_PX, TOO_PALE, TOO_WIDE
from tests.world import issue, stock

EXERCISES = (
    "arm_lift_forward_lying",
    "elbow_bend_sitting",
    "card_turn",
    "full_fist",
    "reach_everyday",
    "wrist_bend_back",
    "shoulder_shrug",
)


@pytest.fixture
def sheet_page(staff_page, live_world):
    """Return a function that opens the web sheet of a long plan in a language."""

    def open_in(language, query="", **patient):
        stock(*EXERCISES)
        for name, value in ({"language": language} | patient).items():
            setattr(live_world.patient, name, value)
        live_world.patient.save()
        lines = [{"exercise": key} for key in EXERCISES]
        version = issue(live_world.patient, live_world.therapist, lines=lines)
        path = reverse("sheet_web", args=[live_world.patient.pk, version.pk])
        return staff_page(live_world.therapist, path + query)

    return open_in


@pytest.mark.look
@pytest.mark.parametrize("query", ["?large=1", "?fridge=1"])
@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_fits_the_narrowest_phone(sheet_page, violations, language, query, scheme):
    page = sheet_page(language, query)
    page.emulate_media(color_scheme=scheme)
    page.set_viewport_size({"width": NARROWEST_PX, "height": 640})
    page.locator("summary").click()
    assert page.locator("html").get_attribute("dir") == LANGUAGES[language].direction
    assert violations(page) == []
    assert page.evaluate(TOO_WIDE) == []
    page.locator(".tools").evaluate("one => one.remove()")
    assert page.evaluate(TOO_PALE) == []


def plain(text):
    """A text with its joined letters (fi) and its line ends as in the source."""
    return re.sub(r"\s+", " ", unicodedata.normalize("NFKC", text))


def printed(page, paper):
    """The text of each page as the browser prints it."""
    pages = PdfReader(BytesIO(page.pdf(format=paper))).pages
    return [plain(one.extract_text()) for one in pages]


@pytest.mark.look
@pytest.mark.parametrize("large", ["0", "1"])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_no_printed_page_lacks_its_heading_and_no_exercise_is_split(
    sheet_page, live_world, large, paper
):
    page = sheet_page("en", f"?large={large}")
    pages = printed(page, paper)
    words = sheet_words("en")
    number = words.clinic_number.format(number=live_world.patient.clinic_number)
    assert len(pages) > 4
    for text in pages:
        assert number in text
    assert sum(words.stop_heading in text for text in pages) == 1
    names = [plain(one) for one in page.locator("article h3").all_inner_texts()]
    cautions = [plain(one) for one in page.locator("article > p:last-child").all_inner_texts()]
    assert len(names) == len(cautions) == len(EXERCISES)
    for name, caution in zip(names, cautions, strict=True):
        whole = next(text for text in pages if name in text)  # the diary names it again
        assert caution in whole, name
    diary = [text for text in pages if words.diary_worst in text and words.diary_pain in text]
    assert all(words.diary_heading in text for text in diary)
    assert diary


def test_an_arabic_sheet_prints_with_its_number_on_every_page(sheet_page, live_world):
    page = sheet_page("ar")
    page.emulate_media(color_scheme="dark", media="print")
    ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert ground == "rgb(255, 255, 255)", "a dark screen prints on white"
    pages = PdfReader(BytesIO(page.pdf(format="A4"))).pages
    assert len(pages) > 4
    assert all(live_world.patient.clinic_number in one.extract_text() for one in pages)
    assert not page.locator(".tools").is_visible()


def test_a_figure_is_not_mirrored_by_the_direction(sheet_page):
    def drawn(page):
        page.set_viewport_size({"width": 390, "height": 800})
        svg = page.locator(".step-figure svg").first
        matrix = svg.evaluate(
            "one => { const m = one.getScreenCTM(); return [m.a, m.b, m.c, m.d]; }"
        )
        return re.sub("<title.*?</title>", "", svg.inner_html()), matrix

    shapes, (across, *_, down) = drawn(sheet_page("en"))
    turned, (across_ar, *_, down_ar) = drawn(sheet_page("ar"))
    assert (turned, across_ar, down_ar) == (shapes, across, down)
    assert across > 0
    assert down > 0


def test_a_number_to_ring_reads_in_its_own_order(sheet_page, live_world):
    live_world.episode.telephone = "+44 1632 960222"
    live_world.episode.save()
    page = sheet_page("ar")
    number = page.locator("bdi", has_text="960222").first
    starts = number.evaluate(
        """one => [0, 4, 9].map((from) => {
          const range = document.createRange();
          range.setStart(one.firstChild, from);
          range.setEnd(one.firstChild, from + 1);
          return range.getBoundingClientRect().left;
        })"""
    )
    assert starts == sorted(starts), "country, area, number, from the left"


def test_its_button_prints(sheet_page):
    page = sheet_page("ar")
    page.evaluate("window.print = () => { document.title = 'printed'; }")
    page.get_by_role("button", name="Print this page").click()
    assert page.title() == "printed"
