"""The review on paper: the same sentences and figures as the page, for the care team alone."""

import io
import re

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse
from pypdf import PdfReader

from clinic.models import AuditRow
from logs.review import review_of
from logs.review_pdf import review_pdf
from logs.review_words import summary
from plans.schedule import Window
from tests.logs.test_review_page import TODAY, clock, day, heard, tell  # noqa: F401


def text_of(content):
    pages = PdfReader(io.BytesIO(content)).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


@pytest.fixture
def told(world):
    for number, worst in enumerate((6, 5, 4)):
        tell(world, number, 1, pain_worst=worst)
    tell(world, 1, None, note="<b>sore</b>")
    heard(world, 0, 1, 2, 3)
    return review_of(world.patient, Window(day(0), TODAY), TODAY)


def plain(text):
    return re.sub(r"\s+", " ", text)


def test_it_says_what_the_page_says(told):
    text = text_of(review_pdf(told, clinic_name="Harbour Lane Clinic"))
    for sentence in summary(told):
        assert plain(sentence) in text
    assert "Review of H-100" in text
    assert "Fern Quill" not in text  # it names the patient by number only
    week = told.sessions.by_week()["2026-W10"]
    assert f"2026-W10 {week.due} {week.done} {week.extra} {week.held} {week.unheard}" in text
    assert "no reason given 5" in text  # of the 8 due on four days heard from 3 were done
    assert "Work and peak moment are estimated for height 1.70 m" in text
    assert "Sessions a day" in text  # the chart's own words


def test_all_fonts_are_embedded(told):
    reader = PdfReader(io.BytesIO(review_pdf(told, clinic_name="Harbour Lane Clinic")))
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            descriptor = font.get_object().get("/FontDescriptor")
            assert descriptor, font.get_object()["/BaseFont"]
            assert "/FontFile2" in descriptor.get_object()


@pytest.mark.parametrize(("letter", "width"), [("", 595), ("&letter=1", 612)])
def test_the_page_offers_it_for_the_same_days(as_staff, world, told, letter, width):
    client = as_staff(world.therapist)
    page = client.get(reverse("review", args=[world.patient.pk]) + "?window=version")
    url = reverse("review_pdf", args=[world.patient.pk])
    assert f'href="{url}?window=version"' in page.content.decode()
    answer = client.get(f"{url}?window=version{letter}")
    assert answer["Content-Type"] == "application/pdf"
    reader = PdfReader(io.BytesIO(answer.content))
    assert round(float(reader.pages[0].mediabox.width)) == width
    assert "Mon 2 Mar 2026 to Mon 16 Mar 2026" in text_of(answer.content)
    assert AuditRow.objects.filter(verb="opened", subject="review as PDF").exists()


@pytest.mark.parametrize("who", ["outsider", "administrator"])
def test_a_stranger_gets_none(as_staff, world, who):
    url = reverse("review_pdf", args=[world.patient.pk])
    assert as_staff(getattr(world, who)).get(url).status_code == 404


def test_the_command_writes_it_as_well(told, tmp_path, capsys):
    file = tmp_path / "review.pdf"
    given = ["H-100", "--from", "2026-03-02", "--to", "2026-03-16", "--today", "2026-03-16"]
    call_command("review", *given, "--pdf", str(file))
    assert "dose adherence" in capsys.readouterr().out
    assert plain(summary(told)[0]) in text_of(file.read_bytes())
    with pytest.raises(CommandError, match="can't be written"):
        call_command("review", *given, "--pdf", str(tmp_path / "none" / "review.pdf"))


def test_nothing_told_makes_a_page_too(world):
    text = text_of(
        review_pdf(review_of(world.patient, Window(day(0), day(1)), day(1)), clinic_name="C")
    )
    assert "No pain score was given on these days. Blank is not 0." in text
