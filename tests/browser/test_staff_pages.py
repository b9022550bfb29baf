"""Pages about people: found and left by keyboard, and a search that keeps up with the typing."""

from django.urls import reverse

from tests.world import PASSWORD


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
