"""What patients say of single lines: stored, refused where it can't be, counted, and shown."""

from dataclasses import replace
from datetime import date
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from clinic.actions import ActionRefused
from logs.actions import Performed, Told, hash_of_content, record_revision
from logs.models import Performance, Revision, Why
from logs.obstacles import Ended, Obstacle
from logs.review import review_of
from logs.review_json import review_json
from patients.motions import MOTIONS, Effort
from plans.schedule import Window
from tests.logs.homes import enrol_home
from tests.world import FIRST_DAY, issue

WINDOW = Window(FIRST_DAY, date(2026, 3, 8))
TODAY = date(2026, 3, 9)
BEND = {"exercise": "elbow_bend_sitting", "step": "resisted", "load_g": 1000, "load_means": "held"}


@pytest.fixture
def easier(world):
    """A version whose one line is resisted with 1 kg and may be done actively instead."""
    return issue(
        world.patient, world.therapist, FIRST_DAY, [BEND | {"easier_allowed": True, "sets": 2}]
    )


def record(world, version, *performed, day=FIRST_DAY, occasion=1, **scores):
    told = Told(day, occasion, "phone", version, performed, **scores)
    return record_revision(
        patient=world.patient, entry=uuid4(), revision=uuid4(), replaces=None, told=told
    )


def test_reasons_are_those_of_missed_sessions_and_too_hard():
    assert {*Obstacle} - {Obstacle.TOO_HARD} == {*Why.values} - {Why.FORGOT}


def test_what_is_said_of_a_line_is_stored_with_it(world, easier):
    line = easier.lines.get()
    record(world, easier, Performed(line, (5,), ended="stopped", why="pain", step="active"))
    done = Performance.objects.get()
    assert (done.ended, done.why, done.step) == ("stopped", "pain", "active")


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"ended": "lost"}, "skipped or stopped"),
        ({"ended": "skipped", "amounts": (3,)}, "no amounts"),
        ({"why": "forgot"}, "too_hard"),
        ({"step": "passive"}, "isn't the easier one"),
    ],
)
def test_what_cannot_be_said_of_a_line_is_refused(world, easier, said, words):
    done = replace(Performed(easier.lines.get(), ()), **said)
    with pytest.raises(ActionRefused, match=words):
        record(world, easier, done)


def test_an_easier_step_that_the_line_does_not_allow_is_refused(world):
    line = world.version.lines.first()
    assert line.step == "active"
    with pytest.raises(ActionRefused, match="isn't the easier one"):
        record(world, world.version, Performed(line, (8,), step="gravity_reduced"))


@pytest.mark.parametrize(
    "wrong", [{"ended": "lost"}, {"why": "forgot"}, {"step": "resisted"}, {"step": "upwards"}]
)
def test_the_database_itself_refuses_words_it_does_not_know(world, easier, wrong):
    record(world, easier, Performed(easier.lines.get(), (8,)))
    with pytest.raises(IntegrityError), transaction.atomic():
        Performance.objects.update(**wrong)


def test_a_telling_without_these_words_hashes_as_it_always_did(world):
    line = world.version.lines.first()
    told = Told(FIRST_DAY, 1, "phone", None, (Performed(line, (8,)),))
    plain = hash_of_content(None, told)
    for said in ({"hurt": False}, {"why": "tired"}, {"ended": "stopped"}):
        other = replace(told, performances=(Performed(line, (8,), **said),))
        assert hash_of_content(None, other) != plain


def test_the_easier_step_is_credited_and_its_volume_is_its_own(world, easier):
    """Worked by hand: 2 × 8 resisted with 1 kg asked; 8 + 8 done in the active step, without it."""
    line = easier.lines.get()
    record(world, easier, Performed(line, (8, 8), step="active"))
    review = review_of(world.patient, WINDOW, TODAY)
    [day] = [each for each in review.dose.days if each.day == FIRST_DAY and each.performed]
    assert (day.credited, day.performed) == (min(16, 2 * line.amount_low), 16)
    [elbow] = [row for row in review.volume.rows if row.motion == "elbow_flexion"]
    assert (elbow.performed.repetitions, elbow.performed.load_volume_kg) == (16, 0.0)
    assert elbow.performed.peak_moment_nm < elbow.prescribed.peak_moment_nm
    assert MOTIONS[elbow.motion].joint == elbow.joint
    record(world, easier, Performed(line, (8, 8)), day=date(2026, 3, 3))
    [elbow] = [
        row
        for row in review_of(world.patient, WINDOW, TODAY).volume.rows
        if row.motion == "elbow_flexion"
    ]
    assert (elbow.performed.repetitions, elbow.performed.load_volume_kg) == (32, 16.0)


def test_the_review_says_which_line_how_often_and_why(as_staff, world):
    lift, bend = world.version.lines.all()
    record(world, world.version, Performed(lift, (), ended="skipped", why="tired"))
    told = Performed(lift, (4,), ended="stopped", why="too_hard"), Performed(bend, (8,), hurt=True)
    record(world, world.version, *told, day=date(2026, 3, 3), pain_worst=6, effort=7)
    review = review_of(world.patient, WINDOW, TODAY)
    found = review.obstacles[lift.key]
    assert (found.skipped, found.stopped) == ((FIRST_DAY,), (date(2026, 3, 3),))
    assert found.holds_back
    assert bend.key not in review.obstacles
    page = as_staff(world.therapist).get(
        f"{reverse('review', args=[world.patient.pk])}?first_day=2026-03-02&last_day=2026-03-08"
    )
    text = page.content.decode()
    assert "(stopped: too hard)" in text
    assert "(named with the pain)" in text
    assert "no evidence for stepping up" in text
    assert "7, in 1 session." in text
    said = review_json(review)
    assert said["effort"] == [{"day": "2026-03-03", "effort": 7}]
    [row] = said["obstacles"]
    assert row["reasons"] == [
        {"reason": "tired", "days": ["2026-03-02"]},
        {"reason": "too_hard", "days": ["2026-03-03"]},
    ]


def test_what_was_told_twice_stands_in_the_way_once(world):
    line = world.version.lines.first()
    for source in ("phone", "paper"):
        told = Told(FIRST_DAY, 1, source, world.version, (Performed(line, (4,), why="too_hard"),))
        record_revision(
            patient=world.patient, entry=uuid4(), revision=uuid4(), replaces=None, told=told
        )
    review = review_of(world.patient, WINDOW, TODAY)
    assert review.obstacles[line.key].too_hard == (FIRST_DAY,)


def test_a_phone_tells_it_in_the_second_form_and_the_first_still_comes(world, easier):
    home = enrol_home(world.patient)
    old = home.record(easier)
    assert old["v"] == 1
    new = home.record(easier, occasion=2) | {"v": 2}
    new["performances"][0] |= {"ended": "stopped", "why": "unwell", "step": "active", "hurt": True}
    too_early = new | {"v": 1, "uuid": str(uuid4()), "entry": str(uuid4())}
    results = [answer["result"] for answer in home.send(old, new, too_early)]
    assert results == ["stored", "stored", "rejected"]
    stored = Revision.objects.get(pk=new["uuid"]).performances.get()
    assert (stored.ended, stored.why, stored.step, stored.hurt) == (
        Ended.STOPPED,
        Obstacle.UNWELL,
        Effort.ACTIVE.key,
        True,
    )


def test_a_count_not_confirmed_is_labelled_wherever_it_shows(as_staff, world):
    lift, bend = world.version.lines.all()
    record(world, world.version, Performed(lift, (8,), is_confirmed=False), Performed(bend, (8,)))
    review = review_of(world.patient, WINDOW, TODAY)
    assert review.sessions.unconfirmed == 1
    days = "?first_day=2026-03-02&last_day=2026-03-08"
    address = f"{reverse('review', args=[world.patient.pk])}{days}"
    client = as_staff(world.therapist)
    text = client.get(address).content.decode()
    assert "not confirmed: no dose" in text
    assert "1 more would be whole, if counts that nobody confirmed are right" in text
    assert "1 of 2 done, 1 unheard, 1 with a count not confirmed" in text
    behind = client.get(f"{address}&behind=line.{lift.key}.repetitions").content.decode()
    assert "not all confirmed" in behind
    diary = client.get(f"{reverse('diary', args=[world.patient.pk])}?week=2026-W10")
    assert "8, not confirmed" in diary.content.decode()
