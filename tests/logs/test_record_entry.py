"""Storing what was done at home: once, in any order, never for a stranger."""

from datetime import date, timedelta
from itertools import permutations
from uuid import UUID, uuid5

import pytest

from clinic.actions import ActionRefused
from clinic.models import AuditRow
from logs.actions import (
    Outcome,
    Performed,
    Told,
    mark_heard,
    record_revision,
    restore_entry,
    strike_entry,
    unmark_heard,
)
from logs.models import Entry, HeardDay, Performance, Revision
from tests.world import FIRST_DAY, PatientFactory, issue

ENTRY = UUID("11111111-1111-4111-8111-111111111111")


def name(letter):
    return uuid5(ENTRY, letter)


def told(world, *amounts, **changes):
    line = world.version.lines.first()
    given = {
        "day": FIRST_DAY,
        "occasion": 1,
        "source": "phone",
        "version": world.version,
        "performances": (Performed(line, amounts or (8, 8)),),
    }
    return Told(**given | changes)


def record(world, letter="a", replaces=None, content=None, **changes):
    given = {
        "patient": world.patient,
        "entry": ENTRY,
        "revision": name(letter),
        "replaces": name(replaces) if replaces else None,
        "told": content or told(world),
    }
    return record_revision(**given | changes)


def test_an_entry_is_stored_whole_with_its_audit_row(world):
    content = told(
        world, 8, 7, pain_before=0, pain_worst=4, pain_next_morning=2, effort=5, note="tired"
    )
    assert record(world, content=content, user=world.therapist) == Outcome.STORED
    revision = Revision.objects.get()
    assert revision.is_current
    assert (revision.entry_id, revision.entry.patient, revision.day, revision.occasion) == (
        ENTRY,
        world.patient,
        FIRST_DAY,
        1,
    )
    assert (revision.pain_before, revision.pain_worst, revision.pain_after) == (0, 4, None)
    assert (revision.pain_next_morning, revision.effort, revision.note) == (2, 5, "tired")
    assert list(Performance.objects.values_list("amounts", "load_g", "is_confirmed")) == [
        ([8, 7], None, True)
    ]
    row = AuditRow.objects.get(verb="recorded entry")
    assert (row.user, row.patient, row.detail["entry"]) == (
        world.therapist,
        world.patient.pk,
        str(ENTRY),
    )


def test_the_same_revision_twice_is_stored_once(world):
    assert record(world) == Outcome.STORED
    rows = AuditRow.objects.count()
    assert record(world) == Outcome.DUPLICATE
    assert (Revision.objects.count(), AuditRow.objects.count()) == (1, rows)


@pytest.mark.parametrize(
    "difference",
    [
        {"day": FIRST_DAY + timedelta(1)},
        {"occasion": None},
        {"source": "paper"},
        {"version": None},
        {"performances": ()},
        {"pain_worst": 0},
        {"effort": 3},
        {"note": "x"},
        {"time_zone": "Europe/Madrid"},
    ],
    ids=lambda difference: next(iter(difference)),
)
def test_a_known_uuid_with_other_content_is_a_conflict_and_stores_nothing(world, difference):
    record(world)
    assert record(world, content=told(world, **difference)) == Outcome.CONFLICT
    assert record(world) == Outcome.DUPLICATE
    assert Revision.objects.count() == 1


def test_a_known_uuid_for_another_entry_is_a_conflict_that_leaves_no_empty_entry(world):
    record(world)
    assert record(world, entry=name("other entry")) == Outcome.CONFLICT
    assert Entry.objects.count() == 1


def test_another_patients_entry_is_a_conflict(world):
    record(world)
    stranger = PatientFactory()
    issue(stranger, world.therapist)
    content = Told(FIRST_DAY, 1, "phone", None, ())
    outcome = record(world, "b", "a", content, patient=stranger)
    assert outcome == Outcome.CONFLICT
    assert Revision.objects.count() == 1
    assert Entry.objects.get().patient == world.patient


def test_a_correction_becomes_current_and_the_earlier_one_stays(world):
    record(world, "a")
    assert record(world, "b", "a", told(world, 5, 5)) == Outcome.STORED
    assert list(Revision.objects.order_by("received_at").values_list("pk", "is_current")) == [
        (name("a"), False),
        (name("b"), True),
    ]
    assert AuditRow.objects.filter(verb="corrected entry").count() == 1


@pytest.mark.parametrize("order", list(permutations("abc")), ids="".join)
def test_a_chain_of_corrections_ends_in_its_last_whatever_order_it_arrives_in(world, order):
    replaces = {"a": None, "b": "a", "c": "b"}
    amounts = {"a": 1, "b": 2, "c": 3}
    for letter in order:
        content = told(world, amounts[letter])
        assert record(world, letter, replaces[letter], content) == Outcome.STORED
    assert Revision.objects.get(is_current=True).pk == name("c")
    assert Revision.objects.count() == 3


def test_of_two_replacing_the_same_one_the_later_received_counts(world):
    record(world, "a")
    record(world, "c", "a", told(world, 3))
    record(world, "b", "a", told(world, 2))
    assert Revision.objects.get(is_current=True).pk == name("b")
    assert Revision.objects.filter(replaces=name("a")).count() == 2


def test_a_clock_put_back_does_not_turn_the_order(world, monkeypatch):
    from django.utils import timezone

    record(world, "a")
    past = timezone.now() - timedelta(days=1)
    monkeypatch.setattr("logs.actions.timezone.now", lambda: past)
    record(world, "b", "a", told(world, 2))
    received = dict(Revision.objects.values_list("pk", "received_at"))
    assert received[name("b")] > received[name("a")]


def test_a_struck_entry_stays_struck_when_a_correction_arrives(world):
    record(world, "a")
    strike_entry(by=world.therapist, entry=Entry.objects.get(), reason="typed twice")
    record(world, "b", "a", told(world, 2))
    entry = Entry.objects.get()
    assert (entry.struck_by, entry.struck_reason) == (world.therapist, "typed twice")
    assert restore_entry(by=world.therapist, entry=entry).struck_at is None
    with pytest.raises(ActionRefused, match="isn't struck"):
        restore_entry(by=world.therapist, entry=entry)


def test_a_strike_needs_a_reason_and_happens_once(world):
    record(world)
    entry = Entry.objects.get()
    with pytest.raises(ActionRefused, match="why"):
        strike_entry(by=world.therapist, entry=entry, reason="  ")
    strike_entry(by=world.therapist, entry=entry, reason="typed twice")
    with pytest.raises(ActionRefused, match="already"):
        strike_entry(by=world.student, entry=entry, reason="again")
    assert Entry.objects.get().struck_by == world.therapist


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"pain_before": 11}, "Pain before"),
        ({"pain_worst": -1}, "Pain worst"),
        ({"pain_after": 2.5}, "Pain after"),
        ({"pain_next_morning": True}, "Pain next morning"),
        ({"effort": 11}, "Effort"),
        ({"occasion": 0}, "occasion"),
        ({"occasion": 13}, "occasion"),
        ({"source": "post"}, "source"),
        ({"note": "x" * 501}, "note"),
        ({"note": "a\0b"}, "note"),
    ],
)
def test_what_no_entry_can_say_is_refused(world, changes, words):
    with pytest.raises(ActionRefused, match=words):
        record(world, content=told(world, **changes))
    assert not Entry.objects.exists()


@pytest.mark.parametrize("amounts", [(-1,), (10_000,), (1,) * 21, (1.5,)])
def test_amounts_out_of_bounds_are_refused(world, amounts):
    with pytest.raises(ActionRefused):
        record(world, content=told(world, *amounts))


def test_bounds_themselves_are_stored(world):
    line = world.version.lines.first()
    done = Performed(line, (0, 9999) + (1,) * 18, load_g=50_000)
    content = told(world, performances=(done,), occasion=12, pain_worst=10, effort=0)
    assert record(world, content=content) == Outcome.STORED


def test_lines_of_strangers_drafts_and_doubles_are_refused(world):
    stranger = PatientFactory()
    theirs = issue(stranger, world.therapist).lines.first()
    with pytest.raises(ActionRefused, match="issued version"):
        record(world, content=told(world, performances=(Performed(theirs, (8,)),)))
    line = world.version.lines.first()
    with pytest.raises(ActionRefused, match="once"):
        record(world, content=told(world, performances=(Performed(line, (8,)),) * 2))
    with pytest.raises(ActionRefused, match="version"):
        record(world, content=told(world, version=theirs.version))
    assert not Entry.objects.exists()


def test_days_are_marked_heard_once_and_unmarked_on_record(world):
    days = [date(2026, 3, 2), date(2026, 3, 3)]
    given = {"patient": world.patient, "by": world.therapist}
    assert mark_heard(days=days, source="paper", **given) == 2
    assert mark_heard(days=[*days, date(2026, 3, 4)], source="telephone", **given) == 1
    assert mark_heard(days=days, source="paper", **given) == 0
    assert list(HeardDay.objects.values_list("source", flat=True)) == [
        "paper",
        "paper",
        "telephone",
    ]
    assert unmark_heard(days=days[:1], **given) == 1
    assert unmark_heard(days=days[:1], **given) == 0
    assert AuditRow.objects.filter(verb="marked days heard").count() == 2
    assert AuditRow.objects.get(verb="unmarked days heard").detail["days"] == ["2026-03-02"]
    with pytest.raises(ActionRefused, match="paper or by telephone"):
        mark_heard(days=days, source="phone", **given)


def test_the_line_named_with_the_pain_is_part_of_what_was_told(world):
    line = world.version.lines.first()
    named = told(world, performances=(Performed(line, (8,), hurt=True),))
    assert record(world, content=named) == Outcome.STORED
    assert Performance.objects.get().hurt is True
    assert record(world, content=named) == Outcome.DUPLICATE
    unnamed = told(world, performances=(Performed(line, (8,)),))
    assert record(world, content=unnamed) == Outcome.CONFLICT
