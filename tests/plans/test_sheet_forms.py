"""The sheet's other forms: with a code for the phone, one page for the fridge, a web page."""

import re
from dataclasses import replace
from datetime import timedelta
from html.parser import HTMLParser
from io import BytesIO

import pytest
import segno
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from patients.models import Invite
from patients.phones import INVITE_LIFE, local_day, make_invite
from plans.actions import add_pause
from plans.catalogue_actions import stock_catalogue
from plans.queries import versions_of
from plans.sheet import fridge_pdf, sheet_pdf
from plans.sheet_page import sheet_of
from plans.sheet_phone import QUIET, SIDE, PhoneCode, QrCode
from plans.sheet_words import ARABIC, ENGLISH, SPANISH
from tests.plans.test_sheet import MONDAY, SETTINGS, dose, make_sheet, shipped_blocks
from tests.world import FIRST_DAY, issue, shipped_exercises, without_arabic

LINK = "https://clinic.example/home/join#" + "A" * 43


def text_of(pdf):
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages]


def short(words, count):
    """The first ``count`` exercises with a usual dose."""
    return [replace(block, dose=words.dose(dose())) for block in shipped_blocks(words)[:count]]


class Squares:
    """A canvas that keeps the dark modules it is given, by row and column from the top left."""

    def __init__(self, count):
        self.module, self.count, self.dark, self.ink = SIDE / (count + 2 * QUIET), count, set(), 1

    def setFillColor(self, color):
        self.ink = color.red == 0

    def rect(self, x, y, width, height, fill, stroke):
        if not self.ink:
            return
        row = round((SIDE - y) / self.module) - 1 - QUIET
        first = round(x / self.module) - QUIET
        self.dark |= {(row, first + n) for n in range(round(width / self.module))}


def test_the_code_is_drawn_module_by_module_as_the_encoder_says():
    code = QrCode(LINK)
    expected = {
        (down, across)
        for down, row in enumerate(segno.make(LINK, error="m", micro=False).matrix)
        for across, module in enumerate(row)
        if module
    }
    code.wrap(500, 500)
    code.canv = Squares(len(code.rows))
    code.draw()
    assert code.canv.dark == expected
    assert (0, 0) in expected  # the first finder pattern begins in the corner


@pytest.mark.parametrize("words", [ENGLISH, SPANISH], ids=["en", "es"])
@pytest.mark.parametrize("setting", SETTINGS, ids=str)
def test_the_code_stands_on_the_first_page_with_what_to_do(words, setting):
    sheet = make_sheet(short(words, 3), words, phone=PhoneCode(LINK, MONDAY))
    first, *others = text_of(sheet_pdf(sheet, setting))
    assert words.phone_heading in first
    assert words.day(MONDAY) in first
    assert words.phone_heading not in " ".join(others)


def url(name, world):
    return reverse(name, args=[world.patient.pk, world.version.pk])


def test_only_a_post_makes_an_enrolment_link(as_staff, world):
    client = as_staff(world.therapist)
    client.get(url("sheet", world), {"phone": "1"})
    assert client.get(url("sheet_with_phone", world)).status_code == 405
    assert not Invite.objects.exists()
    answer = client.post(url("sheet_with_phone", world))
    assert answer["Content-Type"] == "application/pdf"
    assert Invite.objects.get().patient == world.patient
    assert ENGLISH.phone_heading in text_of(answer.content)[0]


def test_a_version_that_is_not_issued_gets_no_link(as_staff, world):
    world.version.__class__.objects.create(
        patient=world.patient, number=2, made_at=world.version.made_at
    )
    draft = world.patient.plan_versions.get(number=2)
    for name in ("sheet_with_phone", "sheet_web"):
        send = as_staff(world.therapist)
        path = reverse(name, args=[world.patient.pk, draft.pk])
        assert (send.get if name == "sheet_web" else send.post)(path).status_code == 409
    assert not Invite.objects.exists()


@pytest.mark.parametrize("query", [{}, {"fridge": "1"}, {"large": "1"}], ids=str)
def test_a_right_to_left_sheet_is_no_pdf_and_says_what_to_print(as_staff, world, query):
    world.patient.language = "ar"
    world.patient.save()
    answer = as_staff(world.therapist).get(url("sheet", world), query)
    assert answer.status_code == 409
    assert "No PDF in Arabic: print the web page" in answer.content.decode()
    assert url("sheet_web", world) in answer.content.decode()


def test_the_web_sheet_marks_what_is_not_in_its_language(as_staff, world):
    world.patient.language = "ar"
    world.patient.save()
    stock_catalogue(by=None, exercises=[without_arabic(shipped_exercises()["card_turn"])])
    version = issue(world.patient, world.therapist, lines=[{"exercise": "card_turn"}])
    path = reverse("sheet_web", args=[world.patient.pk, version.pk])
    page = as_staff(world.therapist).get(path).content.decode()
    assert '<html lang="ar" dir="rtl">' in page
    assert '<ol class="do" lang="en" dir="ltr">' in page
    assert '<span lang="en" dir="ltr">To turn your palm while you hold something.</span>' in page


def test_the_sheet_with_a_phone_code_is_a_web_page_where_it_must_be(as_staff, world):
    world.patient.language = "ar"
    world.patient.save()
    answer = as_staff(world.therapist).post(url("sheet_with_phone", world))
    page = answer.content.decode()
    assert answer["Content-Type"].startswith("text/html")
    assert page.count("<svg") == len(world.version.lines.all()) + 1
    assert ARABIC.phone_heading in page
    assert Invite.objects.get().patient == world.patient


def test_the_web_sheet_carries_the_code_that_was_asked_for(as_staff, world, monkeypatch):
    client = as_staff(world.therapist)
    assert ENGLISH.phone_heading not in client.get(url("sheet_web", world)).content.decode()
    links = []

    def noted(**asked):
        links.append(make_invite(**asked))
        return links[-1]

    monkeypatch.setattr("plans.sheet_views.make_invite", noted)
    page = client.post(url("sheet_with_phone", world), {"form": "web"}).content.decode()
    drawn = re.search(r'class="code"[^>]*>(<svg.*?</svg>)', page, re.DOTALL)[1]
    modules = segno.make(links[0], error="m", micro=False)
    assert drawn == modules.svg_inline(border=QUIET, dark="#000", light="#fff", omitsize=True)
    last_day = local_day(world.patient, timezone.now() + INVITE_LIFE)
    assert ENGLISH.phone_how.format(day=ENGLISH.day(last_day)) in page.replace("&#x27;", "'")
    assert Invite.objects.get().patient == world.patient


def test_the_web_diary_names_pauses_and_days_without_exercises(as_staff, world):
    """On Mondays only; of fourteen days, whichever the first is, two are Mondays."""
    mondays = {"weekdays": 0b0000001, "sessions_per_day": 2}
    version = issue(world.patient, world.therapist, lines=[mondays])
    path = reverse("sheet_web", args=[world.patient.pk, version.pk])
    today = local_day(world.patient, timezone.now())

    def days():
        page = as_staff(world.therapist).get(path).content.decode()
        return re.findall(r"<tbody>(.*?)</tbody>", page, re.DOTALL)

    assert sum(ENGLISH.diary_nothing in day for day in days()) == 12
    assert sum(day.count('class="box"') for day in days()) == 4
    pause_of = {"first_day": today, "last_day": today + timedelta(days=6), "reason": "away"}
    add_pause(by=world.therapist, patient=world.patient, today=today, **pause_of)
    paused = [ENGLISH.diary_paused in day for day in days()]
    assert paused == [True] * 7 + [False] * 7
    assert sum(ENGLISH.diary_nothing in day for day in days()) == 6


def test_the_fridge_page_is_a_web_page_too(as_staff, world):
    world.patient.language = "ar"
    world.patient.save()
    page = as_staff(world.therapist).get(url("sheet_web", world), {"fridge": "1"}).content.decode()
    assert Outline(page).html == {"lang": "ar", "dir": "rtl"}
    assert ARABIC.fridge_title in page
    assert "مرتين في اليوم، كل يوم." in page
    assert '<bdi dir="ltr">112</bdi>' in page


def test_an_outsider_gets_none_of_the_forms(as_staff, world):
    client = as_staff(world.outsider)
    assert client.post(url("sheet_with_phone", world)).status_code == 404
    assert client.get(url("sheet_web", world)).status_code == 404
    assert not Invite.objects.exists()


@pytest.mark.parametrize("words", [ENGLISH, SPANISH], ids=["en", "es"])
@pytest.mark.parametrize("setting", SETTINGS, ids=str)
def test_ten_exercises_fit_one_page_for_the_fridge_in_normal_print(words, setting):
    exercises = short(words, 10 if not setting.large else 4)
    [page] = text_of(fridge_pdf(make_sheet(exercises, words), setting))
    for exercise in exercises:
        assert exercise.name in page
        assert exercise.dose.often in page
    assert words.fridge_title in page
    for tier in make_sheet([], words).tiers:
        assert tier.words.heading in page
    assert page.count("112") >= 3


def test_the_fridge_page_comes_from_its_own_address(as_staff, world):
    answer = as_staff(world.therapist).get(url("sheet", world), {"fridge": "1"})
    [page] = text_of(answer.content)
    assert ENGLISH.fridge_title in page
    assert "at-a-glance" in answer["Content-Disposition"]


class Outline(HTMLParser):
    """The headings of a page in order, and its language and direction."""

    def __init__(self, page):
        super().__init__()
        self.levels, self.html = [], {}
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        if re.fullmatch("h[1-6]", tag):
            self.levels.append(int(tag[1]))
        if tag == "html":
            self.html = dict(attrs)


@pytest.mark.parametrize("words", [ENGLISH, SPANISH, ARABIC], ids=["en", "es", "ar"])
def test_the_web_page_says_all_that_the_sheet_says(as_staff, world, words):
    world.patient.language = words.language
    world.patient.save()
    page = as_staff(world.therapist).get(url("sheet_web", world)).content.decode()
    outline = Outline(page)
    assert outline.html == {"lang": words.language, "dir": words.direction}
    assert outline.levels[0] == 1
    assert outline.levels.count(1) == 1
    assert all(b - a <= 1 for a, b in zip(outline.levels, outline.levels[1:], strict=False))
    sheet = sheet_of(
        patient=world.patient,
        version=versions_of(world.patient).get(pk=world.version.pk),
        today=FIRST_DAY,
    )
    for exercise in sheet.exercises:
        said = (exercise.name, exercise.goal, *exercise.do, *exercise.cautions, exercise.dose.often)
        for text in said:
            assert text in page.replace("&#x27;", "'")
    for tier in sheet.tiers:
        assert all(sign in page.replace("&#x27;", "'") for sign in tier.words.signs)
    assert page.count("<svg") == len(sheet.exercises)
    assert 'class="box"' in page
    assert "style=" not in page
    assert world.patient.name not in page


def test_the_web_page_is_set_by_logical_properties_alone():
    for path in ("plans/static/plans/sheet_web.css", "logs/static/logs/home/home.css"):
        with open(path, encoding="utf-8") as file:
            css = file.read()
        assert "inline-start" in css
        sided = r"(?:margin|padding|border)-(?:left|right)|text-align: *(?:left|right)|float:"
        assert not re.search(sided + r"|(?<![-\w])(?:left|right):", css), path
        assert not re.search(r"transform|scaleX", css), "nothing is mirrored"


def test_the_plan_page_leads_to_every_form(as_staff, world):
    page = as_staff(world.therapist).get(reverse("plan", args=[world.patient.pk])).content.decode()
    for query in ("large=1", "letter=1", "name=1", "fridge=1"):
        assert query in page
    assert url("sheet_web", world) in page
    assert url("sheet_with_phone", world) in page


def test_the_plan_page_of_who_reads_from_the_right_leads_to_the_web_page(as_staff, world):
    world.patient.language = "ar"
    world.patient.save()
    page = as_staff(world.therapist).get(reverse("plan", args=[world.patient.pk])).content.decode()
    link = f'href="{url("sheet_web", world)}" target="_blank" data-page-key="s">Sheet (to print)'
    assert link in page
    assert url("sheet", world) not in page
