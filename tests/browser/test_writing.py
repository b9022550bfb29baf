"""Writing an exercise in a real browser: the figure follows what is typed; axe; narrow screens."""

import os

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from clinic.http import today_in
from plans.actions import start_draft
from plans.queries import current_revision, exercise_of
from tests.world import stock

TODAY = today_in("Europe/London")
LIFT = "arm_lift_forward_lying"
EDIT = reverse("exercise_edit", args=[LIFT])
ELEVATION = '[name="steps.3.poses.1.elevation"]'


def shoot(page, name):
    """Keep a picture for eyes, where a folder for them is named."""
    if folder := os.environ.get("HANDRAIL_SCREENS"):
        page.screenshot(path=f"{folder}/{name}.png", full_page=True)


@pytest.fixture
def writing(live_world, staff_page):
    stock("table_slide_forward", "arm_lift_forward_sitting")
    return staff_page(live_world.therapist, EDIT)


def test_the_figure_follows_what_is_typed_and_saving_keeps_it(writing):
    figure = writing.locator("#drawing-3 svg")
    before = figure.inner_html()
    writing.fill(ELEVATION, "45")
    expect(writing.locator("#said-3")).to_contain_text("Drawn.")
    assert figure.inner_html() != before
    assert writing.locator(ELEVATION).evaluate("e => e === document.activeElement")
    writing.fill(ELEVATION, "200")
    expect(writing.locator("#wrong-3-2")).to_contain_text("is not within -180 to 180 degrees")
    expect(figure).to_have_count(0)
    writing.fill(ELEVATION, "45")
    expect(writing.locator("#wrong-3-2")).to_be_empty()
    expect(figure).to_have_count(1)
    writing.get_by_role("button", name="Save as a revision").click()
    expect(writing.locator("#messages")).to_contain_text("Saved as revision 2.")
    assert exercise_of(current_revision(LIFT)).steps[3].poses[1]["elevation"] == 45


def test_enter_draws_and_saves_nothing(writing):
    writing.locator(ELEVATION).press("Enter")
    expect(writing.get_by_text("It is not saved yet.")).to_be_visible()
    assert current_revision(LIFT).number == 1


@pytest.mark.look
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390, 320])
def test_the_screen_is_sound_wide_and_narrow_light_and_dark(writing, violations, width, scheme):
    writing.emulate_media(color_scheme=scheme)
    writing.set_viewport_size({"width": width, "height": 900})
    writing.fill(ELEVATION, "200")
    expect(writing.locator("#wrong-3-2")).not_to_be_empty()
    shoot(writing, f"writing-{width}-{scheme}")
    over = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    assert writing.evaluate(over) == 0
    assert violations(writing) == []
    writing.fill('[name="dose.sets"]', "many")
    writing.get_by_role("button", name="Save as a revision").click()
    expect(writing.get_by_role("alert")).to_contain_text("Nothing is saved yet")
    assert violations(writing) == []
    writing.fill('[name="dose.sets"]', "2")
    writing.fill(ELEVATION, "60")
    writing.get_by_role("button", name="Save as a revision").click()
    shoot(writing, f"exercise-{width}-{scheme}")
    writing.goto(writing.url.split("/exercises/")[0] + reverse("exercises_shipped"))
    expect(writing.get_by_text("Active, pose 2, elevation")).to_be_visible()
    assert writing.evaluate(over) == 0
    assert violations(writing) == []
    shoot(writing, f"shipped-{width}-{scheme}")


@pytest.mark.look
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390, 320])
def test_loads_open_beside_each_line_and_step(
    live_world, staff_page, violations, live_server, width, scheme
):
    page = staff_page(live_world.therapist)
    page.emulate_media(color_scheme=scheme)
    page.set_viewport_size({"width": width, "height": 900})
    over = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    start_draft(by=live_world.therapist, patient=live_world.patient, today=TODAY)
    patient = [live_world.patient.pk]
    for name, args in (("plan", patient), ("draft", patient), ("exercise", [LIFT])):
        page.goto(live_server.url + reverse(name, args=args))
        for each in page.locator("details.load > summary").all():
            each.click()
        expect(page.locator(".load-curve").first).to_be_visible()
        shoot(page, f"load-{name}-{width}-{scheme}")
        assert page.evaluate(over) == 0
        assert violations(page) == []
