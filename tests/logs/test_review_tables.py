"""The review's long tables: what was typed is escaped, and nothing reads as what it is not."""

import re
from dataclasses import replace
from datetime import date

from logs.missed import MissedDay
from logs.pain_page import PainRow
from logs.review_page import DoseRow, VolumeCell, VolumeLine
from logs.review_tables import dose_rows_of, line_rows, pain_rows, reason_items, volume_rows
from logs.tally import DoseAdherence, LineDay
from logs.volume import Amounts, VolumeRow
from patients.motions import Joint, Side
from plans.schedule import Unit
from tests.plans.building import line

MONDAY = date(2026, 3, 2)
TYPED = '<b onclick="x">&'
ADDRESS = "first_day=2026-03-02&last_day=2026-03-08"


def line_day(**changes):
    return LineDay(MONDAY, replace(line(), name=TYPED), 1, 20, 18, 18, 18, True)._replace(**changes)


def test_names_and_addresses_are_escaped():
    tally = DoseAdherence((line_day(),)).by_plan()[Unit.REPETITIONS]
    for rows in (
        line_rows([line_day()], ADDRESS),
        dose_rows_of([DoseRow("line.a", TYPED, TYPED, tally, 0)], ADDRESS),
        volume_rows([VolumeLine("volume.a", TYPED, (None,))], ADDRESS),
        reason_items([MissedDay(MONDAY, 1, "pain")], f"/missed/?{ADDRESS}", '"<'),
    ):
        assert 'onclick="x"' not in rows
        assert "<b on" not in rows
        assert "&last_day" not in rows
        assert "&amp;last_day" in rows


def test_what_was_not_confirmed_unheard_or_overdone_is_said():
    assert "heard</td>" in line_rows([line_day()], ADDRESS)
    rows = line_rows([line_day(recorded=900, is_heard=False)], ADDRESS)
    assert "(900 counted, not all confirmed)" in rows
    assert "unheard" in rows
    assert "above its most" in rows


def test_a_blank_score_is_a_dash_and_zero_is_zero():
    rows = pain_rows([PainRow(MONDAY, ("0", "", "3", ""), "", False, "not known")], ADDRESS)
    cells = rows.count('<td class="number">–</td>'), rows.count('<td class="number">0</td>')
    assert cells == (3, 1)


def test_the_reason_that_was_given_is_the_one_chosen():
    rows = reason_items([MissedDay(MONDAY, 2, "pain")], "/missed/", "token")
    assert rows.count(" selected") == 1
    assert '<option value="pain" selected>' in rows
    assert "Mon 2 Mar: 2 missed" in rows


def volume_cell(done, asked):
    """The lines of a cell of volume below its repetitions."""
    row = VolumeRow(Joint.ELBOW, None, Side.LEFT, True, "2026-W10", asked, done)
    rows = volume_rows([VolumeLine("volume.a", "Elbow", (VolumeCell(row, ""),))], ADDRESS)
    return re.findall(r'quiet">([^<]*)<', rows)


def test_volume_that_comes_to_nothing_is_left_out_and_what_was_not_done_is_not():
    asked = Amounts(20, tension_s=60.0, work_j=12.4, peak_moment_nm=1.26)
    assert volume_cell(asked, asked) == ["60 of 60 s", "12 of 12 J", "peak 1.3 of 1.3 N·m"]
    assert volume_cell(Amounts(), asked) == ["0 of 60 s", "0 of 12 J", "peak – of 1.3 N·m"]
    nothing = Amounts(20, work_j=0.3, peak_moment_nm=0.04)
    assert volume_cell(nothing, nothing) == []
    assert volume_cell(Amounts(20), Amounts(20)) == []
