"""From opening the patient to a safe programme on paper and phone, by keyboard alone, counted.

Two minutes is what a therapist has. How long the keys take is told by the keystroke-level model
(Card, Moran and Newell 1980, Commun ACM 23:396-410): 0.28 s a key for somebody who types 40 words
a minute and no faster, and 1.35 s to make up one's mind before each thing that is done.
"""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect as expect_soon

from clinic.http import today_in
from patients.measures_models import Assessment
from patients.precaution_models import Precaution
from plans.queries import open_version, version_in_force
from tests.browser.test_plan_builder import Keys
from tests.world import PatientFactory, join, stock

TODAY = today_in("Europe/London")
A_KEY_S, A_DECISION_S = 0.28, 1.35
TWO_MINUTES_S = 120
MOST_KEYS = 145
MOST_REQUESTS = 28

MEASURED = (
    ("70", "110", "3"),  # shoulder flexion
    ("30", "45", "3"),  # extension
    ("60", "95p", "2"),  # abduction
    ("", "", ""),  # adduction
    ("", "", ""),  # horizontal adduction
    ("", "", ""),  # horizontal abduction
    ("", "", ""),  # external rotation
    ("", "", ""),  # internal rotation
    ("130", "145", "4"),  # elbow flexion
    ("", "", "3"),  # elbow extension
)
"""Active and passive range and grade, in the order in which Enter goes through them."""

CHOSEN = ("arm lift lying", "slide sideways", "elbow bend", "palm up", "wrist lift")


@pytest.fixture
def patient(live_world):
    """Return a patient without a plan, whose shoulder must not be lifted past 60°, nor resisted."""
    stock(
        "arm_lift_forward_lying",
        "arm_slide_sideways_lying",
        "elbow_bend_sitting",
        "forearm_turn",
        "wrist_bend_back",
    )
    patient = PatientFactory(clinic_number="H-200", name="Juniper Tallow")
    join(patient, live_world.therapist)
    for limit in (
        {"kind": "angle", "motion": "shoulder_flexion", "limit_deg": 60},
        {"kind": "effort", "joint": "shoulder", "effort": "active"},
    ):
        Precaution.objects.create(
            patient=patient,
            side="left",
            from_day=TODAY - timedelta(days=7),
            set_by="Mx Hoarfrost",
            source="operation note",
            recorded_by=live_world.therapist,
            recorded_at=timezone.now(),
            **limit,
        )
    return patient


def expect(locator):
    """Expect something within the time that a busy machine may take."""
    return Patiently(locator)


class Patiently:
    def __init__(self, locator):
        self.expected = expect_soon(locator)

    def __getattr__(self, name):
        return lambda *said: getattr(self.expected, name)(*said, timeout=20_000)


class Therapist(Keys):
    """Keys, decisions and requests on one page."""

    def __init__(self, page):
        super().__init__(page)
        self.decisions = 0
        self.requests = []
        page.on("request", lambda request: self.requests.append((request.method, request.url)))

    def decides(self, *keys):
        """Make up one's mind, then press keys; what is longer than a key is typed."""
        self.decisions += 1
        for key in keys:
            if len(key) > 1 and key not in ("Enter", "Escape", "Control+Enter", "ArrowDown"):
                self.type(key)
            else:
                self.press(key)

    @property
    def seconds(self):
        """What it takes by the keystroke-level model; held keys count one each."""
        return self.count * A_KEY_S + self.decisions * A_DECISION_S


def lines(page):
    return page.locator("[data-line]")


def settled(page):
    """Wait until what was put into the page answers keys."""
    page.wait_for_function(
        "() => !document.querySelector('.htmx-request, .htmx-swapping, .htmx-settling')"
    )
    page.wait_for_timeout(100)


def test_from_the_patient_to_paper_and_phone_in_two_minutes(
    live_world, live_server, staff_page, patient
):
    page = staff_page(live_world.therapist)
    keys = Therapist(page)
    page.goto(live_server.url + reverse("patient", args=[patient.pk]))
    # Assess: the shoulder, from the first field on.
    keys.decides("m")
    page.wait_for_url("**/assessment/")
    keys.decides("n")
    page.wait_for_url("**/assessment/new/")
    expect(page.locator("[name=shoulder_flexion-left-active]")).to_be_visible()
    expect(page.get_by_label("Precautions").first).to_contain_text("no further than 60°")
    keys.decides("/")
    for measures in MEASURED:
        keys.decisions += any(measures)
        for said in measures:
            keys.type(said)
            keys.press("Enter")
    keys.decides("Control+Enter")
    keys.count += 1  # two keys held
    page.wait_for_url("**/assessment/")
    assert Assessment.objects.filter(patient=patient).count() == 1
    # Start a plan and find its exercises; each is added where it may start.
    keys.decides("p")
    page.wait_for_url("**/plan/")
    keys.decides("n")
    page.wait_for_url("**/plan/draft/")
    for number, words in enumerate(CHOSEN, start=1):
        keys.decides("/", words, "Enter")
        expect(lines(page)).to_have_count(number)
        if number == 1:
            expect(page.locator("#found .proposal").first).to_contain_text("Start active.")
        keys.press("Escape")
    lift = lines(page).first
    expect(lift).to_contain_text("Stop at 60° of shoulder flexion")
    # A step too far is found, and what would pass is one key away.
    page.keyboard.press("/")
    keys.decides("ArrowDown")
    keys.count += 1
    keys.decides("+")
    expect(page.locator("#lines")).to_contain_text("A hard precaution blocks the issue.")
    settled(page)
    keys.decides("f")
    expect(page.locator("#lines")).not_to_contain_text("A hard precaution blocks the issue.")
    keys.decides("o")
    expect(page.locator("#lines")).to_contain_text("Back to the order before")
    expect(page.locator("#lines")).to_contain_text("no order has fewer")
    keys.decides("i", "Enter")
    page.wait_for_url("**/plan/")
    expect(page.locator("#messages")).to_contain_text("Version 1 is issued.")
    plan = version_in_force(patient, TODAY)
    assert plan.lines.count() == len(CHOSEN)
    assert open_version(patient) is None
    # Paper, then phone.
    context = page.context
    with context.expect_event("response", lambda answer: "sheet" in answer.url) as answered:
        keys.decides("s")
    assert answered.value.headers["content-type"] == "application/pdf"
    keys.decides("v")
    page.wait_for_url(f"**/patients/{patient.pk}/")
    keys.decides("e")
    expect(page.locator(".invite-code svg")).to_be_visible()
    expect(page.locator(".short-code")).to_be_visible()
    pages = [url for _, url in keys.requests if "/static/" not in url]
    assert keys.count <= MOST_KEYS, keys.count
    assert len(pages) <= MOST_REQUESTS, len(pages)
    assert keys.seconds <= TWO_MINUTES_S, (keys.count, keys.decisions)


def test_single_keys_are_off_where_somebody_types_and_when_switched_off(
    live_world, live_server, staff_page, patient
):
    address = reverse("assessment_new", args=[patient.pk])
    page = staff_page(live_world.therapist, address)
    page.locator("[name=shoulder_flexion-left-active]").focus()
    page.keyboard.press("p")
    assert page.url.endswith(address)
    assert page.locator("[name=shoulder_flexion-left-active]").input_value() == "p"
    page.goto(live_server.url + reverse("patient", args=[patient.pk]))
    page.locator(".page-keys summary").click()
    page.get_by_label("Single keys are on").uncheck()
    page.locator("h1").click()
    page.keyboard.press("m")
    page.reload()
    page.keyboard.press("m")
    assert page.url.endswith(reverse("patient", args=[patient.pk]))


@pytest.mark.parametrize("width", [1280, 320])
def test_the_keys_shown_are_accessible_and_overflow_nothing(
    live_world, live_server, staff_page, patient, violations, width
):
    page = staff_page(live_world.therapist, reverse("patient", args=[patient.pk]))
    page.set_viewport_size({"width": width, "height": 800})
    page.locator(".page-keys summary").click()
    assert violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
