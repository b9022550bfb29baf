"""Pages about people and the clinic: no barrier, nothing too wide, nothing on the console."""

import pytest
from django.urls import reverse

from tests.world import PASSWORD

PAGES = [
    ("therapist", "patients", ()),
    ("therapist", "patient_new", ()),
    ("therapist", "patient", ("patient",)),
    ("therapist", "patient_edit", ("patient",)),
    ("therapist", "episode", ("patient", "episode")),
    ("therapist", "helper_new", ("patient",)),
    ("therapist", "account", ()),
    ("administrator", "staff", ()),
    ("administrator", "staff_new", ()),
    ("administrator", "clinic_profile", ()),
]


@pytest.mark.look
@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark"), (320, "light")])
def test_no_page_has_a_barrier(live_world, staff_page, violations, page, width, scheme):
    page.set_viewport_size({"width": width, "height": 800})
    page.emulate_media(color_scheme=scheme)
    said = []
    page.on("console", lambda message: said.append(message.text))
    for who, name, objects in PAGES:
        arguments = [getattr(live_world, each).pk for each in objects]
        staff_page(getattr(live_world, who), reverse(name, args=arguments))
        assert violations(page) == [], name
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, name
    assert said == []


def test_a_therapist_signs_in_finds_a_patient_and_leaves_by_keyboard(live_world, live_server, page):
    page.goto(live_server.url + "/")
    page.keyboard.type("therapist")  # the name has the focus
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    page.get_by_role("searchbox").press_sequentially("quill")
    page.wait_for_url("**/patients/?q=quill")
    found = page.get_by_role("link", name="Fern Quill")
    found.press("Enter")
    page.get_by_role("heading", name="Fern Quill").wait_for()
    page.get_by_role("button", name="Sign out").press("Enter")
    page.get_by_role("heading", name="Sign in").wait_for()
    page.go_back()
    page.get_by_role("heading", name="Sign in").wait_for()  # nothing of the patient comes back
    assert "Fern Quill" not in page.content()


def test_typing_fast_in_the_search_keeps_the_last_answer(live_world, staff_page):
    page = staff_page(live_world.therapist, reverse("patients"))
    box = page.get_by_role("searchbox")
    box.press_sequentially("zzz")
    page.get_by_text("Nobody in your care matches").wait_for()
    box.fill("fern")
    page.get_by_role("link", name="Fern Quill").wait_for()
