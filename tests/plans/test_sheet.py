"""The patient's sheet: its words, how it is set, and who gets it."""

import re
from dataclasses import replace
from datetime import date, timedelta
from io import BytesIO
from itertools import product

import pytest
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from reportlab.graphics.shapes import Drawing

from clinic.models import AuditRow
from patients.motions import Effort
from plans.actions import add_pause, new_draft, put_in_force, start_draft
from plans.dose import LineDose
from plans.models import PlanVersion
from plans.queries import versions_of
from plans.reading import grade
from plans.schedule import Unit
from plans.sheet import Sheet, fridge_pdf, sheet_pdf
from plans.sheet_diary import DiaryDay
from plans.sheet_exercise import ExerciseBlocks, SheetExercise
from plans.sheet_page import sheet_of
from plans.sheet_setting import MARGIN, Setting, height_of, load_fonts
from plans.sheet_stop_signs import SheetTier
from plans.sheet_words import ENGLISH, SPANISH, sheet_words
from plans.stop_signs import read_stop_signs
from tests.world import FIRST_DAY, FIXTURES, issue, make_line, revision_of, shipped_exercises

SETTINGS = [
    Setting(letter=letter, large=large) for letter, large in product((False, True), repeat=2)
]
MONDAY = date(2026, 3, 2)
LONG_NOTE = "Rest your arm on the pillow whenever it feels heavy. " * 5 + "Do not hurry at all."


def dose(**changes):
    """Return a dose of two sets of eight to ten, changed by ``changes``."""
    usual = {
        "unit": Unit.REPETITIONS,
        "sets": 2,
        "amount_low": 8,
        "amount_high": 10,
        "hold_s": 0,
        "pace_s": 6,
        "rest_s": 60,
        "load_g": 0,
        "load_means": "",
        "sessions_per_day": 2,
        "weekdays": frozenset(range(7)),
        "position": "sitting",
    }
    return LineDose(**usual | changes)


def shipped_blocks(words, note=""):
    """Return every step of every exercise that we ship, as a sheet shows it, fully dosed."""
    full = dose(
        hold_s=5, rest_s=90, load_g=500, load_means="held", weekdays=frozenset({0, 2, 4, 5})
    )
    return [
        SheetExercise(
            name=exercise.words(words.language).name,
            goal=exercise.words(words.language).goal,
            side=words.side("both", sided=True),
            position=words.positions[step.position],
            things=words.you_need.format(
                things=words.things((*exercise.equipment, *step.equipment))
            ),
            helper=words.helper.format(name="Bartholomew Longname-Pretender"),
            dose=words.dose(full),
            do=step.words(words.language).do,
            note=note,
            cautions=exercise.words(words.language).cautions,
        )
        for exercise in shipped_exercises().values()
        for step in exercise.steps
    ]


def make_sheet(exercises, words=ENGLISH, days=(), **changes):
    tiers = read_stop_signs(FIXTURES / "stop_signs.toml")
    fields = {
        "words": words,
        "clinic_name": "Harbour Lane Clinic",
        "telephone": "01632 960100",
        "clinic_number": "H-100",
        "name": "",
        "version_number": 3,
        "effective_day": MONDAY,
        "change_sentence": "",
        "pain_limit": 4,
        "replaced": "",
        "precautions": (),
        "precautions_heading": "",
        "exercises": tuple(exercises),
        "tiers": tuple(SheetTier(tier.words(words.language, 4), "112") for tier in tiers),
        "diary": tuple(days),
    }
    return Sheet(**fields | changes)


def diary(count, sessions, days=14):
    every = frozenset(range(1, count + 1))
    return [DiaryDay(MONDAY + timedelta(n), (every,) * sessions) for n in range(days)]


def pages_of(pdf):
    return [page.extract_text() for page in PdfReader(BytesIO(pdf)).pages]


def sizes_of(pdf):
    """Return every size of type on every page, in points."""
    found = set()

    def look(text, matrix, text_matrix, font, size):
        if text.strip():
            found.add(round(size * abs(text_matrix[3] or text_matrix[1]), 2))

    for page in PdfReader(BytesIO(pdf)).pages:
        page.extract_text(visitor_text=look)
    return found


def flat(text):
    return re.sub(r"\s+", " ", text)


# Words


def test_a_dose_is_said_in_words_and_numbers():
    said = ENGLISH.dose(dose(hold_s=5, load_g=500, load_means="held", weekdays=frozenset({0, 2})))
    assert said.glance == "2\xa0×\xa08–10"
    assert said.sentences == (
        "2 sets of 8 to 10 times.",
        "Hold each one for 5 seconds.",
        "Take about 6 seconds for each.",
        "Rest 1 minute between sets.",
        "Hold a weight of 0.5 kg.",
    )
    assert said.often == "Twice a day, on Monday and Wednesday."


def test_the_same_dose_in_spanish():
    said = SPANISH.dose(dose(hold_s=5, load_g=500, load_means="held", weekdays=frozenset({0, 2})))
    assert said.sentences == (
        "2 series de 8 a 10 veces.",
        "Mantenga cada una 5 segundos.",
        "Tarde unos 6 segundos en cada una.",
        "Descanse 1 minuto entre series.",
        "Tome en la mano una pesa de 0,5 kg.",
    )
    assert said.often == "Dos veces al día, los lunes y miércoles."


@pytest.mark.parametrize(
    ("changes", "glance", "first"),
    [
        ({"sets": 1}, "8–10\xa0times", "8 to 10 times."),
        ({"sets": 1, "amount_low": 1, "amount_high": 1}, "1\xa0time", "1 time."),
        (
            {"unit": Unit.SECONDS, "amount_low": 20, "amount_high": 30, "pace_s": 0},
            "2\xa0×\xa020–30\xa0s",
            "2 sets of 20 to 30 seconds of hold.",
        ),
        (
            {"unit": Unit.MINUTES, "sets": 1, "amount_low": 10, "amount_high": 10, "pace_s": 0},
            "10\xa0min",
            "10 minutes.",
        ),
    ],
)
def test_each_unit_has_its_words(changes, glance, first):
    said = ENGLISH.dose(dose(**changes))
    assert (said.glance, said.sentences[0]) == (glance, first)


def test_one_set_has_no_rest():
    assert not any("Rest" in sentence for sentence in ENGLISH.dose(dose(sets=1)).sentences)


@pytest.mark.parametrize("means", ["held", "cuff", "band", "putty", "other_hand"])
@pytest.mark.parametrize("words", [ENGLISH, SPANISH], ids=["en", "es"])
def test_every_load_is_said_with_and_without_its_weight(means, words):
    assert words.load(dose(load_means=means)).endswith(".")
    assert "1" in words.load(dose(load_means=means, load_g=1000))


def test_sessions_are_ordered_in_words():
    assert [ENGLISH.session(n) for n in (1, 2, 3, 4, 12)] == ["1st", "2nd", "3rd", "4th", "12th"]
    assert SPANISH.session(3) == "3.ª"


def test_both_languages_fill_in_the_same_things():
    for name, value in vars(ENGLISH).items():
        other = getattr(SPANISH, name)
        if isinstance(value, str):
            assert set(re.findall(r"{\w*}", value)) == set(re.findall(r"{\w*}", other)), name
            assert other
        if isinstance(value, dict):
            assert value.keys() == other.keys(), name


def test_the_english_reads_at_grade_6_or_below():
    fixed = [ENGLISH.pain_rule, ENGLISH.nobody_watches, ENGLISH.diary_how, ENGLISH.no_exercises]
    said = ENGLISH.dose(dose(hold_s=5, load_g=500, load_means="held"))
    for text in (*fixed, " ".join(said.sentences)):
        assert grade(text.format(limit=4)) <= 6, text


def test_an_unknown_language_is_english():
    assert sheet_words("fr") is ENGLISH
    assert sheet_words("es-mx") is SPANISH


# Setting


@pytest.mark.parametrize(
    ("words", "setting"), [(ENGLISH, SETTINGS[0]), (SPANISH, SETTINGS[3])], ids=["en", "es"]
)
def test_no_exercise_is_split_and_every_page_is_headed_and_numbered(words, setting):
    blocks = shipped_blocks(words, note=LONG_NOTE)[::3]
    pages = [flat(text) for text in pages_of(sheet_pdf(make_sheet(blocks, words), setting))]
    for number, text in enumerate(pages, start=1):
        assert words.page_of.format(page=number, pages=len(pages)) in text
        assert "H-100" in text
        assert "01632 960100" in text
        assert (words.title if number > 1 else "Harbour Lane Clinic") in text
    for block in blocks:
        parts = [flat(part) for part in (block.name, block.do[0], block.do[-1], block.cautions[-1])]
        assert any(all(part in page for part in parts) for page in pages), block.name


@pytest.mark.parametrize("setting", SETTINGS)
@pytest.mark.parametrize("words", [ENGLISH, SPANISH], ids=["en", "es"])
@pytest.mark.parametrize("figure", [None, Drawing(300, 260)], ids=["plain", "figure"])
def test_a_page_can_hold_every_exercise_that_we_ship(words, setting, figure):
    load_fonts()
    margins = 2 * MARGIN + 2 * 2.2 * setting.size
    width, height = setting.upright[0] - 2 * MARGIN, setting.upright[1] - margins
    for block in shipped_blocks(words, note=LONG_NOTE)[:: 7 if figure else 3]:
        blocks = ExerciseBlocks(words, setting, width, height)
        drawn = blocks.alone(replace(block, figure=figure), 1)
        assert height_of([drawn], width) <= height, block.name


@pytest.mark.parametrize("setting", SETTINGS)
@pytest.mark.parametrize(("count", "sessions"), [(1, 1), (4, 2), (10, 5), (24, 12)])
def test_any_diary_fits_its_pages_and_names_every_day_and_exercise(setting, sessions, count):
    blocks = shipped_blocks(ENGLISH)[:count]
    days = diary(count, sessions, days=8 if sessions < 12 else 2)
    texts = [flat(text) for text in pages_of(sheet_pdf(make_sheet(blocks, days=days), setting))]
    pages = [text for text in texts if "Diary:" in text]
    assert len(texts) - len(pages) == len(pages_of(sheet_pdf(make_sheet(blocks), setting)))
    for day in days:
        assert any(ENGLISH.short_day(day.day) in page and "Pain, 0 to 10" in page for page in pages)
    for number in range(1, sessions + 1 if sessions > 1 else 1):
        assert sum(page.count(ENGLISH.session(number)) for page in pages) >= len(days)
    for page in pages:
        assert "Tick what you have done" in page
        assert "Done" in page


@pytest.mark.parametrize("setting", SETTINGS)
def test_no_type_is_smaller_than_promised(setting):
    sheet = make_sheet(shipped_blocks(ENGLISH, LONG_NOTE)[:12], days=diary(12, 3))
    assert min(sizes_of(sheet_pdf(sheet, setting))) >= (16 if setting.large else 12)


@pytest.mark.parametrize("setting", SETTINGS)
def test_the_paper_is_the_one_asked_for(setting):
    box = PdfReader(BytesIO(sheet_pdf(make_sheet([]), setting))).pages[0].mediabox
    expected = (612, 792) if setting.letter else (595.28, 841.89)
    assert (float(box.width), float(box.height)) == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize("words", [ENGLISH, SPANISH], ids=["en", "es"])
def test_title_language_and_bookmarks_are_set(words):
    sheet = make_sheet(shipped_blocks(words)[:2], words, days=diary(2, 2))
    reader = PdfReader(BytesIO(sheet_pdf(sheet, Setting())))
    assert reader.metadata.title == f"{words.title}, {words.plan.format(number=3)}"
    assert reader.root_object["/Lang"] == words.language
    assert reader.root_object["/ViewerPreferences"]["/DisplayDocTitle"]
    marks = {mark.title: reader.get_destination_page_number(mark) for mark in reader.outline}
    texts = [flat(page.extract_text()) for page in reader.pages]
    assert len(marks) == 2 + 1 + 2
    for title, page in marks.items():
        assert title.split(". ", 1)[-1] in texts[page]


def test_every_font_is_embedded():
    sheet = make_sheet(shipped_blocks(ENGLISH)[:2], days=diary(2, 2))
    reader = PdfReader(BytesIO(sheet_pdf(sheet, Setting())))
    fonts = {
        id(font): font
        for page in reader.pages
        for font in (f.get_object() for f in page["/Resources"]["/Font"].values())
    }
    assert fonts
    for font in fonts.values():
        assert "/FontFile2" in font["/FontDescriptor"], font["/BaseFont"]
        assert "DejaVuSans" in font["/BaseFont"]


TRAPS = [
    '<img src="{file}" width="100" height="100"/>',
    '<a href="file:///etc/passwd">here</a>',
    "a < b & c > d",
    "</para><para>",
    "<b>bold",
    "&amp; &#60;",
]


@pytest.mark.parametrize("trap", TRAPS)
def test_what_someone_typed_is_shown_as_it_is_and_opens_nothing(trap, tmp_path):
    picture = tmp_path / "secret.png"
    from PIL import Image

    Image.new("RGB", (4, 4), "red").save(picture)
    typed = trap.replace("{file}", str(picture))
    [block] = shipped_blocks(ENGLISH, note=typed)[:1]
    sheet = make_sheet(
        [block], change_sentence=typed, name=typed, clinic_name=typed, replaced=typed
    )
    reader = PdfReader(BytesIO(sheet_pdf(sheet, Setting())))
    text = re.sub(r"\s", "", " ".join(page.extract_text() for page in reader.pages))
    assert text.count(re.sub(r"\s", "", typed)) >= 4
    assert not any(page.images for page in reader.pages)
    assert not any("/Annots" in page for page in reader.pages)


def test_a_long_name_of_the_clinic_leaves_room_for_the_number():
    sheet = make_sheet([], clinic_name="Clinic " * 17, clinic_number="X" * 20)
    lines = pages_of(sheet_pdf(sheet, Setting(large=True)))[0].splitlines()
    assert next(line for line in lines if line.startswith("Clinic")).endswith("…")
    assert any("X" * 20 in line for line in lines)


@given(st.text(max_size=300), st.text(max_size=120))
@settings(max_examples=8)
def test_any_text_can_be_set(note, name):
    [block] = shipped_blocks(ENGLISH, note=note)[:1]
    assert sheet_pdf(make_sheet([block], name=name), Setting()).startswith(b"%PDF")


def test_a_block_that_no_page_holds_flows_on():
    [block] = shipped_blocks(ENGLISH, note="word " * 4000)[:1]
    assert len(pages_of(sheet_pdf(make_sheet([block]), Setting(large=True)))) > 4


# From the plan to the sheet


def sheet_for(patient, version, today=FIRST_DAY, **options):
    version = versions_of(patient).get(pk=version.pk)
    return sheet_of(patient=patient, version=version, today=today, **options)


def test_the_sheet_says_what_the_plan_says(world):
    sheet = sheet_for(world.patient, world.version)
    assert (sheet.clinic_name, sheet.telephone) == ("Harbour Lane Clinic", "01632 960100")
    assert (sheet.clinic_number, sheet.name) == ("H-100", "")
    assert [exercise.name for exercise in sheet.exercises] == [
        "Arm lift to the front, lying down",
        "Bend and straighten the elbow",
    ]
    assert [exercise.side for exercise in sheet.exercises] == ["Left arm", "Left arm"]
    assert sheet.pain_limit == 4
    assert [tier.telephone for tier in sheet.tiers] == ["112", "01632 960100", "01632 960100"]


def test_the_episode_s_telephone_comes_before_the_clinic_s(world):
    world.episode.telephone = "01632 960222"
    world.episode.save()
    sheet = sheet_for(world.patient, world.version)
    assert sheet.telephone == "01632 960222"
    assert sheet.tiers[1].telephone == "01632 960222"


def test_the_patient_reads_it_in_their_language(world):
    world.patient.language = "es"
    sheet = sheet_for(world.patient, world.version)
    assert sheet.words is SPANISH
    assert sheet.exercises[0].do[1] == "Mantenga el codo estirado."
    assert sheet.tiers[1].words.heading == "Llame hoy a la clínica"


def test_the_diary_has_the_next_fourteen_days_and_what_is_due_on_them(world):
    version = issue(
        world.patient,
        world.therapist,
        lines=[
            {"sessions_per_day": 2},
            {"exercise": "elbow_bend_sitting", "sessions_per_day": 1, "weekdays": 0b0000001},
        ],
    )
    add_pause(
        by=None,
        patient=world.patient,
        first_day=MONDAY + timedelta(days=1),
        last_day=MONDAY + timedelta(days=2),
        reason="",
        today=MONDAY,
    )
    days = sheet_for(world.patient, version, today=MONDAY).diary
    assert [day.day for day in days] == [MONDAY + timedelta(n) for n in range(14)]
    assert days[0].occasions == (frozenset({1, 2}), frozenset({1}))
    assert (days[1].occasions, days[1].is_paused) == ((), True)
    assert days[3].occasions == (frozenset({1}), frozenset({1}))


@pytest.mark.parametrize(
    ("until", "days"), [("2026-03-06", 5), ("2026-12-31", 42), ("2026-03-01", 1), ("soon", 14)]
)
def test_the_diary_reaches_to_the_next_visit(world, as_staff, monkeypatch, until, days):
    monkeypatch.setattr("plans.sheet_views.today_in", lambda zone: MONDAY)
    seen = []

    def kept(*said, **more):
        seen.append(sheet_of(*said, **more))
        return seen[-1]

    monkeypatch.setattr("plans.sheet_views.sheet_of", kept)
    as_staff(world.therapist).get(address(world, query=f"?until={until}"))
    assert len(seen[0].diary) == days


def test_a_plan_that_begins_later_has_a_diary_from_then(world):
    version = issue(world.patient, world.therapist, day=FIRST_DAY + timedelta(days=5))
    assert sheet_for(world.patient, version).diary[0].day == FIRST_DAY + timedelta(days=5)


def test_a_diary_ends_where_another_plan_takes_over(world):
    issue(world.patient, world.therapist, day=FIRST_DAY + timedelta(days=3))
    days = sheet_for(world.patient, world.version).diary
    assert [day.day for day in days] == [FIRST_DAY + timedelta(n) for n in range(3)]


def test_a_replaced_plan_says_so_and_has_no_diary(world):
    issue(world.patient, world.therapist, day=FIRST_DAY + timedelta(days=2))
    before = sheet_for(world.patient, world.version, today=FIRST_DAY + timedelta(days=1))
    assert before.replaced == ""
    after = sheet_for(world.patient, world.version, today=FIRST_DAY + timedelta(days=2))
    assert after.replaced == (
        "This plan no longer holds: plan 2 took its place on Wednesday 4 March 2026."
    )
    assert after.diary == ()


def test_a_plan_without_lines_says_that_there_is_nothing_to_do(world):
    version = issue(world.patient, world.therapist, lines=[])
    text = flat(" ".join(pages_of(sheet_pdf(sheet_for(world.patient, version), Setting()))))
    assert "Your plan has no exercises now" in text
    assert "Diary" not in text
    assert "Emergency" in text


def test_a_helper_is_named(world):
    helper = world.patient.home_helpers.create(name="Ivy Quill")
    version = issue(
        world.patient,
        world.therapist,
        lines=[{"step": Effort.PASSIVE.key, "home_helper": helper}],
    )
    assert sheet_for(world.patient, version).exercises[0].helper == "With the help of Ivy Quill."


def test_a_sheet_asks_the_database_ten_times_at_most(world, django_assert_max_num_queries):
    version = versions_of(world.patient).get(pk=world.version.pk)
    with django_assert_max_num_queries(10):
        sheet_of(patient=world.patient, version=version, today=FIRST_DAY)


# Who gets it


def address(world, version=None, query=""):
    version = version or world.version
    return reverse("sheet", args=[world.patient.pk, version.pk]) + query


def test_the_care_team_gets_a_pdf_and_it_is_on_record(world, as_staff):
    answer = as_staff(world.therapist).get(address(world))
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == 'inline; filename="home-exercises-plan-1.pdf"'
    assert "no-store" in answer["Cache-Control"]
    text = flat(" ".join(pages_of(answer.content)))
    assert "Arm lift to the front, lying down" in text
    assert world.patient.name not in text
    row = AuditRow.objects.first()
    assert (row.verb, row.subject, row.patient) == (
        "opened",
        "sheet of version 1",
        world.patient.pk,
    )


def test_the_name_is_printed_by_choice_only(world, as_staff):
    answer = as_staff(world.therapist).get(address(world, query="?name=1"))
    first, *others = pages_of(answer.content)
    assert "Fern Quill" in first
    assert not any("Fern Quill" in page for page in others)


@pytest.mark.parametrize(
    ("text_size", "query", "smallest"),
    [("normal", "", 12), ("large", "", 16), ("large", "?large=0", 12), ("normal", "?large=1", 16)],
)
def test_the_print_is_as_large_as_the_patient_needs(world, as_staff, text_size, query, smallest):
    world.patient.text_size = text_size
    world.patient.save()
    answer = as_staff(world.therapist).get(address(world, query=query))
    assert min(sizes_of(answer.content)) == smallest


def test_letter_paper_is_a_choice(world, as_staff):
    answer = as_staff(world.therapist).get(address(world, query="?letter=1"))
    assert float(PdfReader(BytesIO(answer.content)).pages[0].mediabox.width) == 612


@pytest.mark.parametrize("who", ["outsider", "administrator"])
def test_to_others_it_is_not_there(world, as_staff, who):
    assert as_staff(getattr(world, who)).get(address(world)).status_code == 404


def test_another_patient_s_version_is_not_there(world, as_staff):
    from tests.world import PatientFactory, join

    other = PatientFactory()
    join(other, world.therapist)
    version = issue(other, world.therapist)
    assert as_staff(world.therapist).get(address(world, version)).status_code == 404


def test_a_draft_has_no_sheet(world, as_staff):
    draft = start_draft(by=world.therapist, patient=world.patient, today=FIRST_DAY)
    answer = as_staff(world.therapist).get(address(world, draft))
    assert answer.status_code == 409
    assert "still a draft" in answer.text
    assert not AuditRow.objects.filter(verb="opened", subject__startswith="sheet").exists()


def test_a_version_that_waits_for_a_signature_has_no_sheet(world, as_staff):
    draft = new_draft(by=world.student, patient=world.patient)
    make_line(draft)
    waiting = put_in_force(
        by=world.student, version=draft, effective_day=FIRST_DAY, pain_limit=4, waits=True
    )
    assert waiting.state == PlanVersion.State.WAITING
    answer = as_staff(world.supervisor).get(address(world, waiting))
    assert answer.status_code == 409
    assert "waits for a countersignature" in answer.text


def test_a_twenty_line_plan_is_set_whole(world):
    keys = list(shipped_exercises())[:20]
    for key in keys:
        revision_of(key)
    version = issue(world.patient, world.therapist, lines=[{"exercise": key} for key in keys])
    sheet = sheet_for(world.patient, version)
    text = flat(" ".join(pages_of(sheet_pdf(sheet, Setting()))))
    assert all(exercise.name in text for exercise in sheet.exercises)


@pytest.mark.parametrize(
    ("language", "told"),
    [
        ("en", "Only up to here: 60° at the shoulder, before the arm points to the ceiling."),
        ("es", "Solo hasta aquí: 60° en el hombro, antes de que el brazo mire al techo."),
    ],
)
@pytest.mark.parametrize("make", [sheet_pdf, fridge_pdf], ids=["sheet", "fridge"])
def test_where_to_turn_back_and_the_splint_are_on_paper(world, language, told, make):
    world.patient.language = language
    bounds = {"stop_motion": "shoulder_flexion", "stop_deg": 60, "orthosis": "on"}
    version = issue(world.patient, world.therapist, lines=[bounds])
    sheet = sheet_for(world.patient, version)
    text = flat(" ".join(pages_of(make(sheet, Setting()))))
    assert told in text
    assert {"en": "Keep your splint or sling on.", "es": "No se quite la férula"}[language] in text


def test_the_sheet_says_which_easier_step_may_be_done(world):
    line = {"exercise": "arm_lift_forward_lying", "easier_allowed": True}
    version = issue(world.patient, world.therapist, MONDAY, [line])
    [exercise] = sheet_for(world.patient, version, today=MONDAY).exercises
    assert exercise.easier.startswith("Then do the easier step: with no weight to lift. ")
    assert "Lying on your side." in exercise.easier
    assert sheet_for(world.patient, world.version, today=MONDAY).exercises[0].easier == ""
