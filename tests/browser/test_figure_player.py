"""The moving figure in a real browser: pressed, it moves; it pauses; it waits to be asked."""

import pytest
from django.urls import reverse

LIFT = reverse("exercise", args=["arm_lift_forward_lying"])
PATHS = "[...document.querySelectorAll('.player .moving svg')].map(svg => svg.innerHTML)"


@pytest.mark.parametrize("motion", ["reduce", "no-preference"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_figure_moves_when_started_and_stands_when_paused(
    live_world, staff_page, live_server, violations, motion, scheme
):
    page = staff_page(live_world.therapist)
    wrong = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
    page.emulate_media(reduced_motion=motion, color_scheme=scheme)
    page.goto(live_server.url + LIFT)
    before = page.evaluate(PATHS)
    page.wait_for_timeout(300)
    assert page.evaluate(PATHS) == before, "nothing moves unasked"
    player = page.locator(".player").first
    assert player.locator(".still").is_visible()
    for _ in range(5):  # the press may fall anywhere within a frame
        button = player.locator("button")
        button.click()
        assert button.text_content() == "Pause"
        assert player.locator(".moving").is_visible()
        first = page.evaluate(PATHS)
        page.wait_for_function(f"(first) => ({PATHS})[0] !== first", arg=first[0])
        then = page.evaluate(PATHS)
        assert then[0] != first[0], wrong
        assert then[1:] == before[1:], "the others stand"
        button.click()
        assert button.text_content() == "Start moving"
        page.wait_for_timeout(50)
        stood = page.evaluate(PATHS)
        page.wait_for_timeout(150)
        assert page.evaluate(PATHS) == stood
    assert wrong == []
    assert violations(page) == []


def test_a_frame_that_began_before_the_press_stops_nothing(live_world, staff_page, live_server):
    page = staff_page(live_world.therapist)
    wrong = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    # Every frame tells a time 40 ms back, as one does that began before a slow press.
    page.add_init_script(
        "const ask = window.requestAnimationFrame.bind(window);"
        "window.requestAnimationFrame = (then) => ask((now) => then(now - 40));"
    )
    page.goto(live_server.url + LIFT)
    page.locator(".player button").first.click()
    before = page.evaluate(PATHS)[0]
    page.wait_for_function(f"(before) => ({PATHS})[0] !== before", arg=before)
    assert wrong == []
    assert page.evaluate(PATHS)[0] != before
