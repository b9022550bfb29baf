"""Reading what a phone sends: what is refused by which code, and nothing read wrong."""

import json
from uuid import uuid4

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logs.phone_records import (
    RECORD_KEYS,
    BadRecord,
    read_record,
    record_as_json,
    record_uuid,
)

LINE = {"line": "a", "amounts": [8, 8], "load_g": None, "confirmed": True}
RECORD = {
    "v": 1,
    "uuid": "7b1f7b0e-3f7f-4a43-9a0c-6d8f7a0c2f10",
    "entry": "0b8e9f7a-26f1-4f0c-9f6e-0a4d3a2f1b11",
    "replaces": None,
    "owner": "abc",
    "day": "2026-03-04",
    "occasion": 1,
    "version": 1,
    "began_at": "2026-03-04T09:00:00.000Z",
    "zone": "Europe/London",
    "pain_before": 0,
    "pain_worst": None,
    "pain_after": 10,
    "pain_next_morning": None,
    "effort": None,
    "note": "Easier today.",
    "performances": [LINE],
}


def test_the_example_has_every_key_and_is_read():
    assert RECORD.keys() == RECORD_KEYS
    record = read_record(RECORD)
    assert record.scores["pain_before"] == 0
    assert record.scores["pain_worst"] is None
    assert record.performances[0].amounts == (8, 8)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"v": 3}, "later_form"),
        ({"v": 0}, "bad_v"),
        ({"v": "1"}, "bad_v"),
        ({"mood": 3}, "unknown_key"),
        ({"uuid": "7b1f7b0e"}, "bad_uuid"),
        ({"uuid": 7}, "bad_uuid"),
        ({"entry": "7b1f7b0e-3f7f-4a43-9a0c-6d8f7a0c2fzz"}, "bad_entry"),
        ({"replaces": "x"}, "bad_replaces"),
        ({"replaces": RECORD["uuid"]}, "bad_replaces"),
        ({"owner": None}, "bad_owner"),
        ({"day": "2026-02-29"}, "bad_day"),
        ({"day": "1970-01-01"}, "bad_day"),
        ({"day": 20260304}, "bad_day"),
        ({"occasion": 0}, "bad_occasion"),
        ({"occasion": 13}, "bad_occasion"),
        ({"occasion": True}, "bad_occasion"),
        ({"occasion": 1.0}, "bad_occasion"),
        ({"version": None}, "bad_version"),
        ({"began_at": "2026-03-04T09:00:00"}, "bad_began_at"),
        ({"began_at": "0001-01-01T00:00:00+14:00"}, "bad_began_at"),
        ({"began_at": 0}, "bad_began_at"),
        ({"zone": "x" * 61}, "bad_zone"),
        ({"pain_worst": 11}, "bad_pain_worst"),
        ({"pain_worst": -1}, "bad_pain_worst"),
        ({"pain_worst": "4"}, "bad_pain_worst"),
        ({"pain_worst": False}, "bad_pain_worst"),
        ({"note": "x" * 501}, "bad_note"),
        ({"note": "a\0b"}, "bad_note"),
        ({"note": "\ud800"}, "bad_note"),
        ({"performances": {}}, "bad_performances"),
        ({"performances": [LINE] * 2}, "line_twice"),
        ({"performances": [LINE | {"amounts": [-1]}]}, "bad_amounts"),
        ({"performances": [LINE | {"amounts": [8.5]}]}, "bad_amounts"),
        ({"performances": [LINE | {"amounts": [1] * 21}]}, "bad_amounts"),
        ({"performances": [LINE | {"amounts": None}]}, "bad_amounts"),
        ({"performances": [LINE | {"load_g": 50_001}]}, "bad_load_g"),
        ({"performances": [LINE | {"confirmed": 1}]}, "bad_confirmed"),
        ({"performances": [LINE | {"hurt": "yes"}]}, "bad_hurt"),
        ({"performances": [LINE | {"pace": 4}]}, "unknown_key"),
        ({"performances": [LINE | {"why": "pain"}]}, "unknown_key"),
        ({"v": 2, "performances": [LINE | {"why": "forgot"}]}, "bad_why"),
        ({"v": 2, "performances": [LINE | {"ended": 1}]}, "bad_ended"),
        ({"v": 2, "performances": [LINE | {"step": "resisted"}]}, "bad_step"),
        ({"performances": ["a"]}, "bad_performances"),
    ],
)
def test_what_is_no_record_is_refused_by_a_code(changes, code):
    with pytest.raises(BadRecord, match=f"^{code}$"):
        read_record(RECORD | changes)


@pytest.mark.parametrize("key", sorted(RECORD_KEYS - {"v"}))
def test_a_missing_key_is_refused(key):
    with pytest.raises(BadRecord, match="missing_key"):
        read_record({name: value for name, value in RECORD.items() if name != key})


@pytest.mark.parametrize("value", [None, [], "x", 3])
def test_what_is_no_object_is_no_record(value):
    with pytest.raises(BadRecord, match="not_a_record"):
        read_record(value)
    assert record_uuid(value) == ""


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=5,
)


@given(st.sampled_from(sorted(RECORD_KEYS)), JSON)
def test_any_json_in_any_place_is_read_or_refused_and_never_fails(key, value):
    try:
        record = read_record(RECORD | {key: value})
    except BadRecord:
        return
    assert read_record(record_as_json(record)) == record


@given(
    occasion=st.none() | st.integers(1, 12),
    scores=st.lists(st.none() | st.integers(0, 10), min_size=5, max_size=5),
    amounts=st.lists(st.integers(0, 9999), max_size=20),
    hurt=st.sampled_from([{}, {"hurt": True}, {"hurt": False}]),
    said=st.dictionaries(st.sampled_from(["why"]), st.sampled_from(["pain", "too_hard"])),
    note=st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=500),
)
def test_a_record_written_and_read_again_says_the_same(occasion, scores, amounts, hurt, said, note):
    names = ("pain_before", "pain_worst", "pain_after", "pain_next_morning", "effort")
    value = RECORD | dict(zip(names, scores, strict=True))
    value |= {"v": 2, "occasion": occasion, "note": note, "replaces": str(uuid4())}
    value["performances"] = [LINE | {"amounts": amounts} | hurt | said]
    again = record_as_json(read_record(json.loads(json.dumps(value))))
    again["began_at"] = value["began_at"]  # the same instant, written another way
    assert again == value
