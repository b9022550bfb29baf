"""What only a browser shows of an assessment: entry by keyboard, choosing joints, accessibility."""

import pytest
from django.urls import reverse

from patients.measures_models import Assessment


@pytest.fixture
def form_page(live_world, staff_page):
    """Return the open form."""
    url = reverse("assessment_new", args=[live_world.patient.pk])
    return staff_page(live_world.therapist, url)


def focused(page):
    return page.evaluate("document.activeElement.name")


def test_an_assessment_is_entered_by_keyboard_alone(form_page):
    page = form_page
    page.locator("[name=shoulder_flexion-left-active]").focus()
    for typed in ("95p", "110", "3-"):
        page.keyboard.type(typed)
        page.keyboard.press("Enter")
    assert focused(page) == "shoulder_extension-left-active"
    page.keyboard.press("ArrowDown")
    assert focused(page) == "shoulder_abduction-left-active"
    page.keyboard.type("60")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Tab")
    assert focused(page) == "shoulder_extension-left-passive"
    page.keyboard.type("n")
    page.locator("[name=keep]").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/assessment/")
    rows = {row.motion: row for row in Assessment.objects.get().motions.all()}
    assert rows["shoulder_flexion"].active_deg == 95
    assert rows["shoulder_flexion"].grade == "3-"
    assert rows["shoulder_abduction"].active_deg == 60
    assert rows["shoulder_extension"].passive_not_tested == "not_allowed"
    assert page.get_by_text("95°").is_visible()


def test_ticking_a_joint_adds_it_and_keeps_what_was_typed(form_page):
    page = form_page
    page.locator("[name=shoulder_flexion-left-active]").fill("95")
    page.get_by_label("wrist", exact=True).check()
    page.locator("[name=wrist_extension-right-grade]").wait_for()
    assert page.locator("[name=shoulder_flexion-left-active]").input_value() == "95"
    page.get_by_label("Sides").select_option("left")
    page.locator("[name=wrist_extension-right-grade]").wait_for(state="detached")
    assert page.locator("[name=shoulder_flexion-left-active]").input_value() == "95"
    assert not Assessment.objects.exists()


def test_nothing_stands_in_the_way_of_assistive_technology(form_page, violations):
    page = form_page
    page.locator("summary", has_text="Tone").click()
    assert violations(page) == []
    page.locator("[name=shoulder_flexion-left-active]").fill("999")
    page.locator("[name=pain_on_movement]").fill("4")
    page.locator("[name=keep]").click()
    page.get_by_text("between -100° and 200°").wait_for()
    assert violations(page) == []
    page.locator("[name=shoulder_flexion-left-active]").fill("99p")
    page.locator("[name=keep]").click()
    page.wait_for_url("**/assessment/")
    page.locator("summary", has_text="What counts").click()
    assert violations(page) == []


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_the_page_never_scrolls_sideways(form_page, width):
    page = form_page
    page.set_viewport_size({"width": width, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.locator("[name=elbow_flexion-left-active]").fill("100")
    page.locator("[name=keep]").click()
    page.wait_for_url("**/assessment/")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
