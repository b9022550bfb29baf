"""The simulated clinic: what reviews compute from its entries is what it let happen."""

from collections import defaultdict
from datetime import date, timedelta
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from logs.adherence import dose_adherence, session_adherence
from logs.counting import Session
from logs.heard import PhoneWord, StoreReport, heard_days, lost_store_days
from logs.holds import held_numbers
from logs.pain import PainReport, pain_days
from logs.simulator import simulate
from logs.simulator.cast import read_cast
from logs.volume import volume
from patients.motions import MOTIONS
from plans.catalogue import read_folder
from plans.schedule import Unit, Window, iso_week, occasions

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
LAST_DAY = date(2026, 11, 24)


@cache
def shipped():
    exercises = {e.key: e for e in read_folder(FIXTURES / "exercises")}
    return {"cast": read_cast(FIXTURES / "demo.toml"), "exercises": exercises}


@cache
def people(seed=1, last_day=LAST_DAY, count=12, weeks=8):
    return tuple(simulate(seed=seed, last_day=last_day, people=count, weeks=weeks, **shipped()))


def person(key):
    return next(p for p in people() if p.story.key == key)


def window_of(person):
    return Window(person.days[0].day, person.days[-1].day)


def sessions_of(person):
    """The entries as the clinic reads them: the last revision, unless struck out."""
    return [
        Session(
            entry=str(entry.uuid),
            day=entry.day,
            number=entry.occasion,
            source=entry.source,
            device=None if entry.phone is None else str(entry.phone),
            order=(entry.occasion or 99, entry.began_at or entry.revisions[0].received_at),
            performances=entry.revisions[-1].performances,
            version=entry.version,
        )
        for entry in person.entries
        if entry.struck_at is None
    ]


def heard_of(person):
    return heard_days(**hearing(person))


def hearing(person):
    words = [
        PhoneWord(
            phone.enrolled_day,
            None,
            tuple(
                StoreReport(str(place), store.made_day, place == 0, store.last_empty_day)
                for place, store in enumerate(phone.stores)
            ),
        )
        for phone in person.phones
    ]
    window = window_of(person)
    return {
        "marked": person.marked,
        "phones": words,
        "window": window,
        "today": window.last_day + timedelta(1),
    }


def facts(person):
    window = window_of(person)
    return {
        "versions": person.issued,
        "occasions": occasions(person.issued, [span for span, _ in person.pauses], window),
        "sessions": sessions_of(person),
        "held": held_of(person),
        "window": window,
        "today": window.last_day + timedelta(1),
    }


def held_of(person):
    """The occasions that stop signs hold, as the clinic works them out."""
    due = occasions(person.issued, [span for span, _ in person.pauses], window_of(person))
    holds = [stop.hold for stop in person.stops]
    return held_numbers(holds, [(occasion.day, occasion.number) for occasion in due])


def check_days_heard(person):
    assert heard_of(person) == {day.day for day in person.days if day.is_heard}


def check_sessions(person):
    known = session_adherence(heard=heard_of(person), **facts(person))
    assert [
        (d.day, d.version, d.due, d.done, d.extra, d.is_heard, len(d.perhaps_same))
        for d in known.days
    ] == [(d.day, d.version, d.due, d.done, d.extra, d.is_heard, d.doubles) for d in person.days]
    assert [(d.day, d.whole, d.part, d.unconfirmed) for d in known.days] == [
        (d.day, d.whole, d.part, d.unconfirmed) for d in person.days
    ]
    due, done = sum(d.due for d in person.days), sum(d.really_done for d in person.days)
    if due:
        assert known.lower_percent <= 100 * done / due <= known.upper_percent


def check_dose(person):
    known = dose_adherence(heard=heard_of(person), **facts(person))
    assert {
        (d.day, d.line.key): (d.prescribed, d.credited, d.performed, d.recorded) for d in known.days
    } == {(day.day, key): truth[:4] for day in person.days for key, truth in day.lines.items()}


def check_volume(person):
    lines = {line.key: line for version in person.issued for line in version.lines}
    repetitions = defaultdict(lambda: [0, 0, 0])
    for day in person.days:
        for key, truth in day.lines.items():
            line = lines[key]
            if line.unit is not Unit.REPETITIONS:
                continue
            for motion in line.moves:
                for side in line.side.parts:
                    row = repetitions[iso_week(day.day), MOTIONS[motion].joint, motion, side]
                    row[0] += truth.prescribed
                    row[1] += truth.performed
                    row[2] += truth.load_volume_g
    assert {
        (row.week, row.joint, row.motion, row.side): [
            row.prescribed.repetitions,
            row.performed.repetitions,
            row.performed.load_volume_g,
        ]
        for row in volume(**facts(person)).rows
        if row.motion and (row.prescribed.repetitions or row.performed.repetitions)
    } == {place: row for place, row in repetitions.items() if any(row)}


def check_pain(person):
    reports = [
        PainReport(str(entry.uuid), entry.day, *entry.revisions[-1].scores[:4])
        for entry in person.entries
        if entry.struck_at is None
    ]
    known = {day.day: day.peak for day in pain_days(reports, window_of(person))}
    assert {day.day: day.pain_peak for day in person.days if day.pain_peak is not None} == {
        day: peak for day, peak in known.items() if peak is not None
    }


CHECKS = [check_days_heard, check_sessions, check_dose, check_volume, check_pain]


@pytest.mark.parametrize("check", CHECKS)
@pytest.mark.parametrize("key", [story.key for story in shipped()["cast"].stories])
def test_what_is_computed_of_each_person_is_what_happened(key, check):
    check(person(key))


@given(
    seed=st.integers(0, 2**32),
    last_day=st.dates(date(2020, 1, 1), date(2035, 12, 31)),
    weeks=st.integers(1, 12),
    index=st.integers(0, 23),
)
@hypothesis_settings(max_examples=150)
def test_what_is_computed_is_what_happened_whatever_the_seed(seed, last_day, weeks, index):
    everyone = simulate(seed=seed, last_day=last_day, people=24, weeks=weeks, **shipped())
    chosen = next(p for place, p in enumerate(everyone) if place == index)
    for check in CHECKS:
        check(chosen)


def test_the_same_seed_gives_the_same_clinic_and_another_seed_another():
    assert tuple(simulate(seed=1, last_day=LAST_DAY, **shipped())) == people()
    assert people(seed=2) != people()


def test_a_smaller_clinic_is_the_beginning_of_a_larger_one():
    assert people(count=15)[:12] == people()


def test_lines_of_exercises_that_are_not_shipped_are_left_out():
    few = {"full_fist": shipped()["exercises"]["full_fist"]}
    cast = shipped()["cast"]
    for p in simulate(seed=1, last_day=LAST_DAY, cast=cast, exercises=few):
        check_sessions(p)
        assert {line.exercise for v in p.issued for line in v.lines} <= {"full_fist"}


def test_every_story_of_the_cast_finds_its_exercises_and_steps():
    exercises = shipped()["exercises"]
    for story in shipped()["cast"].stories:
        for version in story.versions:
            for line in version.lines:
                assert line.exercise in exercises
                assert line.step in {s.effort.key for s in exercises[line.exercise].steps}


def test_each_revision_comes_in_after_the_one_it_replaces_and_after_its_session():
    seen = set()
    for p in people():
        for entry in p.entries:
            before = None
            for told in entry.revisions:
                assert told.uuid not in seen
                seen.add(told.uuid)
                assert told.replaces == (before.uuid if before else None)
                assert before is None or before.received_at < told.received_at
                assert entry.began_at is None or entry.began_at < told.received_at
                assert entry.day <= told.received_at.date() <= LAST_DAY + timedelta(1)
                before = told


# The stories are what their names say, so that the demo shows what it is meant to show.


def done_share(days):
    return sum(d.done for d in days) / sum(d.due for d in days)


def test_the_weekend_skipper_skips_weekends():
    days = [d for d in person("weekend").days if d.due]
    assert done_share([d for d in days if d.day.weekday() < 5]) > 0.8
    assert done_share([d for d in days if d.day.weekday() >= 5]) < 0.35


def test_the_overdoer_overdoes_on_most_days():
    rasp = person("overdoer")
    known = dose_adherence(heard=heard_of(rasp), **facts(rasp))
    assert len({d.day for d in known.overdone}) > 0.8 * sum(d.done > 0 for d in rasp.days)
    assert sum(d.extra for d in rasp.days) > 5


def test_the_quiet_one_is_not_heard_for_twelve_days_and_more_is_on_the_phone():
    days = person("quiet").days
    assert not any(d.is_heard or d.done for d in days[-12:])
    assert any(d.is_heard for d in days[:-12])
    assert sum(d.really_done for d in days[-12:]) > 5


def test_pain_climbs_for_one_and_settles_for_another():
    def thirds(key):
        peaks = [d.pain_peak for d in person(key).days if d.pain_peak is not None]
        third = len(peaks) // 3
        return sum(peaks[:third]) / third, sum(peaks[-third:]) / third

    first, last = thirds("climbing")
    assert last > first + 2
    first, last = thirds("settling")
    assert last < first - 2


def test_paper_is_typed_in_on_visits_and_one_week_told_by_telephone():
    yarrow = person("paper")
    assert {entry.source for entry in yarrow.entries} == {"paper", "telephone"}
    assert [source for _, source in yarrow.typed_in.values()].count("telephone") == 7
    assert all(entry.began_at is None and entry.phone is None for entry in yarrow.entries)


def test_two_phones_write_some_sessions_twice_and_one_lost_its_store():
    twine = person("two_phones")
    assert sum(d.doubles for d in twine.days) > 3
    assert {entry.phone for entry in twine.entries} == {0, 1}
    assert lost_store_days(**hearing(twine))


def test_one_week_came_in_by_phone_and_on_paper():
    bodkin = person("weekend")
    both = {entry.day for entry in bodkin.entries if entry.source == "paper"}
    assert sum(d.doubles for d in bodkin.days) >= 5
    assert both <= bodkin.marked
    assert len(bodkin.marked) == 7


def test_pauses_make_nothing_due_and_one_is_back_dated():
    zephyr = person("holiday")
    assert [span.is_back_dated for span, _ in zephyr.pauses] == [False, True]
    for span, _ in zephyr.pauses:
        assert not any(d.due for d in zephyr.days if d.day in span)
    assert any(d.extra for d in zephyr.days)
    assert any(d.unconfirmed for d in zephyr.days)


def test_a_stop_sign_holds_whole_days_on_which_nothing_is_done():
    (stop,) = person("holiday").stops
    held = [d for d in person("holiday").days if stop.hold.covers(d.day, 1)]
    assert [(d.due, d.done, d.extra) for d in held] == [(0, 0, 0)] * 3
    assert person("climbing").stops[0].answered_day is None


def test_versions_wait_are_signed_end_and_are_not_there_yet():
    waiting = person("waiting").versions
    assert [version.waits for version in waiting] == [False, False, False, True]
    assert [version.signed_at is not None for version in waiting] == [False, True, False, False]
    assert person("ended").versions[-1].lines == ()
    assert not any(d.due for d in person("ended").days[-8:])
    assert person("new").versions == ()


def test_entries_are_corrected_struck_and_answered_the_next_morning():
    settling = person("settling").entries
    assert sum(entry.struck_at is not None for entry in settling) == 2
    corrected = [
        entry for entry in settling if len({told.performances for told in entry.revisions}) > 1
    ]
    assert len(corrected) > 3
    mornings = [entry.revisions[-1].scores[3] for entry in person("climbing").entries]
    assert sum(score is not None for score in mornings) > 15


def test_it_refuses_a_span_without_a_week():
    with pytest.raises(ValueError, match="at least one week"):
        next(simulate(seed=1, last_day=LAST_DAY, weeks=0, **shipped()))
