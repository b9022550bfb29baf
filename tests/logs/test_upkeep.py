"""What is kept of a day is what its entries say, after whatever was done to them."""

import json
import re
from datetime import timedelta
from io import StringIO
from pathlib import Path
from uuid import UUID

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction
from django.db.models import Value
from django.db.models.functions import Replace
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from logs.actions import Performed, Told, record_revision, restore_entry, strike_entry
from logs.adherence import dose_adherence, session_adherence
from logs.kept_queries import kept_days
from logs.models import Entry, KeptDay, Performance, Revision, SessionPair
from logs.queries import tellings_in
from logs.upkeep import FACTS, keep_all_days, keep_days, wrong_days, wrong_texts
from plans.actions import add_pause
from plans.models import DueSpan
from plans.queries import prescribed_line, schedule_of
from plans.schedule import Unit, Window, version_on
from tests.world import FIRST_DAY, issue, make_world

ROOT = Path(__file__).resolve().parents[2]
DAYS = [FIRST_DAY + timedelta(n) for n in range(3)]
LATER = FIRST_DAY + timedelta(30)


def performed(version, *amounts, confirmed=True):
    lines = version.lines.order_by("position")
    return tuple(
        Performed(line, (amount,), None, confirmed)
        for line, amount in zip(lines, amounts, strict=False)
        if amount is not None
    )


def tell(patient, entry, revision, day, *amounts, replaces=None, occasion=1, version=None, **more):
    version = version or patient.plan_versions.get(number=1)
    confirmed = more.pop("confirmed", True)
    return record_revision(
        patient=patient,
        entry=UUID(int=entry),
        revision=UUID(int=revision),
        replaces=None if replaces is None else UUID(int=replaces),
        told=Told(
            day,
            occasion,
            more.pop("source", "paper"),
            version,
            performed(version, *amounts, confirmed=confirmed),
            **more,
        ),
    )


def by_the_review(patient, apart=()):
    """The same facts by the review's own way: every telling, nothing due, and the dose by line."""
    schedule, window = schedule_of(patient), Window(DAYS[0], DAYS[-1])
    tellings = [t for t in tellings_in(patient, window) if t.strike is None]
    given = {
        "versions": schedule.versions,
        "occasions": (),
        "sessions": [telling.session for telling in tellings],
        "told_apart": apart,
        "heard": (),
        "window": window,
        "today": LATER,
    }
    sessions, dose = session_adherence(**given), dose_adherence(**given)
    found = {}
    judged_by = dict(KeptDay.objects.filter(patient=patient).values_list("day", "version"))
    for tally in sessions.days:
        here = [t for t in tellings if t.session.day == tally.day]
        if here:
            pains = [t.pain.worst for t in here if t.pain.worst is not None]
            lines = [day for day in dose.days if day.day == tally.day]
            found[tally.day] = (
                tally.extra,
                max(pains, default=None),
                sum(d.performed for d in lines if d.line.unit is Unit.REPETITIONS),
                sum(d.is_overdone for d in lines)
                if judged_by.get(tally.day) == tally.version
                else None,
            )
    return found


def kept(patient):
    """The facts that are kept, those that both ways have."""
    versions = schedule_of(patient).versions
    return {
        day: (
            facts.numbered + facts.beside,
            facts.pain_worst,
            facts.repetitions,
            facts.beyond if facts.version == version_on(versions, day).number else None,
        )
        for day, facts in kept_days(patient.pk).items()
    }


amounts = st.lists(st.sampled_from([None, 0, 3, 8, 40]), max_size=2)
steps = st.lists(
    st.one_of(
        st.tuples(
            st.just("tell"),
            st.integers(1, 3),  # entry
            st.integers(1, 9),  # revision
            st.none() | st.integers(1, 9),  # replaces
            st.sampled_from(DAYS),
            st.none() | st.integers(1, 2),  # occasion
            st.sampled_from(["paper", "telephone"]),
            amounts,
            st.none() | st.integers(0, 10),  # worst pain
            st.booleans(),  # confirmed
            st.integers(1, 2),  # version
        ),
        st.tuples(st.sampled_from(["strike", "restore"]), st.integers(1, 3)),
    ),
    max_size=12,
)


@settings(
    max_examples=60,
    # Each example takes back what it wrote.
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(steps)
def test_whatever_is_done_to_entries_what_is_kept_is_what_they_say(world_once, steps):
    world, versions = world_once
    with transaction.atomic():
        for name, number, *told in steps:
            if name == "tell":
                revision, replaces, day, occasion, source, done, worst, confirmed, of = told
                if replaces != revision:
                    tell(
                        world.patient,
                        number + 100,
                        revision,
                        day,
                        *done,
                        replaces=replaces,
                        occasion=occasion,
                        source=source,
                        pain_worst=worst,
                        confirmed=confirmed,
                        version=versions[of],
                    )
                continue
            entry = Entry.objects.filter(pk=UUID(int=number + 100)).first()
            if entry and (entry.struck_at is None) == (name == "strike"):
                if name == "strike":
                    strike_entry(by=world.therapist, entry=entry, reason="typed twice")
                else:
                    restore_entry(by=world.therapist, entry=entry)
            assert kept(world.patient) == by_the_review(world.patient)
        assert kept(world.patient) == by_the_review(world.patient)
        assert wrong_days(world.patient.pk) == ()
        transaction.set_rollback(True)


@pytest.fixture
def world_once(db):
    world = make_world()
    second = issue(world.patient, world.therapist, DAYS[1])
    return world, {1: world.version, 2: second}


def test_a_day_by_hand(world):
    # Two sessions of one number by one source are two; one beside any; the lines' most is
    # sets x high x sessions a day.
    first = world.version.lines.order_by("position")[0]
    most = first.sets * first.amount_high * first.sessions_per_day
    tell(world.patient, 1, 1, DAYS[0], most, 5, pain_worst=3)
    tell(world.patient, 2, 2, DAYS[0], 1, occasion=1, pain_worst=7)
    tell(world.patient, 3, 3, DAYS[0], None, 4, occasion=None, confirmed=False)
    facts = kept_days(world.patient.pk)[DAYS[0]]
    assert (facts.numbered, facts.beside, facts.pain_worst) == (2, 1, 7)
    assert facts.repetitions == most + 5 + 1
    assert (facts.beyond, facts.version) == (1, 1)


def test_entries_of_two_sources_for_one_number_are_one_until_a_person_says_otherwise(world):
    tell(world.patient, 1, 1, DAYS[0], 8)
    tell(world.patient, 2, 2, DAYS[0], 8, source="telephone")
    assert kept_days(world.patient.pk)[DAYS[0]].numbered == 1
    one, other = Entry.objects.order_by("pk")
    SessionPair.objects.create(
        patient=world.patient,
        one=one,
        other=other,
        is_same=False,
        said_by=world.therapist,
        said_at=timezone.now(),
    )
    keep_days(world.patient.pk, [DAYS[0]])
    assert kept_days(world.patient.pk)[DAYS[0]].numbered == 2
    assert kept(world.patient) == by_the_review(
        world.patient, [frozenset((str(one.pk), str(other.pk)))]
    )


def test_a_correction_to_another_day_leaves_nothing_on_the_first(world):
    tell(world.patient, 1, 1, DAYS[0], 8)
    tell(world.patient, 1, 2, DAYS[2], 8, replaces=1)
    assert set(kept_days(world.patient.pk)) == {DAYS[2]}


def test_sessions_of_two_versions_have_no_one_version_to_judge_by(world_once):
    world, versions = world_once
    tell(world.patient, 1, 1, DAYS[1], 8, version=versions[1])
    assert kept_days(world.patient.pk)[DAYS[1]].version == 1
    tell(world.patient, 2, 2, DAYS[1], 8, occasion=2, version=versions[2])
    assert kept_days(world.patient.pk)[DAYS[1]].version is None


def test_a_line_of_another_version_than_the_one_seen_is_judged_by_none(world_once):
    world, versions = world_once
    lines = [versions[number].lines.order_by("position")[number - 1] for number in (1, 2)]
    told = Told(
        DAYS[1], 1, "paper", versions[2], tuple(Performed(line, (8,)) for line in reversed(lines))
    )
    record_revision(
        patient=world.patient, entry=UUID(int=1), revision=UUID(int=1), replaces=None, told=told
    )
    of_one, of_two = lines
    assert json.loads(Revision.objects.get().seen) == [
        2,
        [of_one.unit, prescribed_line(of_one).most_per_day, False],
        [of_two.unit, prescribed_line(of_two).most_per_day, True],
    ]
    facts = kept_days(world.patient.pk)[DAYS[1]]
    assert (facts.numbered, facts.version) == (1, None)
    assert wrong_texts(world.patient.pk) == {}
    assert verify()


def test_a_session_of_no_version_is_judged_by_none(world):
    line = world.version.lines.order_by("position")[0]
    told = Told(DAYS[0], 1, "paper", None, (Performed(line, (8,)),))
    record_revision(
        patient=world.patient, entry=UUID(int=1), revision=UUID(int=1), replaces=None, told=told
    )
    facts = kept_days(world.patient.pk)[DAYS[0]]
    assert (facts.numbered, facts.version) == (1, None)
    assert verify()


@pytest.mark.parametrize("sessions", [1, 5])
def test_a_day_is_kept_in_two_statements_however_much_is_told(
    world, sessions, django_assert_num_queries
):
    for number in range(1, sessions + 1):
        tell(world.patient, number, number, DAYS[0], 8, 5, occasion=number)
    with django_assert_num_queries(2):
        keep_days(world.patient.pk, [DAYS[0]])


def test_a_third_statement_asks_whether_two_entries_are_one(world, django_assert_num_queries):
    tell(world.patient, 1, 1, DAYS[0], 8)
    tell(world.patient, 2, 2, DAYS[0], 8, source="telephone")
    with django_assert_num_queries(3):
        keep_days(world.patient.pk, [DAYS[0]])


def test_an_entry_that_fails_leaves_nothing_kept(world, monkeypatch):
    def refuse(**row):
        raise IntegrityError("no audit, no entry")

    monkeypatch.setattr("logs.actions.write_audit", refuse)
    with pytest.raises(IntegrityError):
        tell(world.patient, 1, 1, DAYS[0], 8)
    assert not KeptDay.objects.exists()


def verify(*options):
    out, err = StringIO(), StringIO()
    call_command("verify_tallies", *options, stdout=out, stderr=err)
    return out.getvalue()


def test_the_command_says_that_all_is_right(world):
    tell(world.patient, 1, 1, DAYS[0], 8)
    assert verify() == "All that is kept of 1 patients is right.\n"


@pytest.mark.parametrize(
    "spoil",
    [
        lambda: KeptDay.objects.update(numbered=2),
        lambda: KeptDay.objects.update(beyond=1),
        lambda: KeptDay.objects.all().delete(),
        lambda: KeptDay.objects.update(day=DAYS[1]),
        lambda: DueSpan.objects.update(occasions=0),
        lambda: DueSpan.objects.all().delete(),
        lambda: Performance.objects.update(amounts=[1]),
        lambda: Performance.objects.update(load_g=500),
        lambda: Revision.objects.update(done=""),
        lambda: Revision.objects.update(seen=""),
        lambda: Revision.objects.update(seen='[1,["repetitions",1,true]]'),
        lambda: Revision.objects.update(seen=Replace("seen", Value("true"), Value("false"))),
    ],
)
def test_the_command_finds_what_is_wrong_and_puts_it_right(world, spoil):
    tell(world.patient, 1, 1, DAYS[0], 8)
    spoil()
    with pytest.raises(CommandError, match="--rebuild puts them right"):
        verify()
    assert "Written anew for 1 patients" in verify("--rebuild")
    assert verify()


WRITES = re.compile(
    r"\b(Entry|Revision|Performance|PerformanceRow|KeptDay|DueSpan|DueSpanRow)"
    r"(\.objects\b[^\n]*\n?[^\n]*\.(create|bulk_create|get_or_create|update|update_or_create|"
    r"delete|bulk_update)\(|\(\s*\n?\s*(pk|uuid|revision|entry|patient)(_id)?=)"
    r"|(INSERT INTO|UPDATE|DELETE FROM) (logs_(entry|revision|performance|keptday)|plans_duespan)"
)


def test_nothing_else_writes_entries_or_what_is_kept_of_them():
    """Whoever writes entries must keep their days: only these modules do."""
    files = {
        str(path.relative_to(ROOT))
        for app in ("clinic", "patients", "plans", "logs")
        for path in (ROOT / app).rglob("*.py")
        if "migrations" not in path.parts and WRITES.search(path.read_text())
    }
    assert files == {"logs/actions.py", "logs/demo.py", "logs/upkeep.py", "plans/span_actions.py"}


def test_the_writer_of_many_rows_keeps_them_too(world):
    tell(world.patient, 1, 1, DAYS[0], 8)
    before = kept_days(world.patient.pk)
    KeptDay.objects.all().delete()
    keep_all_days([world.patient.pk])
    assert kept_days(world.patient.pk) == before


@pytest.mark.django_db(transaction=True)
def test_an_upgrade_keeps_the_days_that_are_there_already():
    """From the tables as they were before anything was kept, with entries in them."""
    world = make_world()
    tell(world.patient, 1, 1, DAYS[0], 8, pain_worst=3)
    tell(world.patient, 1, 2, DAYS[1], 8, replaces=1)
    add_pause(
        by=world.therapist,
        patient=world.patient,
        first_day=DAYS[2],
        last_day=None,
        reason="",
        today=DAYS[2],
    )
    days = list(KeptDay.objects.values("patient", "day", *FACTS))
    texts = set(Revision.objects.values_list("pk", "done", "seen"))
    spans = list(DueSpan.objects.order_by("first_day").values_list("first_day", "is_paused"))
    try:
        call_command("migrate", "logs", "0002", verbosity=0)
        call_command("migrate", "plans", "0003", verbosity=0)
    finally:
        call_command("migrate", verbosity=0)
    assert list(KeptDay.objects.values("patient", "day", *FACTS)) == days
    found = DueSpan.objects.order_by("first_day").values_list("first_day", "is_paused")
    assert list(found) == spans
    assert len(days) == 1
    assert set(Revision.objects.values_list("pk", "done", "seen")) == texts
    assert len(spans) == 2
    assert verify()
    assert set(Revision.objects.values_list("patient", flat=True)) == {world.patient.pk}
