"""The paper diary in Chromium: keyboard, sums while typing, and how it fits."""

from datetime import date, timedelta

import pytest
from playwright.sync_api import expect

from logs.models import HeardDay, Revision
from logs.paper_cells import BadCell, read_amounts
from tests.logs.homes import enrol_home

MONDAY = date(2026, 3, 2)
WEEK = "?week=2026-W10"


@pytest.fixture
def diary(staff_page, live_world):
    return staff_page(live_world.therapist, f"/patients/{live_world.patient.pk}/diary/{WEEK}")


@pytest.fixture
def keys(live_world):
    return [line.key for line in live_world.version.lines.all()]


def cell(page, day, session, kind):
    return page.locator(f"[id='{MONDAY + timedelta(days=day)}/{session}/{kind}']")


def day_total(page, day):
    return page.locator(f"[data-day-done='{MONDAY + timedelta(days=day)}']")


def test_a_week_is_typed_by_keyboard_alone(diary, keys):
    cell(diary, 0, 1, keys[0]).focus()
    diary.keyboard.type("10 8")
    diary.keyboard.press("Enter")
    expect(cell(diary, 0, 1, keys[1])).to_be_focused()
    diary.keyboard.type("x")
    diary.keyboard.press("ArrowDown")
    expect(cell(diary, 0, 1, "@pain_before")).to_be_focused()
    diary.keyboard.type("2")
    diary.keyboard.press("Tab")
    expect(cell(diary, 1, 1, "@pain_before")).to_be_focused()
    diary.keyboard.press("ArrowUp")
    expect(cell(diary, 1, 1, keys[1])).to_be_focused()
    diary.get_by_role("button", name="Save the week").press("Enter")
    expect(diary.get_by_text("1 session typed in, 1 day marked heard")).to_be_visible()
    revision = Revision.objects.get()
    assert [done.amounts for done in revision.performances.all()] == [[10, 8], [8]]
    assert revision.pain_before == 2


def test_sums_follow_the_typing_and_the_days_tick_too(diary, keys):
    expect(day_total(diary, 0)).to_have_text("0")
    cell(diary, 0, 1, keys[0]).fill("3x10")
    cell(diary, 0, 2, keys[0]).fill("x")
    expect(day_total(diary, 0)).to_have_text("38")
    cell(diary, 0, 2, keys[0]).fill("eight")
    expect(day_total(diary, 0)).to_have_text("30")
    tick = diary.locator(f"[data-heard='{MONDAY}']")
    expect(tick).to_be_checked()
    cell(diary, 0, 2, keys[0]).fill("")
    tick.uncheck()
    diary.get_by_role("button", name="Save the week").click()
    expect(diary.get_by_text("1 session typed in.")).to_be_visible()
    assert not HeardDay.objects.exists()


def test_sums_take_what_a_phone_told_until_something_is_typed(staff_page, live_world, keys):
    home = enrol_home(live_world.patient)
    home.send(home.record(live_world.version, day=str(MONDAY)))
    page = staff_page(live_world.therapist, f"/patients/{live_world.patient.pk}/diary/{WEEK}")
    expect(day_total(page, 0)).to_have_text("16")
    cell(page, 0, 1, keys[0]).fill("10")
    expect(day_total(page, 0)).to_have_text("18")


CELLS = [
    "", "10", "0", "10 10 8", "10+10+8", "10, 10; 8", "3x10", "3 x 10", "2×10+1*8", "x", "✓", "X",
    "ten", "-3", "8.5", "1000", "0x5", "21x1", "20x1 1", "20x1", "xx", "3x", "x3", "1x2x3", "٣",
    "999", "5 x", "/", "10/10/8",
]  # fmt: skip


def test_the_page_reads_cells_as_the_server_does(diary):
    for text in CELLS:
        try:
            expected = list(read_amounts(text, tick=(8, 8)))
        except BadCell:
            expected = None
        assert diary.evaluate("(text) => diarySums.amounts(text, [8, 8])", text) == expected, text


def test_a_cell_that_cannot_be_is_led_to_from_the_list(diary, keys):
    cell(diary, 2, 1, keys[0]).fill("ten")
    diary.get_by_role("button", name="Save the week").click()
    diary.get_by_role("link", name="Wed 4 Mar, session 1, Arm lift").click()
    expect(cell(diary, 2, 1, keys[0])).to_be_in_viewport()
    expect(cell(diary, 2, 1, keys[0])).to_have_value("ten")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 390, 1280])
def test_the_week_fits_and_has_no_barrier(diary, keys, violations, width, scheme):
    diary.emulate_media(color_scheme=scheme)
    diary.set_viewport_size({"width": width, "height": 860})
    cell(diary, 0, 1, keys[0]).fill("ten")
    diary.get_by_role("button", name="Save the week").click()
    expect(diary.get_by_text("Nothing is saved yet.")).to_be_visible()
    diary.get_by_text("How to type it in").click()
    assert violations(diary) == []
    assert diary.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 1280])
def test_phones_on_the_patients_page_and_a_new_link(
    staff_page, live_world, violations, width, scheme
):
    enrol_home(live_world.patient)
    page = staff_page(live_world.therapist, f"/patients/{live_world.patient.pk}/")
    page.emulate_media(color_scheme=scheme)
    page.set_viewport_size({"width": width, "height": 860})
    page.get_by_text("Rename or shut out").click()
    assert violations(page) == []
    page.get_by_role("button", name="Enrol a phone").click()
    expect(page.get_by_role("img", name="QR code of the link")).to_be_visible()
    assert "/home/join#" in page.get_by_role("textbox", name="Link").input_value()
    assert violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
