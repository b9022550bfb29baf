"""The paper week without a database: how cells are read, what may be typed where, and the sums."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logs.paper import PaperSession, Place, ToldSession, WeekPlan, paper_week
from logs.paper_cells import (
    BadCell,
    amounts_text,
    load_text,
    read_amounts,
    read_load,
    read_score,
)
from plans.schedule import PauseSpan, Version
from tests.plans.building import MONDAY, line


@pytest.mark.parametrize(
    ("text", "amounts"),
    [
        ("", ()),
        ("  ", ()),
        ("10", (10,)),
        ("0", (0,)),
        ("10 10 8", (10, 10, 8)),
        ("10+10+8", (10, 10, 8)),
        ("10, 10; 8", (10, 10, 8)),
        ("10/10/8", (10, 10, 8)),
        ("3x10", (10, 10, 10)),
        ("3 x 10", (10, 10, 10)),
        ("3X10 8", (10, 10, 10, 8)),
        ("2×10+1*8", (10, 10, 8)),
        ("x", (8, 8)),
        ("✓", (8, 8)),
        ("20x1", (1,) * 20),
    ],
)
def test_amounts_are_read_as_people_write_them(text, amounts):
    assert read_amounts(text, tick=(8, 8)) == amounts


@pytest.mark.parametrize(
    "text",
    ["ten", "10 ten", "-3", "8.5", "1000", "10000000000", "0x5", "21x1", "20x1 1", "xx", "3x", "٣"],
)
def test_what_is_no_amount_is_refused_with_what_to_write(text):
    with pytest.raises(BadCell):
        read_amounts(text, tick=(8, 8))


@pytest.mark.parametrize(("text", "score"), [("", None), ("0", 0), (" 10 ", 10), ("07", 7)])
def test_pains_are_0_to_10_or_no_answer(text, score):
    assert read_score(text) == score


@pytest.mark.parametrize("text", ["11", "-1", "4.5", "four", "100", "²"])
def test_what_is_no_pain_is_refused(text):
    with pytest.raises(BadCell, match="0 to 10"):
        read_score(text)


@given(st.lists(st.integers(0, 999), max_size=20))
def test_amounts_shown_and_read_again_are_the_same(amounts):
    assert read_amounts(amounts_text(amounts)) == tuple(amounts)


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(text):
    try:
        amounts = read_amounts(text, tick=(8,))
    except BadCell:
        return
    assert len(amounts) <= 20
    assert all(0 <= amount <= 999 for amount in amounts)


def told(day, number, amounts, *, is_typed=True, version=1, **more):
    session = PaperSession(amounts, **more)
    name = f"{day}/{number}/{is_typed}"
    return ToldSession(name, name, day, number, version, "paper", is_typed, session)


def plan(*, lines=None, versions=None, pauses=(), today=MONDAY + timedelta(days=30), said=()):
    lines = (
        (line("a"), line("b", sessions_per_day=1, weekdays=frozenset({0, 2})))
        if lines is None
        else lines
    )
    versions = versions or (Version(1, MONDAY, tuple(lines)),)
    return WeekPlan(MONDAY, versions, tuple(pauses), today, tuple(said))


def row_of(week, group, words):
    return next(row for row in week.groups[group].rows if row.words.startswith(words))


def closed(row):
    return [cell.closed for cell in row.cells]


def test_rows_are_the_lines_due_in_each_session_then_pains_and_a_note():
    week = paper_week(plan())
    assert [group.words for group in week.groups] == ["Session 1", "Session 2"]
    assert [row.kind for row in week.groups[0].rows] == ["amounts"] * 2 + ["score"] * 5 + ["note"]
    assert [row.kind for row in week.groups[1].rows] == ["amounts"] + ["score"] * 5 + ["note"]


def test_a_line_not_due_on_a_day_says_so_instead_of_a_field():
    row = paper_week(plan()).groups[0].rows[1]
    assert closed(row) == ["", "not due", "", "not due", "not due", "not due", "not due"]


def test_paused_days_and_days_to_come_say_so():
    week = paper_week(plan(pauses=[PauseSpan(MONDAY, MONDAY)], today=MONDAY + timedelta(days=2)))
    assert closed(week.groups[0].rows[0]) == ["paused", "", "", *["to come"] * 4]


def test_days_before_the_plan_have_no_plan():
    week = paper_week(
        plan(versions=(Version(1, MONDAY + timedelta(days=5), (line(sessions_per_day=1),)),))
    )
    assert closed(week.groups[0].rows[0]) == ["no plan"] * 5 + ["", ""]


def test_a_changed_dose_is_asked_from_its_day_on():
    versions = (
        Version(1, MONDAY, (line(sessions_per_day=1, sets=1),)),
        Version(2, MONDAY + timedelta(days=3), (line(sessions_per_day=1, amount_low=10),)),
    )
    row = paper_week(plan(versions=versions)).groups[0].rows[0]
    assert [cell.asked for cell in row.cells] == [8, 8, 8, 20, 20, 20, 20]
    assert [cell.tick for cell in row.cells][2:4] == [(8,), (10, 10)]
    assert len(row.hints) == 2


def test_what_was_typed_comes_back_and_what_a_phone_told_stands_beside():
    said = [
        told(MONDAY, 1, {"a": (8, 7)}, scores=(1, None, 0, None, 6), note="tired"),
        told(MONDAY, 2, {"a": (5,)}, is_typed=False),
    ]
    week = paper_week(plan(said=said))
    cell = week.groups[0].rows[0].cells[0]
    assert (cell.text, cell.others, cell.done) == ("8 7", "", 15)
    assert [row.cells[0].text for row in week.groups[0].rows[2:]] == [
        "1",
        "",
        "0",
        "",
        "6",
        "tired",
    ]
    beside = week.groups[1].rows[0].cells[0]
    assert (beside.text, beside.others, beside.done) == ("", "5", 5)


def test_a_weight_used_stands_behind_the_amounts_and_a_count_not_confirmed_says_so():
    said = [
        told(MONDAY, 1, {"a": (8, 7)}, loads={"a": 1500}),
        told(MONDAY, 2, {"a": (5,)}, is_typed=False, unconfirmed=frozenset({"a"})),
    ]
    week = paper_week(plan(said=said))
    cell = week.groups[0].rows[0].cells[0]
    assert (cell.text, cell.done) == ("8 7 @1.5", 15)
    assert week.groups[1].rows[0].cells[0].others == "5, not confirmed"


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("10 8 @0.5", ("10 8", 500)),
        ("10 8 @ 2 kg", ("10 8", 2000)),
        ("3x10 1,25 KG", ("3x10", 1250)),
        ("10 8", ("10 8", None)),
        ("10 8 2", ("10 8 2", None)),
        ("x @1", ("x", 1000)),
        ("10 @10", ("10", 10_000)),
    ],
)
def test_a_weight_is_read_as_people_write_it(text, read):
    assert read_load(text) == read
    assert read_load(read[0] + load_text(read[1])) == read


@pytest.mark.parametrize(
    ("text", "why"), [("10 @51", "at most 50 kg"), (" @2", "without a number done")]
)
def test_a_weight_that_cannot_be_is_named(text, why):
    with pytest.raises(BadCell, match=why):
        read_load(text)


def test_an_extra_session_has_rows_for_the_whole_plan_of_each_day():
    week = paper_week(plan(pauses=[PauseSpan(MONDAY, MONDAY)]), extras=1)
    extra = week.groups[-1]
    assert extra.words == "Extra session 1"
    assert closed(extra.rows[1]) == [""] * 7  # also where it was not due, or paused
    assert extra.rows[0].asked == 0


def test_extra_sessions_told_make_their_rows_unasked():
    said = [told(MONDAY, None, {"a": (8,)}), told(MONDAY, None, {"a": (9,)})]
    said[1] = ToldSession("e", "r", MONDAY, None, 1, "paper", True, said[1].session)
    week = paper_week(plan(said=said))
    texts = [group.rows[0].cells[0].text for group in week.groups[2:]]
    assert texts == ["8", "9"]


def test_totals_of_a_day_stand_beside_what_was_asked_by_unit():
    texts = {f"{MONDAY}/1/a": "8", f"{MONDAY}/2/a": "ten", f"{MONDAY}/1/b": "x"}
    said = [told(MONDAY, 2, {"a": (5,)}, is_typed=False)]
    week = paper_week(plan(said=said), texts=texts)
    b = week.groups[0].rows[1]
    (total,) = week.totals[MONDAY]
    assert total.asked == sum(
        row.cells[0].asked for group in week.groups for row in group.rows if row.kind == "amounts"
    )
    assert total.done == 8 + 0 + sum(b.cells[0].tick)
    assert week.totals[MONDAY + timedelta(days=1)][0].done == 0


def test_typed_text_is_kept_as_it_was_typed_with_its_problem():
    name = f"{MONDAY}/1/a"
    week = paper_week(plan(), texts={name: " ten "}, problems={name: "no amount"})
    cell = week.groups[0].rows[0].cells[0]
    assert (cell.text, cell.problem) == (" ten ", "no amount")


def test_a_line_told_that_is_no_longer_due_keeps_its_field():
    versions = (
        Version(1, MONDAY - timedelta(days=7), (line("old", sessions_per_day=1),)),
        Version(2, MONDAY, (line(sessions_per_day=1),)),
    )
    week = paper_week(plan(versions=versions, said=[told(MONDAY, 1, {"old": (4,)}, version=1)]))
    row = next(row for row in week.groups[0].rows if row.cells[0].name.endswith("/old"))
    assert row.cells[0].text == "4"
    assert closed(row)[1:] == ["not due"] * 6


def test_a_place_names_its_fields():
    assert Place(MONDAY, 2).name == "2026-03-02/2"
    assert Place(MONDAY, None, 1).name == "2026-03-02/e1"
