"""A phone set up by a short code, and the home screen offered once there is something to keep."""

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from patients import phones
from patients.models import Phone
from tests.browser.handset import do_session, ready

# What Safari on iOS says of a page that is open in the browser, and of one from the home screen.
IN_BROWSER = "Object.defineProperty(navigator, 'standalone', { value: false })"
FROM_HOME_SCREEN = "Object.defineProperty(navigator, 'standalone', { value: true })"


@pytest.fixture
def made(live_world):
    """Return a function that makes a link and a code."""

    def make():
        return phones.make_invite_with_code(
            by=live_world.therapist, patient=live_world.patient, now=timezone.now()
        )

    return make


@pytest.fixture
def page(phone_context):
    page = phone_context.new_page()
    problems = []
    page.on("pageerror", lambda problem: problems.append(str(problem)))
    yield page
    assert not problems


def shows(page, way):
    expect(page.locator(f"[data-join-way={way}]")).to_be_visible()
    assert page.locator("[data-join-way]:visible").count() == 1


def test_a_code_is_typed_with_the_big_keys_and_put_right(page, live_server, made, violations):
    _, code = made()
    page.goto(f"{live_server.url}/home/")
    page.get_by_role("link", name="Type the code").tap()
    shows(page, "code")
    button = page.locator("[data-join-code]")
    expect(button).to_be_disabled()
    for digit in [*code[:3], "5", "←", *code[3:]]:
        name = "Take back the last digit" if digit == "←" else digit
        page.get_by_role("button", name=name, exact=True).tap()
    expect(page.get_by_label("Code", exact=True)).to_have_value(f"{code[:4]} {code[4:]}")
    for key in page.locator("[data-key]").all():
        box = key.bounding_box()
        assert min(box["width"], box["height"]) >= 64
    assert violations(page) == []
    button.tap()
    page.wait_for_url("**/home/")
    ready(page)
    assert Phone.objects.count() == 1


@pytest.mark.parametrize("pasted", ["{0} {1}", " {0}-{1}\n", "{0}{1}", "arabic"])
def test_a_code_is_pasted_in_whatever_form_it_comes(page, live_server, made, pasted):
    _, code = made()
    page.goto(f"{live_server.url}/home/join")
    arabic = "".join(chr(0x0660 + int(digit)) for digit in code)
    text = arabic if pasted == "arabic" else pasted.format(code[:4], code[4:])
    page.get_by_label("Code", exact=True).focus()
    page.keyboard.insert_text(text)
    page.keyboard.press("Enter")
    page.wait_for_url("**/home/")
    ready(page)


def test_a_wrong_code_says_what_to_do(page, live_server, made):
    _, code = made()
    page.goto(f"{live_server.url}/home/join")
    page.get_by_label("Code", exact=True).fill(code[:2] + str((int(code[2:]) + 1) % 10**6).zfill(6))
    page.locator("[data-join-code]").tap()
    expect(page.get_by_text("That code doesn’t work.")).to_be_visible()
    page.get_by_label("Code", exact=True).fill(code)
    page.locator("[data-join-code]").tap()
    page.wait_for_url("**/home/")


def test_where_an_app_has_its_own_storage_it_is_installed_first(page, live_server, made):
    link, code = made()
    page.add_init_script(IN_BROWSER)
    page.goto(f"{live_server.url}/home/join#{link.partition('#')[2]}")
    shows(page, "install")
    expect(page.get_by_text("so that your sessions stay on this phone")).to_be_visible()
    page.get_by_role("button", name="Set it up here instead").tap()
    shows(page, "link")
    assert not Phone.objects.exists()

    app = page.context.browser.new_context()  # its own storage: neither cookie nor link
    page = app.new_page()
    page.add_init_script(FROM_HOME_SCREEN)
    page.goto(f"{live_server.url}/home/")
    page.get_by_role("link", name="Type the code").click()
    shows(page, "code")
    page.get_by_label("Code", exact=True).fill(code)
    page.locator("[data-join-code]").click()
    page.wait_for_url("**/home/")
    ready(page)
    page.wait_for_function("() => home.store.kept('contact') !== null")
    assert Phone.objects.get().is_installed is True
    do_session(page, tap=False)
    expect(page.locator("[data-home-screen]")).to_be_hidden()
    app.close()


def opened(page, live_server, made):
    page.goto(f"{live_server.url}/home/join#{made()[0].partition('#')[2]}")
    page.locator("[data-join]").tap()
    page.wait_for_url("**/home/")
    ready(page)


def again(page, live_server):
    page.goto(f"{live_server.url}/home/")
    ready(page)
    page.wait_for_load_state("networkidle")  # a newer plan that comes opens the page anew


# The question that Chromium asks, as the page gets it: it can't be brought about in a headless one.
ASKS = """() => {
  const event = new Event("beforeinstallprompt", { cancelable: true });
  event.prompt = () => { window.asked = true; };
  event.userChoice = Promise.resolve({ outcome: "accepted" });
  dispatchEvent(event);
  return event.defaultPrevented;
}"""


def test_the_home_screen_is_offered_after_the_first_session_and_twice_at_most(
    page, live_server, made, violations
):
    opened(page, live_server, made)
    offer = page.locator("[data-home-screen]")
    assert page.evaluate(ASKS) is True  # the browser's own question is held back
    expect(offer).to_be_hidden()
    do_session(page)
    expect(offer).to_be_visible()
    expect(offer.get_by_text("So that your sessions stay on this phone")).to_be_visible()
    assert violations(page) == []
    page.get_by_role("button", name="Not now").tap()
    expect(offer).to_be_hidden()
    again(page, live_server)
    page.evaluate(ASKS)
    do_session(page)
    expect(offer).to_be_visible()
    page.get_by_role("button", name="Put it there").tap()
    assert page.evaluate("window.asked") is True
    again(page, live_server)
    page.locator("[data-extra]").tap()
    do_session(page, begun=True)
    expect(offer).to_be_hidden()


@pytest.mark.parametrize(
    ("navigator", "words"), [("", "Open the menu of your browser."), (IN_BROWSER, "press Share")]
)
def test_where_no_browser_asks_the_way_is_told_in_words(page, live_server, made, navigator, words):
    opened(page, live_server, made)
    page.add_init_script(navigator)
    page.goto(f"{live_server.url}/home/")
    ready(page)
    do_session(page)
    offer = page.locator("[data-home-screen]")
    expect(offer.get_by_text(words)).to_be_visible()
    expect(page.get_by_role("button", name="Put it there")).to_be_hidden()


def test_a_phone_that_kept_nothing_is_offered_nothing(page, live_server, made):
    page.add_init_script("indexedDB.open = () => { throw new Error('none'); }")
    opened(page, live_server, made)
    do_session(page, saved="This was not saved on this phone")
    expect(page.locator("[data-home-screen]")).to_be_hidden()
