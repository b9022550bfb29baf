"""The plan page and the pages of its versions; pauses."""

from datetime import timedelta

import pytest
from django.urls import reverse

from clinic.http import today_in
from clinic.models import AuditRow
from plans import actions
from plans.models import Pause, PlanVersion
from tests.world import FIRST_DAY, PatientFactory, issue, join

TODAY = today_in("Europe/London")


def url(name, world, *args):
    return reverse(name, args=[world.patient.pk, *args])


def plan_text(client, world):
    answer = client.get(url("plan", world))
    assert answer.status_code == 200
    return answer.content.decode()


def test_the_plan_in_force_stands_in_words(as_staff, world):
    helper = world.patient.home_helpers.create(name="Ivy Quill")
    issue(
        world.patient,
        world.therapist,
        lines=[
            {
                "exercise": "elbow_bend_sitting",
                "step": "resisted",
                "load_means": "cuff",
                "load_g": 750,
                "sets": 2,
                "amount_low": 6,
                "amount_high": 9,
                "hold_s": 3,
                "pace_s": 5,
                "sessions_per_day": 3,
                "weekdays": 0b0010101,
                "note_patient": "Sit by the window",
                "note_staff": "Watch the trunk",
                "home_helper": helper,
                "episode": world.episode,
            }
        ],
    )
    text = plan_text(as_staff(world.therapist), world)
    for words in (
        "Version 2, in force",
        '<span class="quiet small">left</span>',
        "resisted",
        "2 × 6–9",
        "hold 3 s",
        "5 s each",
        "0.75 kg on a cuff",
        "3 times a day",
        "Mon Wed Fri",
        "Sit by the window",
        "Watch the trunk",
        "With Ivy Quill",
        "Weak left arm after a stroke",
        "stop above 4 of 10",
        "Thea Therapist",
        "Mon 2 Mar 2026",
    ):
        assert words in text, words


def test_without_a_plan_the_page_says_what_to_do(as_staff, world):
    patient = PatientFactory()
    join(patient, world.therapist)
    answer = as_staff(world.therapist).get(reverse("plan", args=[patient.pk]))
    text = answer.content.decode()
    assert "Nothing is prescribed yet." in text
    assert "Start a plan" in text


def test_an_ended_plan_says_so(as_staff, world):
    issue(world.patient, world.therapist, day=TODAY, lines=[])
    text = plan_text(as_staff(world.therapist), world)
    assert "The plan has ended" in text
    assert "Version 2 ended the plan" in text


def test_a_version_that_begins_later_stands_beside_the_one_in_force(as_staff, world):
    later = TODAY + timedelta(days=3)
    issue(world.patient, world.therapist, day=later, lines=[{"exercise": "elbow_bend_sitting"}])
    page = as_staff(world.therapist).get(url("plan", world))
    assert page.context["page"].in_force.version == world.version
    assert page.context["page"].coming.version.number == 2
    assert "Version 2, from" in page.content.decode()


def test_a_draft_shows_with_who_began_it(as_staff, world):
    actions.start_draft(by=world.student, patient=world.patient, today=TODAY)
    text = plan_text(as_staff(world.therapist), world)
    assert "A draft of version 2 is open, begun by Stu Student." in text


def test_a_version_shows_what_it_changed_against_the_one_before(as_staff, world):
    lines = [
        {"exercise": "elbow_bend_sitting", "sets": 3},
        {"exercise": "wrist_bend_back"},
    ]
    second = issue(world.patient, world.therapist, lines=lines)
    page = as_staff(world.therapist).get(url("plan_version", world, second.pk))
    changes = page.context["changes"]
    assert changes.against == world.version
    assert [(change.kind.value, change.title.split(",")[0]) for change in changes.lines] == [
        ("changed", "Bend and straighten the elbow"),
        ("added", "Lift the hand at the wrist"),
        ("taken out", "Arm lift to the front"),
    ]
    text = page.content.decode()
    assert "<del>1 × 8–10</del> <ins>3 × 8–10</ins>" in text


def test_the_first_version_has_none_before_it(as_staff, world):
    page = as_staff(world.therapist).get(url("plan_version", world, world.version.pk))
    assert "The first version" in page.content.decode()


def test_a_draft_has_no_page_of_its_own(as_staff, world):
    draft = actions.start_draft(by=world.therapist, patient=world.patient, today=TODAY)
    answer = as_staff(world.therapist).get(url("plan_version", world, draft.pk))
    assert answer["Location"] == url("draft", world)


def test_anothers_version_is_not_found_under_this_patient(as_staff, world):
    other = PatientFactory()
    version = issue(other, world.therapist)
    answer = as_staff(world.therapist).get(url("plan_version", world, version.pk))
    assert answer.status_code == 404


def test_a_pause_is_added_and_shown(as_staff, world):
    client = as_staff(world.therapist)
    form = {"first_day": TODAY, "last_day": TODAY + timedelta(days=4), "reason": "Fever"}
    assert client.post(url("pause_add", world), form)["Location"] == url("plan", world)
    text = plan_text(client, world)
    assert "The plan is paused until" in text
    assert "Fever" in text
    assert "back-dated" not in text
    assert AuditRow.objects.filter(verb="paused plan", patient=world.patient.pk).count() == 1


def test_a_back_dated_pause_is_marked(as_staff, world):
    client = as_staff(world.therapist)
    client.post(url("pause_add", world), {"first_day": FIRST_DAY, "reason": "Away"})
    text = plan_text(client, world)
    assert "back-dated, entered" in text
    assert "no last day yet" in text


def test_a_wrong_pause_keeps_what_was_typed(as_staff, world):
    form = {"first_day": TODAY, "last_day": FIRST_DAY, "reason": "Keep me"}
    answer = as_staff(world.therapist).post(url("pause_add", world), form)
    assert answer.status_code == 422
    assert "end before it begins" in answer.content.decode()
    assert 'value="Keep me"' in answer.content.decode()
    assert not Pause.objects.exists()


def test_a_pause_is_ended(as_staff, world):
    client = as_staff(world.therapist)
    client.post(url("pause_add", world), {"first_day": FIRST_DAY, "reason": "Away"})
    pause = Pause.objects.get()
    client.post(url("pause_end", world, pause.pk), {"last_day": "2026-03-05"})
    pause.refresh_from_db()
    assert pause.last_day.isoformat() == "2026-03-05"
    page = client.post(url("pause_end", world, pause.pk), {"last_day": "2026-02-01"}, follow=True)
    assert "end before it begins" in page.content.decode()


def test_a_pause_is_struck_out_with_a_reason_and_stays_on_the_page(as_staff, world):
    client = as_staff(world.therapist)
    client.post(url("pause_add", world), {"first_day": TODAY, "reason": "Fever"})
    pause = Pause.objects.get()
    page = client.post(url("pause_strike", world, pause.pk), {"reason": ""}, follow=True)
    assert "Write why" in page.content.decode()
    client.post(url("pause_strike", world, pause.pk), {"reason": "Wrong patient"})
    text = plan_text(client, world)
    assert "struck out" in text
    assert "Wrong patient" in text
    assert "The plan is paused" not in text
    assert client.post(url("pause_strike", world, pause.pk), {"reason": "x"}).status_code == 404


def test_opening_the_plan_is_on_record(as_staff, world):
    as_staff(world.therapist).get(url("plan", world))
    row = AuditRow.objects.filter(verb="opened", patient=world.patient.pk).first()
    assert (row.user, row.subject) == (world.therapist, "plan")


@pytest.mark.parametrize("lines", [2, 12])
def test_the_page_asks_the_database_the_same_whatever_the_plan(
    as_staff, world, django_assert_num_queries, lines
):
    for _ in range(lines):
        issue(
            world.patient,
            world.therapist,
            lines=[{"exercise": "elbow_bend_sitting", "key": f"k{n}"} for n in range(lines)],
        )
    client = as_staff(world.therapist)
    client.get(url("plan", world))  # exercises are read once a process
    with django_assert_num_queries(PLAN_QUERIES):
        client.get(url("plan", world))
    latest = PlanVersion.objects.order_by("-number").first()
    with django_assert_num_queries(VERSION_QUERIES):
        client.get(url("plan_version", world, latest.pk))


PLAN_QUERIES = 16
VERSION_QUERIES = 16
