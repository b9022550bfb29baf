"""The plan builder in a real browser: by keyboard alone, counted; without script; axe."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from clinic.http import today_in
from plans.actions import start_draft
from plans.queries import open_version, version_in_force
from tests.world import stock

TODAY = today_in("Europe/London")


class Keys:
    """A keyboard that counts its keys."""

    def __init__(self, page):
        self.page = page
        self.count = 0

    def type(self, text):
        for character in text:
            self.press(character)

    def press(self, key):
        self.count += 1
        self.page.keyboard.press(key)


@pytest.fixture
def builder(live_world, staff_page):
    stock("wrist_bend_back", "full_fist")
    start_draft(by=live_world.therapist, patient=live_world.patient, today=TODAY)
    open_version(live_world.patient).lines.update(step="active")
    return staff_page(live_world.therapist, reverse("draft", args=[live_world.patient.pk]))


def lines(page):
    return page.locator("[data-line]")


def test_a_line_is_added_and_the_plan_issued_by_keyboard_alone(builder, live_world):
    page = builder
    requests = []
    page.on("request", lambda request: requests.append((request.method, request.url)))
    keys = Keys(page)
    keys.press("/")
    keys.type("wrist active")
    keys.press("Enter")
    expect(lines(page)).to_have_count(3)
    expect(lines(page).last).to_contain_text("Lift the hand at the wrist")
    assert keys.count == 14  # one to go to the search, twelve letters, one to add
    expect(page.locator("#find")).to_be_focused()
    keys.press("Escape")
    keys.press("i")
    expect(page.locator("#issue_effective_day")).to_be_focused()
    keys.press("Enter")
    expect(page.locator("#messages")).to_contain_text("Version 2 is issued.")
    assert keys.count == 17
    version = version_in_force(live_world.patient, TODAY)
    assert (version.number, version.lines.last().step) == (2, "active")
    posts = [url for method, url in requests if method == "POST"]
    assert len(posts) == 2  # the line, and the issue


def test_a_set_goes_in_by_two_keys_and_out_by_one(builder, violations):
    page = builder
    stock("arm_slide_sideways_lying", "elbow_straighten_lying", "rotation_lying")
    posts = []
    page.on("request", lambda request: posts.append(request.url) if request.method == "POST" else 0)
    keys = Keys(page)
    keys.press("2")  # closed, the list takes no digit
    keys.press("s")
    keys.press("2")
    expect(page.locator(".set-in")).to_contain_text("Weak arm after a stroke: lying, one hand")
    expect(page.locator(".set-in")).to_contain_text("not graded")
    expect(lines(page)).to_have_count(6)
    expect(lines(page).nth(2).locator(".name")).to_be_focused()
    expect(page.locator("#sets .menu")).to_be_hidden()
    page.locator(".against summary").first.click()
    assert violations(page) == []
    keys.press("u")
    expect(lines(page)).to_have_count(2)
    assert keys.count == 4
    assert len(posts) == 2


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_sets_are_right_for_assistive_technology_and_fit(
    live_world, staff_page, violations, scheme
):
    stock()
    page = staff_page(live_world.therapist, reverse("sets"))
    page.emulate_media(color_scheme=scheme)
    for address in ("sets", "set_new"):
        page.goto(page.url.split("/sets/")[0] + reverse(address))
        for width in (1280, 390, 320):
            page.set_viewport_size({"width": width, "height": 800})
            assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert violations(page) == []


def test_enter_before_the_search_has_answered_adds_what_was_typed(builder):
    page = builder
    page.route("**/draft/?*", lambda route: (page.wait_for_timeout(300), route.continue_()))
    page.keyboard.press("/")
    page.keyboard.type("full fist")
    page.keyboard.press("Enter")
    expect(lines(page)).to_have_count(3)
    expect(lines(page).last).to_contain_text("Full fist")


def test_a_line_is_eased_moved_opened_and_taken_out_by_keys(builder):
    page = builder
    first = lines(page).first
    page.keyboard.press("/")
    page.keyboard.press("ArrowDown")
    expect(first.locator(".name")).to_be_focused()
    page.keyboard.press("-")
    expect(page.locator("#said")).to_contain_text("now ")
    expect(first.locator(".step")).not_to_have_text("active")
    expect(first.locator(".name")).to_be_focused()
    name = first.locator(".name").inner_text()
    page.keyboard.press("Alt+ArrowDown")
    expect(lines(page).nth(1)).to_contain_text(name)
    expect(lines(page).nth(1).locator(".name")).to_be_focused()
    page.keyboard.press("Enter")
    form = page.locator(".line-form")
    expect(form).to_be_visible()
    form.get_by_label("Sets").fill("4")
    page.keyboard.press("Enter")
    expect(form).to_have_count(0)
    expect(lines(page).nth(1)).to_contain_text("4 × ")
    expect(lines(page).nth(1).locator(".name")).to_be_focused()
    page.keyboard.press("x")
    expect(lines(page)).to_have_count(1)
    page.keyboard.press("u")
    expect(lines(page)).to_have_count(2)
    expect(lines(page).nth(1)).to_contain_text(name)


def test_escape_closes_a_line_and_gives_the_focus_back(builder):
    page = builder
    lines(page).first.locator(".name").click()
    page.locator(".line-form").get_by_label("Sets").focus()
    page.keyboard.press("Escape")
    expect(page.locator(".line-form")).to_have_count(0)
    expect(lines(page).first.locator(".name")).to_be_focused()


def test_a_wrong_dose_keeps_what_was_typed_and_says_so(builder):
    page = builder
    lines(page).first.locator(".name").click()
    form = page.locator(".line-form")
    form.get_by_label("Reps from").fill("20")
    form.get_by_label("Note to the patient").fill("Keep me")
    form.get_by_role("button", name="Save").click()
    expect(form.get_by_role("alert")).to_be_focused()
    expect(form).to_contain_text("The range ends below its beginning.")
    expect(form.get_by_label("Note to the patient")).to_have_value("Keep me")


def test_a_refused_issue_says_why_where_the_focus_goes(builder, live_world):
    page = builder
    open_version(live_world.patient).lines.update(step="passive")
    page.locator("#issue").get_by_role("button").click()
    alert = page.locator("#issue").get_by_role("alert")
    expect(alert).to_contain_text("name the helper first")
    expect(alert).to_be_focused()


def test_a_line_added_below_the_fold_comes_into_view(builder):
    page = builder
    page.set_viewport_size({"width": 1280, "height": 460})
    page.keyboard.press("/")
    page.keyboard.type("full fist")
    page.keyboard.press("Enter")
    expect(lines(page).last).to_contain_text("Full fist")
    expect(lines(page).last).to_be_in_viewport()
    expect(page.locator("#find")).to_be_in_viewport()


def test_every_day_ticks_all_boxes(builder):
    page = builder
    lines(page).first.locator(".name").click()
    boxes = page.locator(".weekdays input")
    boxes.nth(2).uncheck()
    page.get_by_role("button", name="Every day").click()
    for number in range(7):
        expect(boxes.nth(number)).to_be_checked()


def test_what_was_typed_for_the_issue_survives_changes_of_lines(builder):
    page = builder
    page.locator("#issue_change_sentence").fill("Slower now.")
    lines(page).first.get_by_role("button", name="Harder").click()
    expect(page.locator("#said")).to_contain_text("now resisted")
    expect(page.locator("#issue_change_sentence")).to_have_value("Slower now.")
    expect(page.locator("[name=seen_edits]")).to_have_value("1")


def test_single_keys_can_be_switched_off(builder):
    page = builder
    page.locator(".keys summary").click()
    page.locator("#single-keys").uncheck()
    page.locator("h1").click()
    page.keyboard.press("/")
    expect(page.locator("#find")).not_to_be_focused()
    page.reload()
    page.keyboard.press("i")
    expect(page.locator("#issue_effective_day")).not_to_be_focused()


def test_without_script_the_whole_way_works(browser, live_world, live_server, staff_page):
    page = staff_page(live_world.therapist)
    context = browser.new_context(
        java_script_enabled=False, storage_state=page.context.storage_state()
    )
    plain = context.new_page()
    plain.goto(live_server.url + reverse("plan", args=[live_world.patient.pk]))
    plain.get_by_role("button", name="Change the plan").click()
    plain.get_by_label("Find an exercise").fill("elbow")
    plain.get_by_role("button", name="Find").click()
    plain.locator("#found .hit > button").first.click()
    expect(plain.locator("[data-line]")).to_have_count(3)
    plain.locator("[data-line]").nth(0).get_by_role("button", name="Take out").click()
    expect(plain.locator("[data-line]")).to_have_count(2)
    plain.get_by_role("button", name="Put back").click()
    expect(plain.locator("[data-line]")).to_have_count(3)
    plain.locator("[data-line]").nth(0).get_by_role("button", name="Easier").click()
    expect(plain.locator("[data-line]").nth(0)).to_contain_text("gravity-reduced")
    plain.locator("[data-line]").nth(0).get_by_role("button", name="Harder").click()
    expect(plain.locator("[data-line]").nth(0)).to_contain_text("active")
    expect(plain.locator("[data-line]")).to_have_count(3)
    plain.locator("[data-line] .name").first.click()
    expect(plain.locator(".line-form")).to_be_visible()
    context.close()


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 390), ("light", 320)])
def test_nothing_is_wrong_for_assistive_technology_and_nothing_overflows(
    builder, live_world, violations, scheme, width
):
    page = builder
    page.emulate_media(color_scheme=scheme)
    page.set_viewport_size({"width": width, "height": 800})
    lines(page).first.locator(".name").click()
    expect(page.locator(".line-form")).to_be_visible()
    patient = live_world.patient.pk
    addresses = [
        None,
        reverse("plan", args=[patient]),
        reverse("plan_version", args=[patient, live_world.version.pk]),
        reverse("exercises"),
        reverse("exercise", args=["full_fist"]),
    ]
    for address in addresses:
        if address:
            page.goto(page.url.split("/patients")[0].split("/exercises")[0] + address)
        assert violations(page) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_figure_found_while_typing_moves_when_asked(builder):
    page = builder
    wrong = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.locator("#find").fill("lift the hand at the wrist")
    player = page.locator("#found .player:visible")
    expect(player).to_have_count(1)
    moving = player.locator(".moving svg")
    expect(moving).to_be_hidden()
    player.get_by_role("button", name="Start moving").click()
    expect(moving).to_be_visible()
    first = moving.inner_html()
    expect(moving).not_to_have_js_property("innerHTML", first)
    assert wrong == []
