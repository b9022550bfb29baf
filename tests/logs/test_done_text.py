"""What is kept of a session as text says the same as its rows, whatever they hold."""

import json

from hypothesis import given
from hypothesis import strategies as st

from logs.counting import Performance
from logs.done_text import Known, done_text
from logs.obstacles import SaidOfLine

WORDS = st.none() | st.sampled_from(["skipped", "too_hard", "pain", "self_assisted"])
ROWS = st.tuples(
    st.integers(0, 5),
    st.integers(1, 99),
    st.from_regex(r"\A[A-Za-z0-9_-]{1,80}\Z"),
    st.lists(st.integers(0, 10_000), max_size=6).map(tuple),
    st.none() | st.integers(0, 50_000),
    st.booleans(),
    st.none() | st.booleans(),
    WORDS,
    WORDS,
    WORDS,
)
SESSIONS = st.lists(ROWS, max_size=12, unique_by=lambda row: row[1])


@given(SESSIONS)
def test_what_is_read_back_is_what_was_done_in_the_order_of_the_plan(rows):
    expected = [
        (
            Performance(key, amounts, load_g, is_confirmed, words[-1]),
            bool(hurt),
            SaidOfLine(key, *words) if any(words) else None,
        )
        for _, _, key, amounts, load_g, is_confirmed, hurt, *words in sorted(
            rows, key=lambda row: row[:2]
        )
    ]
    found = Known().lines(done_text(rows))
    assert [(each.performance, each.is_named, each.said) for each in found] == expected


@given(SESSIONS)
def test_each_line_of_text_is_json_and_the_order_of_rows_is_all_the_same(rows):
    text = done_text(rows)
    assert text == done_text(reversed(rows))
    keys = [json.loads(line)[0] for line in text.splitlines()]
    assert sorted(keys) == sorted(row[2] for row in rows)


def test_a_session_without_anything_has_no_text():
    assert done_text([]) == ""
    assert Known().lines("") == []
