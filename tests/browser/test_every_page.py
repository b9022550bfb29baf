"""Every page there is, found by walking the addresses, so that none can be forgotten.

Each named address is opened. One that answers with a page is looked at: no barrier in either tone,
nothing too wide at 320 px. What is looked at elsewhere says where, and the pages that nobody asks
for (refusals, faults) are here too.
"""

from collections.abc import Iterator
from uuid import uuid4

import pytest
from django.conf import settings
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone
from playwright.sync_api import expect

from clinic import queries as clinic_queries
from clinic.http import today_in
from clinic.models import User
from logs.actions import Told, record_revision
from logs.stop_actions import ToldStop, record_stop
from patients.measures_models import Assessment
from patients.models import HomeHelper
from patients.precaution_models import Precaution
from plans import actions
from plans.safety_actions import withdraw
from tests.logs.homes import enrol_home
from tests.world import EXERCISES, PatientFactory, join

ELSEWHERE = {
    "phone_home": "a patient's phone, not staff's: test_phone.py looks at each of its screens",
    "phone_join": "opened without a sign-in: test_phone_pairing.py looks at it",
    "phone_shell": "words without a plan, which script fills: test_phone_faults.py opens it",
    "sign_in": "opened without a sign-in: among the pages below",
}
LOOKS = [("light", 1280), ("dark", 390)]
NARROWEST_PX = 320


def named(patterns, before: str = "") -> Iterator[tuple[str, tuple[str, ...]]]:
    """Each address's name, with the names of what it needs."""
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            yield from named(pattern.url_patterns)
        elif isinstance(pattern, URLPattern):
            yield pattern.name, tuple(pattern.pattern.converters)


ADDRESSES = dict(named(get_resolver().url_patterns))


@pytest.fixture
def full_world(live_world):
    """Return the small world with a row of each kind that an address may name, and those rows."""
    who, patient, now = live_world.therapist, live_world.patient, timezone.now()
    today = today_in("Europe/London")
    pause = actions.add_pause(
        by=who, patient=patient, first_day=today, last_day=None, reason="Away", today=today
    )
    withdrawal = withdraw(
        by=who,
        patient=patient,
        reason="A sore elbow",
        today=today,
        line_key=live_world.version.lines.last().key,
    )
    draft = actions.start_draft(by=who, patient=patient, today=today)
    assessment = Assessment.objects.create(
        patient=patient, measured_day=today, measured_by=who, recorded_by=who, recorded_at=now
    )
    precaution = Precaution.objects.create(
        patient=patient,
        kind="effort",
        side="left",
        motion="shoulder_flexion",
        effort="active",
        from_day=today,
        set_by="Dr Sample",
        source="operation note",
        recorded_by=who,
        recorded_at=now,
    )
    told = Told(day=today, occasion=1, source="paper", version=live_world.version, performances=())
    entry = uuid4()
    record_revision(
        patient=patient, entry=entry, revision=uuid4(), replaces=None, told=told, user=who
    )
    record_stop(
        patient=patient,
        uuid=uuid4(),
        told=ToldStop("today", "fever", now, today, 1, "telephone"),
        user=who,
    )
    rows = {
        "pk": patient.pk,
        "episode_pk": live_world.episode.pk,
        "helper_pk": HomeHelper.objects.create(patient=patient, name="Ivy", relation="wife").pk,
        "member_pk": patient.care_team.first().pk,
        "phone_pk": enrol_home(patient).phone.pk,
        "motion": "shoulder_flexion",
        "assessment_pk": assessment.pk,
        "precaution_pk": precaution.pk,
        "version_pk": live_world.version.pk,
        "withdrawal_pk": withdrawal.pk,
        "pause_pk": pause.pk,
        "line_pk": draft.lines.first().pk,
        "way": "up",
        "uuid": entry,
        "key": EXERCISES[0],
    }
    return live_world, rows


# What the same word means at other addresses.
OWN_ROWS = {
    "staff_edit": lambda world: {"pk": world.student.pk},
    "protocol_accept": lambda world: {"key": "cuff_repair"},
    "set_edit": lambda world: {"key": "stroke_lying"},
    "set_copy": lambda world: {"key": "stroke_lying"},
    "set_retire": lambda world: {"key": "stroke_lying"},
}


def pages(world, rows) -> Iterator[tuple[User, str]]:
    """Who may open which address, for each of ``rows`` that answers with a page."""
    clients = []
    for user in (world.therapist, world.supervisor, world.administrator):
        client = Client()
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        clients.append((user, client))
    for name, needs in ADDRESSES.items():
        own = rows | (OWN_ROWS[name](world) if name in OWN_ROWS else {})
        if name in ELSEWHERE or not set(needs) <= set(own):
            continue
        address = reverse(name, kwargs={each: own[each] for each in needs})
        answers = ((user, client.get(address)) for user, client in clients)
        opened = (each for each in answers if each[1].status_code not in (403, 404))
        user, answer = next(opened, (None, None))
        assert answer, f"{name}: nobody can open {address}"
        assert answer.status_code in (200, 302, 401, 405), address
        if answer.status_code == 200 and answer["Content-Type"].startswith("text/html"):
            yield user, address


@pytest.fixture(params=LOOKS, ids=[scheme for scheme, _ in LOOKS])
def look(request, page, violations):
    """Return a function that looks at the page that is open, in one tone and width."""
    scheme, width = request.param
    page.set_viewport_size({"width": width, "height": 800})
    page.emulate_media(color_scheme=scheme)

    def looked(where):
        assert violations(page) == [], where
        if width < 400:
            page.set_viewport_size({"width": NARROWEST_PX, "height": 800})
            assert page.evaluate("document.documentElement.scrollWidth") <= NARROWEST_PX, where
            page.set_viewport_size({"width": width, "height": 800})

    return looked


def test_what_is_looked_at_elsewhere_still_exists():
    assert set(ELSEWHERE) | set(OWN_ROWS) <= set(ADDRESSES)


@pytest.mark.look
@pytest.mark.timeout(400)  # it opens them all
def test_no_page_has_a_barrier_or_complains_of_itself(full_world, staff_page, page, look):
    world, rows = full_world
    said = []
    page.on("console", lambda message: said.append(message.text))
    opened = list(pages(world, rows))
    assert len(opened) > 30
    for user, address in opened:
        staff_page(user, address)
        look(address)
    assert said == []


@pytest.mark.look
@pytest.mark.parametrize("look", LOOKS[1:], ids=["dark"], indirect=True)
def test_no_page_of_somebody_new_has_a_barrier(live_world, staff_page, look):
    patient = PatientFactory(clinic_number="H-101", name="Ash Newcomer")
    join(patient, live_world.therapist)
    opened = [address for _, address in pages(live_world, {"pk": patient.pk})]
    of_patient = [address for address in opened if address.startswith("/patients/")]
    assert len(of_patient) > 10
    for address in of_patient:
        staff_page(live_world.therapist, address)
        look(address)


@pytest.mark.look
def test_no_refusal_has_a_barrier(live_world, live_server, staff_page, look, monkeypatch):
    def says(heading, page):
        expect(page.get_by_role("heading", level=1)).to_have_text(heading)
        look(heading)

    page = staff_page(live_world.outsider, reverse("patient", args=[live_world.patient.pk]))
    says("There is nothing here for you", page)
    staff_page(live_world.student, reverse("set_new"))
    says("This is for somebody else to do", page)
    staff_page(live_world.therapist, reverse("account"))
    page.context.clear_cookies(name="csrf")
    page.get_by_role("button", name="Sign out").click()
    says("Open the page again", page)

    def fail():
        raise RuntimeError("a fault made by a test")

    monkeypatch.setattr(clinic_queries, "staff", fail)
    staff_page(live_world.administrator, reverse("staff"))
    says("Something went wrong on our side", page)
    page.context.clear_cookies()
    page.goto(live_server.url + reverse("sign_in"))
    says("Sign in", page)
    for _ in range(settings.AXES_FAILURE_LIMIT):
        page.get_by_label("Name").fill("therapist")
        page.get_by_label("Password").fill("not this one")
        page.get_by_role("button", name="Sign in").click()
    says("Wait a little", page)
