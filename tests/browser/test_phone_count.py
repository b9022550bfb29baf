"""The count aloud in Chromium: what is spoken is compared with the dose, on a clock run fast."""

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from logs.models import Revision
from patients import phones
from tests.browser.handset import reopened
from tests.browser.session_steps import after_pains, stop_here
from tests.browser.test_phone import LOOKS, NARROWEST_PX, TOO_PALE, TOO_SMALL, TOO_WIDE, press
from tests.world import EXERCISES, issue

# Headless Chromium has no voices: this one writes down what it is told to say, and when.
VOICE = """(language) => {
  window.said = []; window.locks = []; window.shakes = [];
  Object.defineProperty(window, "SpeechSynthesisUtterance", { configurable: true, writable: true,
    value: class { constructor(text) { this.text = text; } } });
  Object.defineProperty(window, "speechSynthesis", { configurable: true, value: {
    getVoices: () => [
      { name: "far", lang: language, localService: false },
      { name: "near", lang: language, localService: true },
    ],
    addEventListener() {}, cancel() {},
    speak(one) { window.said.push([Math.round(performance.now()), one.text, one.voice.name]); },
  } });
}"""
NO_VOICE = """() => {
  window.tones = [];
  Object.defineProperty(window, "speechSynthesis", { configurable: true, value: undefined });
  const start = OscillatorNode.prototype.start;
  OscillatorNode.prototype.start = function (...at) {
    window.tones.push(this.frequency.value);
    return start.apply(this, at);
  };
}"""
AWAKE = """() => {
  window.awake = [];
  Object.defineProperty(Navigator.prototype, "wakeLock", { configurable: true, value: {
    async request(kind) {
      window.awake.push(`asked ${kind}`);
      return { async release() { window.awake.push("released"); } };
    },
  } });
  Navigator.prototype.vibrate = (shake) => (window.shakes ??= []).push(shake) > 0;
}"""
OTHER = {"exercise": EXERCISES[1]}
LINE = {"sets": 2, "amount_low": 3, "amount_high": 5, "hold_s": 2, "pace_s": 4, "rest_s": 20}


@pytest.fixture
def counting(phone_context, live_server, live_world):
    """Return a function that opens a plan's first exercise on a phone with stood-in hardware."""
    page = phone_context.new_page()
    problems = []
    page.on("pageerror", lambda problem: problems.append(str(problem)))

    def open_at(lines, voice="en-GB", language="en", text_size="normal"):
        issue(live_world.patient, live_world.therapist, timezone.now().date(), lines)
        live_world.patient.language, live_world.patient.text_size = language, text_size
        live_world.patient.save()
        page.add_init_script(f"({VOICE})({voice!r})" if voice else f"({NO_VOICE})()")
        page.add_init_script(f"({AWAKE})()")
        now = timezone.now()
        link = phones.make_invite(by=live_world.therapist, patient=live_world.patient, now=now)
        page.goto(f"{live_server.url}/home/join#{link.partition('#')[2]}")
        page.locator("[data-join]").tap()
        page.wait_for_url("**/home/")
        page.locator("[data-start]").tap()
        page.locator("[data-score='1']").tap()
        page.clock.install()
        return page

    yield open_at
    assert not problems


def said(page):
    return [words for _, words, _ in page.evaluate("window.said")]


def finish(page, save="Save"):
    stop_here(page)
    after_pains(page, "2")
    press(page, save)
    page.clock.run_for(1000)
    expect(page.locator("[data-sent=received]")).to_be_visible()


def one_set(n):
    """What is said in a set of three with a hold of two seconds."""
    return [
        f"Get ready. Set {n} of 2. 3 times",
        "1", "Hold: 2 seconds", "Let go", "2", "Hold", "Let go", "3", "Hold", "Let go",
    ]  # fmt: skip


def test_what_is_spoken_is_the_dose_at_its_pace(counting):
    page = counting([LINE, OTHER])
    press(page, "Count with me")
    page.clock.run_for(65_000)
    assert said(page) == [
        *one_set(1),
        "Rest: 20 seconds",
        *one_set(2),
        "That is done. Next: Bend and straighten the elbow",
    ]
    spoken = page.evaluate("window.said")
    assert {voice for *_, voice in spoken} == {"near"}
    began_ms = next(at for at, words, _ in spoken if words == "1")
    at_s = [round((at - began_ms) / 1000, 1) for at, *_ in spoken[1:10]]
    # Pace 4 s, the hold in its middle for 2 s more (n, hold, let go): 6 s a repetition.
    assert at_s == [0, 2, 4, 6, 8, 10, 12, 14, 16]
    rest_ms = next(at for at, words, _ in spoken if words == "Rest: 20 seconds")
    assert round((rest_ms - began_ms) / 1000, 1) == 18
    again_ms = [at for at, words, _ in spoken if words == "1"][1]
    assert round((again_ms - rest_ms) / 1000, 1) == 20
    press(page, "All of it: 3 times, 3 times")
    expect(page.get_by_role("heading", name="Bend and straighten the elbow")).to_be_visible()
    finish(page)
    done = Revision.objects.get().performances.get(ended=None)
    assert (done.amounts, done.is_confirmed) == ([3, 3], True)


def test_each_set_is_confirmed_in_its_rest_with_one_tap(counting):
    page = counting([LINE])
    press(page, "Count with me")
    page.clock.run_for(5_000 + 18_000 + 2_000)
    press(page, "Fewer, or another number")
    page.get_by_role("button", name="You did: less").tap()
    press(page, "That is right")
    expect(page.get_by_text("Paused")).to_be_visible()
    press(page, "Go on")
    page.clock.run_for(60_000)
    press(page, "None of it")
    finish_from_note(page)
    done = Revision.objects.get().performances.get()
    assert (done.amounts, done.is_confirmed) == ([2, 0], True)


def finish_from_note(page):
    after_pains(page, "2")
    press(page, "Save")
    page.clock.run_for(1000)
    expect(page.locator("[data-sent=received]")).to_be_visible()


def test_a_count_that_nobody_confirmed_is_labelled_so_and_not_lost(counting):
    page = counting([LINE, OTHER])
    press(page, "Count with me")
    page.clock.run_for(5_000 + 13_000)  # in the third repetition of the first set
    page.locator("[data-count-words]").tap()
    press(page, "Count myself")
    finish(page)
    done = Revision.objects.get().performances.get()
    assert (done.amounts, done.is_confirmed) == ([2], False)


def test_a_count_cut_short_is_asked_for_after_the_page_was_closed(counting):
    page = counting([LINE])
    press(page, "Count with me")
    page.clock.run_for(5_000 + 18_000 + 500)
    reopened(page)
    page.locator("[data-start]").tap()
    press(page, "Count with me")
    press(page, "All of it: 3 times")
    finish_from_note(page)
    done = Revision.objects.get().performances.get()
    assert (done.amounts, done.is_confirmed) == ([3], True)


@pytest.mark.parametrize("way", ["tap anywhere", "button", "space"])
def test_a_pause_lasts_as_long_as_it_is_wanted(counting, way):
    page = counting([LINE])
    press(page, "Count with me")
    page.clock.run_for(5_000 + 7_000)  # the second repetition
    assert said(page)[-1] == "2"
    if way == "tap anywhere":
        page.locator("[data-count-number]").tap()
    elif way == "button":
        press(page, "Pause")
    else:
        page.keyboard.press("Space")
    expect(page.get_by_text("Paused")).to_be_visible()
    before = said(page)
    page.clock.run_for(600_000)
    assert said(page) == before
    press(page, "Go on")
    page.clock.run_for(500)
    assert said(page) == [*before, "2"]  # from where that repetition began
    page.clock.run_for(6_000)
    assert said(page)[-1] == "3"


def test_the_screen_is_kept_awake_while_it_counts(counting):
    page = counting([LINE])
    assert page.evaluate("window.awake") == []
    press(page, "Count with me")
    page.clock.run_for(1_000)
    assert page.evaluate("window.awake") == ["asked screen"]
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")  # back from elsewhere
    page.clock.run_for(10)
    assert page.evaluate("window.awake") == ["asked screen", "released", "asked screen"]
    press(page, "Pause")
    page.clock.run_for(10)
    assert page.evaluate("window.awake.at(-1)") == "released"


@pytest.mark.parametrize("voice", ["", "fr-FR"])
def test_without_a_voice_of_the_language_tones_and_numbers_carry_the_count(counting, voice):
    page = counting([{**LINE, "sets": 1}], voice=voice)
    press(page, "Count with me")
    expect(page.locator("[data-count-silent]")).to_be_visible()
    page.clock.run_for(5_500)
    expect(page.locator("[data-count-number]")).to_have_text("1")
    page.clock.run_for(2_000)
    expect(page.locator("[data-count-words]")).to_have_text("Hold")
    page.clock.run_for(30_000)
    if voice:
        assert said(page) == []
    else:
        numbers = [660, 880, 440]  # a number, hold, let go
        assert page.evaluate("window.tones") == [550, *numbers * 3, 523]
    shakes = page.evaluate("window.shakes.filter(Boolean)")
    assert shakes.count(40) == 3
    press(page, "All of it: 3 times")
    finish_from_note(page)
    assert Revision.objects.get().performances.get().amounts == [3]


def test_a_hold_is_counted_in_seconds(counting):
    line = {"unit": "seconds", "sets": 1, "amount_low": 25, "amount_high": 25, "hold_s": 0}
    page = counting([line], voice="es-ES", language="es")
    press(page, "Cuente conmigo")
    page.clock.run_for(31_000)
    spoken = said(page)
    assert spoken[0] == "Prepárese. Serie 1 de 1. 25 segundos"
    assert spoken[1:5] == [
        "Mantenga: 25 segundos", "20 segundos más", "10 segundos más", "Suelte",
    ]  # fmt: skip
    press(page, "Todo: 25 segundos")


def test_the_count_speaks_arabic_in_its_plurals_and_with_an_arabic_voice(counting):
    line = LINE | {"sets": 2, "amount_low": 3, "amount_high": 3, "hold_s": 2, "rest_s": 20}
    page = counting([line], voice="ar-SA", language="ar")
    page.locator("[data-count]").tap()
    page.clock.run_for(24_500)
    spoken = said(page)
    assert spoken[:8] == [
        "استعد. المجموعة 1 من 2. 3 مرات",
        *("1", "اثبت: ثانيتين", "أرخِ"),
        *("2", "اثبت", "أرخِ"),
        "3",
    ]
    assert "استرح: 20 ثانية" in spoken
    page.clock.run_for(60_000)
    press(page, "كله: 3 مرات، 3 مرات")


@pytest.mark.look
@pytest.mark.parametrize(("language", "text_size", "scheme"), LOOKS)
def test_the_count_fits_the_narrowest_phone(counting, violations, language, text_size, scheme):
    page = counting([LINE], voice="", language=language, text_size=text_size)
    page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
    page.set_viewport_size({"width": NARROWEST_PX, "height": 640})

    def look():
        page.clock.resume()  # axe waits by timers
        found = violations(page)
        assert (found, page.evaluate(TOO_WIDE)) == ([], [])
        assert (page.evaluate(TOO_SMALL), page.evaluate(TOO_PALE)) == ([], [])

    page.locator("[data-count]").tap()
    page.clock.run_for(9_000)
    page.locator("[data-count-number]").tap()
    look()
    assert page.evaluate("document.getAnimations().length") == 0
    page.locator("[data-count-pause]").tap()
    page.clock.run_for(24_000)
    look()  # in the rest, with its question
    page.clock.run_for(60_000)
    look()


MOVING = "() => document.querySelector('[data-screen=count] .moving svg').innerHTML"


def test_the_figure_moves_holds_and_stands_with_the_count(counting):
    page = counting([LINE])
    press(page, "Count with me")
    assert page.locator("[data-screen=count] .moving").is_visible()

    def after(ms):
        page.clock.run_for(ms)
        return page.evaluate(MOVING)

    ready = after(4_000)
    assert after(500) == ready, "it waits at the beginning"
    lifting = after(1_500)
    assert lifting != ready
    held = after(1_500)
    assert held != lifting
    assert after(1_000) == held, "two seconds of hold"
    lowering = after(1_500)
    assert lowering not in (held, ready)
    page.locator("[data-count-number]").tap()
    stood = after(100)
    assert after(5_000) == stood, "a pause of the count is a pause of the figure"


@pytest.mark.parametrize(
    ("unit", "count", "moments"),
    [
        # By hand: 5 s of waiting; 3 of 4 s and 2 s of hold at the middle; 20 s of rest.
        (
            "repetitions",
            {"pace_s": 4, "hold_s": 2, "holds": [0.5], "rest_s": 20},
            {2: 0, 5: 0, 6: 0.25, 7: 0.5, 8.9: 0.5, 10: 0.75, 11: 0, 12: 0.25, 23: 0, 44: 0.25},
        ),
        ("repetitions", {"pace_s": 4, "hold_s": 0, "holds": [0.5], "rest_s": 9}, {7: 0.5, 8: 0.75}),
        ("seconds", {"pace_s": 0, "hold_s": 0, "holds": [0.4], "rest_s": 0}, {2: 0, 6: 0.4, 9: 0}),
        ("minutes", {"pace_s": 0, "hold_s": 0, "holds": [0.5], "rest_s": 0}, {8: 0.75, 10: 0.25}),
    ],
)  # fmt: skip
def test_where_in_a_repetition_the_figure_is(counting, unit, count, moments):
    page = counting([LINE])
    line = {"unit": unit, "low": 3, "sets": 2, "count": count}
    found = page.evaluate(
        "([line, times]) => times.map((at_s) => home.countMoment(line, at_s, 4))",
        [line, list(moments)],
    )
    assert found == pytest.approx(list(moments.values()))


@pytest.mark.parametrize("motion", ["reduce", "no-preference"])
def test_in_a_session_the_figure_moves_by_itself_unless_less_motion_is_asked_for(counting, motion):
    page = counting([LINE])
    page.emulate_media(reduced_motion=motion)
    press(page, "Count with me")
    press(page, "Count myself")
    player = page.locator("[data-screen=exercise] .player")
    moves = motion == "no-preference"
    assert player.locator(".moving").is_visible() is moves
    assert player.locator(".still").is_visible() is not moves
    press(page, "Hold the picture still" if moves else "Show how it moves")
    page.clock.run_for(100)
    before = player.inner_html()
    page.clock.run_for(700)
    assert (player.inner_html() == before) is moves
