"""The patient's page and its enrolment: what it says, and that it never says who the patient is."""

import json
import re
from datetime import UTC, date, datetime, timedelta
from html import unescape
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from logs.phone_plan import home_line
from logs.phone_shell import kept_plan
from patients import phones
from patients.models import HomeHelper, Phone, PhoneStore
from plans.actions import add_pause, new_draft, put_in_force
from plans.catalogue_actions import stock_catalogue
from plans.precaution_words import PRECAUTIONS
from plans.sheet_page import sheet_of
from plans.sheet_words import ENGLISH
from tests.logs.homes import ORIGIN, enrol_home
from tests.plans.test_safety_pages import limit as set_limit
from tests.world import PatientFactory, issue, make_line, shipped_exercises, without_arabic

NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)  # a Wednesday


@pytest.fixture(autouse=True)
def _noon(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: NOON)


def page_of(home):
    answer = home.client.get("/home/")
    assert answer.status_code == 200
    return answer.content.decode()


def data_of(page):
    return json.loads(re.search(r'id="home-plan"[^>]*>(.*?)</script>', page, re.S)[1])["data"]


def test_opening_the_link_uses_nothing_up(client, world):
    link = phones.make_invite(by=world.therapist, patient=world.patient, now=NOON)
    page = client.get("/home/join")
    assert page.status_code == 200
    assert world.patient.name not in page.content.decode()
    assert phones.waiting_invite(world.patient, NOON) is not None
    body = {"secret": link.partition("#")[2], "store": str(uuid4()), "zone": "Europe/London"}
    answer = client.post(
        "/home/enrol", json.dumps(body), "application/json", headers={"Origin": ORIGIN}
    )
    assert answer.json() == {"v": 1, "enrolled": True}
    cookie = answer.cookies[phones.COOKIE_NAME]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"
    assert int(cookie["max-age"]) == 400 * 24 * 60 * 60
    assert "Arm lift" in client.get("/home/").content.decode()


def test_a_link_used_before_is_refused_and_gives_no_credential(client, world):
    link = phones.make_invite(by=world.therapist, patient=world.patient, now=NOON)
    body = json.dumps({"secret": link.partition("#")[2], "store": str(uuid4()), "zone": ""})
    headers = {"Origin": ORIGIN}
    assert client.post("/home/enrol", body, "application/json", headers=headers).status_code == 200
    client.cookies.clear()
    again = client.post("/home/enrol", body, "application/json", headers=headers)
    assert again.status_code == 410
    assert not again.cookies
    assert Phone.objects.count() == PhoneStore.objects.count() == 1


@pytest.mark.parametrize("body", [{}, {"secret": "x", "store": "y", "zone": ""}, {"secret": 1}])
def test_an_enrolment_that_lacks_something_is_refused(client, db, body):
    answer = client.post(
        "/home/enrol", json.dumps(body), "application/json", headers={"Origin": ORIGIN}
    )
    assert answer.status_code == 400


def test_without_a_credential_there_is_nothing_to_see(client, world):
    answer = client.get("/home/")
    assert answer.status_code == 403
    assert "Arm lift" not in answer.content.decode()


def test_a_staff_sign_in_opens_no_patients_page(as_staff, world):
    assert as_staff(world.therapist).get("/home/").status_code == 403


def test_a_phone_opens_no_staff_page(home, world):
    answer = home.client.get(f"/patients/{world.patient.pk}/")
    assert answer.status_code == 302
    assert "sign-in" in answer["Location"]


def test_the_page_reads_the_plan_without_any_script(home):
    page = page_of(home)
    assert "Arm lift to the front, lying down" in page
    assert "Left arm" in page
    assert "8 to 10 times." in page
    assert "Go only as far as it stays comfortable." in page
    assert "not put in what you did" in page  # what to do where scripts are off
    assert "style=" not in page
    assert "<script>" not in page


def test_each_exercise_has_its_picture_with_its_name(home):
    page = page_of(home)
    assert page.count("<title>Arm lift to the front, lying down</title>") == 2  # still and moving
    assert page.count("data-moving=") == page.count('<div class="still"><svg') == 2
    assert page.count('class="picture player"') == 2


def test_the_page_says_nothing_of_who_the_patient_is(home, world):
    page = page_of(home)
    for secret in (
        world.patient.name,
        *world.patient.name.split(),
        world.patient.clinic_number,
        str(world.patient.birth_date.year),
        world.episode.diagnosis,
        "Harbour Lane",
        world.therapist.name,
    ):
        assert secret not in page


def test_the_data_hold_yesterday_today_and_five_weeks_to_come(home, world):
    data = data_of(page_of(home))
    assert (min(data["days"]), max(data["days"])) == ("2026-03-03", "2026-04-08")
    today = data["days"]["2026-03-04"]
    assert [occasion["number"] for occasion in today["occasions"]] == [1, 2]
    assert today["occasions"][0]["lines"] == [f"1:{line.key}" for line in world.version.lines.all()]
    assert today["words"] == ""


def test_what_was_told_today_comes_back_so_that_it_can_be_put_right(home, world):
    record = home.record(world.version)
    old = home.record(world.version, day="2026-03-01")
    home.send(record, old)
    told = data_of(page_of(home))["records"]
    assert [one["uuid"] for one in told] == [record["uuid"]]
    assert told[0].keys() == record.keys()
    again = told[0] | {"uuid": str(uuid4()), "replaces": told[0]["uuid"], "pain_next_morning": 1}
    assert home.send(again)[0]["result"] == "stored"


def test_a_pause_and_a_rest_day_and_an_end_have_their_words(home, world):
    add_pause(
        by=world.therapist,
        patient=world.patient,
        first_day=date(2026, 3, 4),
        last_day=date(2026, 3, 5),
        reason="away",
        today=date(2026, 3, 4),
    )
    issue(world.patient, world.therapist, date(2026, 3, 6), [{"weekdays": 1}])
    issue(world.patient, world.therapist, date(2026, 3, 10), [])
    days = data_of(page_of(home))["days"]
    assert days["2026-03-04"]["words"] == (
        "Your exercises are paused until the end of Thursday 5 March. Rest well."
    )
    assert days["2026-03-06"]["words"] == "No exercises today. The next are on Monday 9 March."
    assert days["2026-03-10"]["words"].startswith("Your plan has ended.")
    assert "paused until" in page_of(home)


def test_without_a_plan_the_page_is_kind(world):
    page = page_of(enrol_home(PatientFactory()))
    assert "There is no plan for this day yet." in page


def test_the_page_is_whole_in_spanish(home, world):
    world.patient.language = "es"
    world.patient.save()
    page = page_of(home)
    assert '<html lang="es" dir="ltr"' in page
    assert "Levantar el brazo al frente, en la cama" in page
    assert "Brazo izquierdo" in page
    assert "8 a 10 veces." in page
    assert "miércoles 4 de marzo" in page


def test_the_page_is_whole_in_arabic_and_runs_from_right_to_left(home, world):
    world.patient.language = "ar"
    world.patient.save()
    page = page_of(home)
    assert '<html lang="ar" dir="rtl"' in page
    assert "الذراع اليسرى" in page
    assert "8 إلى 10 مرات." in page
    assert "الأربعاء 4 مارس" in page
    assert not re.search("[\u0660-\u0669]", page)  # European digits only


def test_an_exercise_without_arabic_words_is_in_english_and_marked_so(home, world):
    world.patient.language = "ar"
    world.patient.save()
    shipped = shipped_exercises()["card_turn"]
    stock_catalogue(by=None, exercises=[without_arabic(shipped)])
    issue(world.patient, world.therapist, date(2026, 3, 4), [{"exercise": "card_turn"}, {}])
    page = page_of(home)
    assert '<h2 tabindex="-1" lang="en" dir="ltr">Turn cards over</h2>' in page
    assert '<ol class="do" lang="en" dir="ltr">' in page
    assert '<h2 tabindex="-1">رفع الذراع إلى الأمام، مستلقيًا</h2>' in page


def test_a_telephone_number_keeps_its_order(home, world):
    world.patient.language = "ar"
    world.patient.save()
    assert 'اتصل بالرقم <bdi dir="ltr">' in page_of(home)


def change_plan(world, day, sentence):
    draft = new_draft(by=world.therapist, patient=world.patient)
    make_line(draft, sets=2)
    return put_in_force(
        by=world.therapist,
        version=draft,
        effective_day=day,
        pain_limit=4,
        change_sentence=sentence,
    )


def test_the_change_of_a_new_version_is_told_for_a_week(home, world, monkeypatch):
    assert "Your plan is new" not in page_of(home)
    version = change_plan(world, date(2026, 3, 4), "You now lift twice as often.")
    page = page_of(home)
    assert "You now lift twice as often." in page
    assert data_of(page)["days"]["2026-03-04"]["version"] == version.number
    monkeypatch.setattr(timezone, "now", lambda: NOON + timedelta(days=7))
    assert "Your plan is new" not in page_of(home)


def test_a_change_that_is_still_to_come_is_on_the_phone_but_hidden(home, world):
    version = change_plan(world, date(2026, 3, 6), "You now lift twice as often.")
    assert f'data-change="{version.number}" hidden><h2>' in page_of(home)


def test_a_load_and_its_hold_are_named_in_the_patients_numbers(world):
    world.patient.language = "es"
    world.patient.save()
    line = {"load_g": 1500, "load_means": "held", "hold_s": 5, "sets": 2, "rest_s": 60}
    issue(world.patient, world.therapist, date(2026, 3, 4), [line])
    page = page_of(enrol_home(world.patient))
    assert "2 series de 8 a 10 veces." in page
    assert "Mantenga cada una 5 segundos." in page
    assert "una pesa de 1,5 kg." in page


def test_a_helper_at_home_is_never_named(world):
    helper = HomeHelper.objects.create(patient=world.patient, name="Juniper Vale")
    line = {"home_helper": helper, "step": "passive"}
    issue(world.patient, world.therapist, date(2026, 3, 4), [line])
    page = page_of(enrol_home(world.patient))
    assert "With the help of your helper." in page
    assert "Juniper" not in page


def test_stop_signs_stand_on_the_page_each_tier_with_whom_to_ring(home, world):
    page = page_of(home)
    assert "Nobody is watching this page. Ring now." in page
    assert page.count('<section class="tier') == 3
    assert 'href="tel:112"' in page
    assert "Your pain goes above 4." in page
    world.episode.telephone = "01632 960199"
    world.episode.save()
    assert page_of(home).count('href="tel:01632960199"') >= 2


def test_the_page_asks_the_database_as_often_for_many_lines_as_for_few(
    home, world, django_assert_num_queries
):
    home.send(home.record(world.version))
    page_of(home)
    with CaptureQueriesContext(connection) as queries:
        page_of(home)
        before = len(queries)
    issue(
        world.patient,
        world.therapist,
        date(2026, 3, 4),
        [
            {"exercise": key}
            for key in ("arm_lift_forward_lying", "elbow_bend_sitting", "full_fist")
        ],
    )
    home.send(*(home.record(world.version, occasion=n) for n in (1, 2, 3)))
    with django_assert_num_queries(before):
        page_of(home)


def test_where_to_turn_back_and_the_splint_are_on_the_phone(world):
    bounds = {"stop_motion": "shoulder_flexion", "stop_deg": 60, "orthosis": "off"}
    version = issue(world.patient, world.therapist, lines=[bounds])
    line = home_line("1:a", version.lines.get(), ENGLISH)
    assert line.bounds == (
        "Only up to here: 60° at the shoulder, before the arm points to the ceiling.",
        "Stop there, even if a step says more.",
        "Take your splint or sling off for this. Then put it back on.",
    )
    whole = issue(world.patient, world.therapist, lines=[{}])
    assert home_line("2:a", whole.lines.get(), ENGLISH).figure != line.figure


def must_not_box(page):
    boxes = re.findall(r'<section class="notice must-not">(.*?)</section>', page, re.S)
    assert len(boxes) in (0, 2)  # on the first screen, and above the exercises when they are read
    assert len(set(boxes)) <= 1
    return [unescape(each) for each in re.findall(r"<(?:h2|li)>(.*?)</", "".join(boxes[:1]))]


@pytest.mark.parametrize("language", ["en", "es", "ar"])
def test_the_phone_says_what_the_arm_must_not_do_as_the_sheet_does(as_staff, world, language):
    world.patient.language = language
    world.patient.save()
    home = enrol_home(world.patient)
    assert must_not_box(page_of(home)) == []
    since = {"from_day": NOON.date()}
    set_limit(world, kind="bearing", **since)
    set_limit(world, kind="load", limit_g=0, **since)
    set_limit(world, kind="load", limit_g=500, is_hard=False, **since)  # advice is not for here
    said = must_not_box(page_of(home))
    words = PRECAUTIONS[language]
    assert (said[0], said[-1], len(said)) == (words.heading, words.until, 4)
    sheet = sheet_of(patient=world.patient, version=world.version, today=NOON.date())
    assert (sheet.precautions_heading, *sheet.precautions) == tuple(said)
    kept = kept_plan(patient=world.patient, now=NOON, shell="")
    assert must_not_box(kept["main"]) == said  # what the phone keeps for times without a network


def test_where_the_plan_has_ended_nothing_is_said_of_the_arm(world):
    set_limit(world, kind="bearing", from_day=NOON.date())
    issue(world.patient, world.therapist, NOON.date() - timedelta(days=2), [])
    assert must_not_box(page_of(enrol_home(world.patient))) == []
