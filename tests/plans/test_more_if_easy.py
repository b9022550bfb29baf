"""Up to two more where the patient is invited: off by default, told in words, judged by the top."""

from datetime import timedelta

import pytest
from django.db import IntegrityError
from django.urls import reverse

from clinic.http import today_in
from logs.models import KeptDay
from logs.tally import LineDay
from logs.upkeep import wrong_days
from plans.actions import change_line, start_draft
from plans.dose import reasons_against_more
from plans.models import Line
from plans.plan_page import shown_line
from plans.queries import MOST_PER_DAY, prescribed_line
from plans.sheet_words import sheet_words
from tests.logs.test_upkeep import tell
from tests.plans.building import MONDAY
from tests.plans.building import line as prescribed
from tests.plans.test_plan_draft import fields_of
from tests.plans.test_safety_pages import limit
from tests.world import FIRST_DAY, issue, make_line, revision_of

TODAY = today_in("Europe/London")
INVITED = [{"more_if_easy": True, "sets": 2}]


@pytest.fixture
def draft(world):
    return start_draft(by=world.therapist, patient=world.patient, today=FIRST_DAY)


def line_day(line, recorded):
    return LineDay(MONDAY, line, 1, 16, 16, recorded, recorded, is_heard=True)


def test_the_top_is_two_higher_in_each_set_and_no_more():
    """2 sets of 8 to 10, twice a day: 40 at most; invited, 2 × 12 × 2 = 48."""
    plain, invited = prescribed(), prescribed(more_if_easy=True)
    assert (plain.most_per_day, invited.most_per_day) == (40, 48)
    assert line_day(plain, 41).is_overdone
    assert not line_day(invited, 48).is_overdone
    assert line_day(invited, 49).is_overdone


def test_the_database_works_out_the_same_most(world, draft):
    make_line(draft, key="a", more_if_easy=True, sets=3, sessions_per_day=2)
    rows = dict(Line.objects.values_list("key", MOST_PER_DAY))
    assert rows["a"] == 3 * 12 * 2
    for line in Line.objects.all():
        assert rows[line.key] == prescribed_line(line).most_per_day


def test_it_is_off_unless_somebody_invites(as_staff, world, draft):
    line = draft.lines.first()
    assert not line.more_if_easy
    client = as_staff(world.therapist)
    to = reverse("line_change", args=[world.patient.pk, line.pk])
    client.post(to, fields_of(line, more_if_easy="on"))
    line.refresh_from_db()
    assert line.more_if_easy
    page = client.get(reverse("draft", args=[world.patient.pk])).content.decode()
    assert "up to 2 more if easy" in page
    client.post(to, fields_of(line))
    line.refresh_from_db()
    assert not line.more_if_easy


def test_another_exercise_or_unit_ends_the_invitation(world, draft):
    line = make_line(draft, key="d", more_if_easy=True)
    change_line(by=world.therapist, line=line, changes={"sets": 2})
    assert line.more_if_easy
    change_line(by=world.therapist, line=line, changes={"unit": "seconds", "hold_s": 0})
    assert not line.more_if_easy
    other = make_line(draft, key="e", more_if_easy=True)
    bend = revision_of("elbow_bend_sitting")
    change_line(by=world.therapist, line=other, changes={"revision": bend})
    assert not other.more_if_easy


@pytest.mark.parametrize(("is_invited", "overdone"), [(True, 0), (False, 1)])
def test_what_is_kept_of_a_day_is_judged_by_the_same_top(world, is_invited, overdone):
    """24 in a day, where 1 set of 8 to 10 twice allows 20, and 24 with the invitation."""
    line = {"more_if_easy": is_invited, "sessions_per_day": 2}
    version = issue(world.patient, world.therapist, FIRST_DAY, lines=[line])
    tell(world.patient, 1, 1, FIRST_DAY, 12, version=version)
    tell(world.patient, 2, 2, FIRST_DAY, 12, occasion=2, version=version)
    assert KeptDay.objects.get().beyond == overdone
    assert not wrong_days(world.patient.pk)


def test_only_repetitions_can_be_two_more(world, draft):
    with pytest.raises(IntegrityError, match="more_if_easy_is_repetitions"):
        make_line(draft, key="b", unit="seconds", more_if_easy=True)


def test_the_form_says_the_rule_and_what_speaks_against_it_now(as_staff, world, draft):
    line = draft.lines.first()
    client = as_staff(world.therapist)
    address = reverse("draft", args=[world.patient.pk]) + f"?open={line.pk}"
    page = client.get(address).content.decode()
    assert "common practice, no source" in page
    assert "Now: " not in page
    limit(world)
    assert "Now: a precaution holds." in client.get(address).content.decode()


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({}, ""),
        ({"precautions": 2}, "precautions hold"),
        ({"operation_weeks": 1}, "an operation 1 week ago"),
        ({"operation_weeks": 12}, ""),
        ({"precautions": 1, "injury_weeks": 6}, "a precaution holds and an injury 6 weeks ago"),
    ],
)
def test_what_speaks_against_inviting(said, words):
    known = {"precautions": 0, "operation_weeks": None, "injury_weeks": None} | said
    assert reasons_against_more(**known) == words


@pytest.mark.parametrize(
    ("changes", "is_kept"),
    [
        ({}, True),
        ({"operation_day": TODAY - timedelta(weeks=3)}, False),
        ({"operation_day": TODAY - timedelta(weeks=20)}, True),
        ({"onset_day": TODAY - timedelta(weeks=3)}, True),
        ({"onset_day": TODAY - timedelta(weeks=3), "icd10": "S52.5"}, False),
    ],
)
def test_a_new_version_takes_it_along_unless_something_speaks_against_it(world, changes, is_kept):
    issue(world.patient, world.therapist, TODAY - timedelta(days=1), lines=INVITED)
    for name, value in changes.items():
        setattr(world.episode, name, value)
    world.episode.save()
    new = start_draft(by=world.therapist, patient=world.patient, today=TODAY)
    assert new.lines.get().more_if_easy is is_kept


def test_a_precaution_ends_it_in_the_next_version(world):
    issue(world.patient, world.therapist, TODAY - timedelta(days=1), lines=INVITED)
    limit(world)
    new = start_draft(by=world.therapist, patient=world.patient, today=TODAY)
    assert not new.lines.get().more_if_easy


@pytest.mark.parametrize(
    ("language", "one", "more"),
    [
        ("en", "you may do up to 2 more.", "up to 2 more in each set."),
        ("es", "puede hacer hasta 2 más.", "hasta 2 más en cada serie."),
        ("ar", "مرتين على الأكثر.", "في كل مجموعة."),
    ],
)
def test_the_patient_is_told_on_sheet_and_phone(world, draft, language, one, more):
    words = sheet_words(language)
    line = make_line(draft, key="c", more_if_easy=True, sets=1)
    assert words.dose(shown_line(line).dose).sentences[1].endswith(one)
    line.sets = 2
    assert words.dose(shown_line(line).dose).sentences[1].endswith(more)
    line.more_if_easy = False
    assert not any(more in said for said in words.dose(shown_line(line).dose).sentences)
