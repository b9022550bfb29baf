"""Diary files: forgiving in how a spreadsheet writes, strict about what is meant."""

import csv
import io
from datetime import date
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logs.cells import FileRefused, cells_of
from logs.diary_file import OPTIONAL, REQUIRED, entry_uuid, read_diary
from tests.world import FIXTURES

HEADER = "clinic_number,day,occasion,line_key,sets_done,amounts"
WIDE = HEADER + ",load_kg,pain_before,pain_worst,pain_after,pain_next_morning,effort,note,source"
ROW = "H-100,2026-03-02,1,lift,2,8 8"


def read(*rows, header=HEADER):
    return read_diary("\n".join([header, *rows]) + "\n").sessions


def problems(*rows, header=HEADER):
    with pytest.raises(FileRefused) as refused:
        read(*rows, header=header)
    return [(p.line, p.column, p.reason) for p in refused.value.problems]


def test_a_row_is_read_whole():
    (session,) = read(f"{ROW},0.5,2,4,0,1,7,tired,telephone", header=WIDE)
    assert (session.clinic_number, session.day, session.occasion, session.source) == (
        "H-100",
        date(2026, 3, 2),
        1,
        "telephone",
    )
    assert session.scores == {
        "pain_before": 2,
        "pain_worst": 4,
        "pain_after": 0,
        "pain_next_morning": 1,
        "effort": 7,
    }
    assert session.note == "tired"
    (row,) = session.rows
    assert (row.line_key, row.amounts, row.load_g) == ("lift", (8, 8), 500)


@pytest.mark.parametrize(
    "text",
    [
        f"{HEADER}\n{ROW}\n",
        f"{HEADER}\r\n{ROW}\r\n",
        f"{HEADER}\r{ROW}",
        f"\ufeff{HEADER}\n{ROW}",
        f"\n\n{HEADER}\n\n ,,\n{ROW}\n\n",
        f"{HEADER};\n{ROW};".replace(",", ";"),
        f"{HEADER}\n{ROW}".replace(",", "\t"),
        f"{HEADER}\n{ROW}".replace(",", " , "),
        "Clinic Number,DAY,Occasion,Line-key,Sets done,Amounts\n" + ROW,
        "amounts,sets_done,line_key,occasion,day,clinic_number\n8/8,2,lift,1,2026-03-02,H-100",
        f'{HEADER}\n"H-100","2026-03-02","1","lift","2","8,8"',
        f"{HEADER}\nH-100,2026-03-02,1.0,lift,2.0,8.0+8.0",
        f"{HEADER},note\n{ROW}",  # a row may end before its empty cells
        f"{HEADER},pain_worst,source,entry_uuid\n{ROW},,,",
    ],
)
def test_spreadsheets_may_write_it_in_many_ways(text):
    (session,) = read_diary(text).sessions
    assert (session.clinic_number, session.day, session.occasion, session.source) == (
        "H-100",
        date(2026, 3, 2),
        1,
        "paper",
    )
    assert [(row.line_key, row.amounts) for row in session.rows] == [("lift", (8, 8))]


@pytest.mark.parametrize("amounts", ["8 7 6", "8/7/6", "8+7+6", '"8,7,6"', "8 / 7 / 6", "8;7;6"])
def test_amounts_may_stand_apart_in_many_ways(amounts):
    (session,) = read(f"H-100,2026-03-02,1,lift,3,{amounts}")
    assert session.rows[0].amounts == (8, 7, 6)


@pytest.mark.parametrize(
    ("cell", "load_g"), [("0.5", 500), ('"0,25"', 250), ("2", 2000), ("", None)]
)
def test_loads_are_kilograms(cell, load_g):
    (session,) = read(f"{ROW},{cell}", header=f"{HEADER},load_kg")
    assert session.rows[0].load_g == load_g


@pytest.mark.parametrize("cell", ["", "extra", "Extra"])
def test_an_occasion_that_is_none_is_beside_any(cell):
    (session,) = read(f"H-100,2026-03-02,{cell},lift,1,8")
    assert session.occasion is None


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        (",2026-03-02,1,lift,1,8", 1, "clinic number"),
        ("H-100,02/03/2026,1,lift,1,8", 7, "no day"),
        ("H-100,2026-02-30,1,lift,1,8", 7, "calendar"),
        ("H-100,20260302,1,lift,1,8", 7, "no day"),
        ("H-100,2026-03-02,0,lift,1,8", 18, "occasion"),
        ("H-100,2026-03-02,13,lift,1,8", 18, "occasion"),
        ("H-100,2026-03-02,morning,lift,1,8", 18, "occasion"),
        ("H-100,2026-03-02,1,,1,8", 20, "line's key"),
        ("H-100,2026-03-02,1,lift,,8", 25, "number of sets"),
        ("H-100,2026-03-02,1,lift,21,8", 25, "number of sets"),
        ("H-100,2026-03-02,1,lift,2,8", 27, "2 sets done, but amounts of 1"),
        ("H-100,2026-03-02,1,lift,1,8 8", 27, "1 set done, but amounts of 2"),
        ("H-100,2026-03-02,1,lift,0,8", 27, "0 sets done, but amounts of 1"),
        ("H-100,2026-03-02,1,lift,1,-8", 27, "amount"),
        ("H-100,2026-03-02,1,lift,1,8.5", 27, "amount"),
        ("H-100,2026-03-02,1,lift,1,10000", 27, "amount"),
        ("H-100,2026-03-02,1,lift,1,8,stray", 29, "no column"),
        ('H-100,2026-03-02,1,"lift,1,8', 20, "no closing quotation mark"),
        ('H-100,2026-03-02,1,"lift"x,1,8', 26, "follows a closing"),
    ],
)
def test_a_problem_is_named_with_its_place(row, column, words):
    ((line, where, reason),) = problems(row)
    assert (line, where) == (2, column)
    assert words in reason


@pytest.mark.parametrize(
    ("name", "cell"),
    [
        ("pain_before", "11"),
        ("pain_worst", "-1"),
        ("pain_after", "2.5"),
        ("pain_next_morning", "none"),
        ("effort", "11"),
        ("load_kg", "50.001"),
        ("load_kg", "-1"),
        ("load_kg", "1.2345"),
        ("load_kg", "2 kg"),
        ("source", "post"),
        ("entry_uuid", "12345"),
        ("note", "a\x01b"),
        ("note", "x" * 501),
    ],
)
def test_optional_cells_are_read_strictly(name, cell):
    ((line, column, reason),) = problems(f"{ROW},{cell}", header=f"{HEADER},{name}")
    assert (line, column) == (2, len(ROW) + 2)
    assert reason


def test_all_problems_are_listed_in_order():
    found = problems("H-100,2026-03-02,99,lift,1,x", ROW, "H-100,someday,1,lift,1,8")
    assert [place[:2] for place in found] == [(2, 18), (2, 28), (4, 7)]


def test_lines_are_counted_through_cells_of_several_lines():
    rows = [f'{ROW},"first\nsecond, still the same cell"', "H-100,2026-03-02,99,other,1,8,"]
    ((line, column, _),) = problems(*rows, header=f"{HEADER},note")
    assert (line, column) == (4, 18)


@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("clinic_number,day,line_key,sets_done,amounts", "missing: occasion"),
        (f"{HEADER},pain", "no column is called 'pain'"),
        (f"{HEADER},day", "the column day comes twice"),
        ("", "the file is empty"),
    ],
)
def test_the_header_must_be_understood(header, words):
    assert words in problems(header=header)[0][2]


def test_rows_of_one_session_become_one_entry():
    sessions = read(
        "H-100,2026-03-02,1,lift,2,8 8,3,note one",
        "H-100,2026-03-02,2,lift,2,8 8,,",
        "H-100,2026-03-02,1,bend,1,8,3,",
        header=f"{HEADER},pain_worst,note",
    )
    assert [
        (s.occasion, [r.line_key for r in s.rows], s.scores["pain_worst"]) for s in sessions
    ] == [
        (1, ["lift", "bend"], 3),
        (2, ["lift"], None),
    ]
    assert sessions[0].entry == entry_uuid("H-100", date(2026, 3, 2), 1, "paper")
    assert len({session.entry for session in sessions}) == 2


def test_pains_of_one_session_must_not_contradict():
    header = f"{HEADER},pain_worst"
    ((line, column, reason),) = problems(
        "H-100,2026-03-02,1,lift,2,8 8,3", "H-100,2026-03-02,1,bend,1,8,4", header=header
    )
    assert (line, column) == (3, 29)
    assert "is 4 here and 3 above" in reason


def test_a_line_comes_once_in_a_session():
    ((line, column, reason),) = problems(ROW, ROW)
    assert (line, column) == (3, 20)
    assert "twice" in reason


A = "11111111-1111-4111-8111-111111111111"
B = "22222222-2222-4222-8222-222222222222"


def test_uuids_tell_two_extra_sessions_apart():
    extra = "H-100,2026-03-02,,lift,1,8"
    sessions = read(f"{extra},{A}", f"{extra},{B}", header=f"{HEADER},entry_uuid")
    assert [session.entry for session in sessions] == [UUID(A), UUID(B)]


def test_a_row_without_a_uuid_joins_the_only_one_of_its_session():
    header = f"{HEADER},entry_uuid"
    sessions = read(f"{ROW},{A}", "H-100,2026-03-02,1,bend,1,8,", header=header)
    assert [session.entry for session in sessions] == [UUID(A)]
    found = problems(f"{ROW},{A}", f"{ROW},{B}", "H-100,2026-03-02,1,bend,1,8,", header=header)
    assert [place[0] for place in found] == [4]


def test_one_uuid_names_one_session():
    found = problems(
        f"{ROW},{A}", f"H-100,2026-03-03,1,lift,1,8,{A}", header=f"{HEADER},entry_uuid"
    )
    assert found[0][0] == 3


def test_rows_of_0_sets_alone_say_only_that_the_day_was_heard():
    (session,) = read("H-100,2026-03-02,,,0,")
    assert session.says_nothing
    (session,) = read("H-100,2026-03-02,1,lift,0,,5", header=f"{HEADER},pain_worst")
    assert not session.says_nothing
    ((line, _, reason),) = problems("H-100,2026-03-02,,,0,,phone", header=f"{HEADER},source")
    assert line == 2
    assert "phone" in reason


cell_texts = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=12)


@given(st.lists(st.lists(cell_texts, min_size=2, max_size=5), min_size=1, max_size=5))
def test_cells_are_those_that_the_standard_library_reads(rows):
    # The first row holds a comma more often than anything else, so that the separator is plain.
    written = io.StringIO()
    csv.writer(written).writerows([["a", "b", "c"], *rows])
    text = written.getvalue()
    expected = [
        [cell.strip() for cell in row]
        for row in csv.reader(io.StringIO(text, newline=""), skipinitialspace=True)
        if any(cell.strip() for cell in row)
    ]
    assert [[cell.text for cell in row] for row in cells_of(text)] == expected


def test_the_documented_columns_are_those_that_are_read():
    document = (FIXTURES / "diary_columns.md").read_text()
    rows = [line.split("`")[1] for line in document.splitlines() if line.startswith("| `")]
    needed = [line.split("`")[1] for line in document.splitlines() if "` | yes" in line]
    assert (rows, needed) == ([*REQUIRED, *OPTIONAL], list(REQUIRED))


def test_the_example_is_read():
    sessions = read_diary((FIXTURES / "example_diary.csv").read_text()).sessions
    assert len(sessions) == 19
    assert sum(session.says_nothing for session in sessions) == 2


@pytest.mark.parametrize(("cell", "hurt"), [("yes", True), ("No", False), ("", None)])
def test_a_line_may_be_named_with_the_pain(cell, hurt):
    (session,) = read(f"{ROW},{cell}", header=f"{HEADER},hurt")
    assert session.rows[0].hurt is hurt


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (f"{ROW},perhaps", "neither yes nor no"),
        ("H-100,2026-03-02,1,,0,,yes", "pain was named with no line"),
    ],
)
def test_a_word_on_pain_that_means_nothing_is_refused(row, words):
    with pytest.raises(FileRefused, match=words):
        read(row, header=f"{HEADER},hurt")
