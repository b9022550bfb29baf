"""Sheets as Poppler, a PDF reader of another make, reads them: long plans, long names."""

import re
import shutil
import subprocess
from dataclasses import replace

import pytest
from reportlab.graphics.shapes import Drawing

from plans.sheet import sheet_pdf
from plans.sheet_words import ENGLISH, SPANISH
from tests.plans.test_sheet import LONG_NOTE, SETTINGS, diary, flat, make_sheet, shipped_blocks

LINES = 12
LONG_NAME = "Bartholomew Featherstonehaugh-Pretender of the Long Harbour Lane " * 2

pytestmark = pytest.mark.skipif(not shutil.which("pdffonts"), reason="needs Poppler")


def poppler(program, pdf, tmp_path, *more):
    path = tmp_path / "sheet.pdf"
    path.write_bytes(pdf)
    return subprocess.run(
        [program, *more, str(path), *(["-"] if program == "pdftotext" else [])],
        capture_output=True,
        text=True,
        check=True,
    ).stdout


@pytest.fixture(params=[(ENGLISH, SETTINGS[0]), (SPANISH, SETTINGS[3])], ids=["en-a4", "es-large"])
def long_plan(request):
    """Return words, blocks and PDF of twelve exercises with long names, notes and figures."""
    words, setting = request.param
    blocks = [
        replace(block, name=f"{block.name}, {block.name.lower()} {n}", figure=Drawing(300, 260))
        for n, block in enumerate(shipped_blocks(words, note=LONG_NOTE)[:LINES], start=1)
    ]
    sheet = make_sheet(
        blocks, words, days=diary(LINES, 3), clinic_name=LONG_NAME, change_sentence=LONG_NOTE
    )
    return words, blocks, sheet_pdf(sheet, setting)


def test_every_font_is_embedded_and_made_smaller(long_plan, tmp_path):
    rows = poppler("pdffonts", long_plan[2], tmp_path).splitlines()[2:]
    assert len(rows) >= 2
    for row in rows:
        embedded, subset = row.split()[-5:-3]
        assert (embedded, subset) == ("yes", "yes"), row


def test_no_exercise_is_split_and_no_page_stands_without_its_heading(long_plan, tmp_path):
    words, blocks, pdf = long_plan
    pages = [
        flat(page) for page in poppler("pdftotext", pdf, tmp_path, "-layout").split("\f") if page
    ]
    total = len(pages)
    for number, page in enumerate(pages, start=1):
        assert words.page_of.format(page=number, pages=total) in page
        assert "H-100" in page
        assert "01632 960100" in page
    plain = [flat(page) for page in poppler("pdftotext", pdf, tmp_path).split("\f") if page]
    for number, block in enumerate(blocks, start=1):
        end = block.cautions[-1].split()[-2:]
        here = [
            n
            for n, page in enumerate(plain)
            if flat(block.do[0]) in page
            and " ".join(end) in page
            and block.name.split(",")[0] in page
        ]
        assert here, (number, block.name)
    assert max(len(re.findall(re.escape(words.take_care), page)) for page in plain) <= 2


def test_title_and_at_most_four_steps(long_plan, tmp_path):
    words, blocks, pdf = long_plan
    told = poppler("pdfinfo", pdf, tmp_path)
    title = f"{words.title}, {words.plan.format(number=3)}"
    assert re.search(rf"Title:\s+{re.escape(title)}", told)
    assert all(1 <= len(block.do) <= 4 for block in blocks)
