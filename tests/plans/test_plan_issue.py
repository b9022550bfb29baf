"""Issuing a draft; the countersignature of what a student issued."""

from datetime import timedelta

import pytest
from django.urls import reverse

from clinic.http import today_in
from clinic.models import AuditRow, ClinicProfile
from plans import actions
from plans.models import PlanVersion
from plans.queries import version_in_force

TODAY = today_in("Europe/London")


@pytest.fixture
def draft(world):
    return actions.start_draft(by=world.therapist, patient=world.patient, today=TODAY)


def url(name, world, *args):
    return reverse(name, args=[world.patient.pk, *args])


def form(draft, **changes):
    draft.refresh_from_db()
    return {
        "effective_day": TODAY.isoformat(),
        "pain_limit": "3",
        "change_sentence": "One set more.",
        "seen_edits": draft.edits,
    } | changes


def test_a_therapists_draft_is_issued_from_its_day(as_staff, world, draft):
    client = as_staff(world.therapist)
    answer = client.post(url("draft_issue", world), form(draft))
    assert answer["Location"] == url("plan", world)
    issued = version_in_force(world.patient, TODAY)
    assert (issued.number, issued.pain_limit, issued.issued_by) == (2, 3, world.therapist)
    assert issued.change_sentence == "One set more."
    assert "Version 2 is issued." in client.get(url("plan", world)).content.decode()
    audit = AuditRow.objects.filter(verb="issued plan", patient=world.patient.pk)
    assert audit.first().subject == "version 2"


def test_a_later_day_leaves_todays_plan_in_force(as_staff, world, draft):
    later = TODAY + timedelta(days=2)
    as_staff(world.therapist).post(
        url("draft_issue", world), form(draft, effective_day=later.isoformat())
    )
    assert version_in_force(world.patient, TODAY) == world.version
    assert version_in_force(world.patient, later) == draft


def test_a_day_gone_by_is_refused_and_what_was_typed_is_kept(as_staff, world, draft):
    yesterday = TODAY - timedelta(days=1)
    answer = as_staff(world.therapist).post(
        url("draft_issue", world), form(draft, effective_day=yesterday.isoformat())
    )
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "begin before today" in text
    assert 'value="One set more."' in text
    draft.refresh_from_db()
    assert draft.state == PlanVersion.State.DRAFT


def test_a_draft_that_changed_meanwhile_is_looked_through_again(as_staff, world, draft):
    seen = form(draft)
    actions.change_line(by=world.student, line=draft.lines.first(), changes={"sets": 9})
    client = as_staff(world.therapist)
    answer = client.post(url("draft_issue", world), seen)
    assert answer.status_code == 422
    assert "changed since you opened it" in answer.content.decode()
    assert "9 × 8–10" in answer.content.decode()
    # The page that says so shows the draft as it stands: from there it can be issued.
    draft.refresh_from_db()
    assert f'name="seen_edits" form="issue" value="{draft.edits}"' in answer.content.decode()
    assert client.post(url("draft_issue", world), form(draft)).status_code == 302


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"pain_limit": "11"}, "less than or equal to 10"),
        ({"pain_limit": ""}, "This field is required."),
        ({"effective_day": "soon"}, "Enter a valid date."),
    ],
)
def test_a_wrong_issue_form_says_what_is_wrong(as_staff, world, draft, changes, words):
    answer = as_staff(world.therapist).post(url("draft_issue", world), form(draft, **changes))
    assert answer.status_code == 422
    assert words in answer.content.decode()


def test_an_empty_draft_ends_the_plan_only_when_that_is_ticked(as_staff, world, draft):
    draft.lines.all().delete()
    client = as_staff(world.therapist)
    answer = client.post(url("draft_issue", world), form(draft))
    assert answer.status_code == 422
    assert "tick that the plan ends" in answer.content.decode()
    assert "This ends the plan" in answer.content.decode()
    client.post(url("draft_issue", world), form(draft, ends_plan="on"))
    assert version_in_force(world.patient, TODAY) == draft
    assert "The plan has ended" in client.get(url("plan", world)).content.decode()


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"step": "resisted", "load_means": "held"}, "choose the weight first"),
        ({"step": "passive"}, "name the helper first"),
    ],
)
def test_a_line_that_lacks_something_is_not_issued(as_staff, world, draft, fields, words):
    exercise = "elbow_bend_sitting" if "load_means" in fields else "arm_lift_forward_lying"
    draft.lines.filter(revision__exercise__key=exercise).update(**fields)
    answer = as_staff(world.therapist).post(url("draft_issue", world), form(draft))
    assert answer.status_code == 422
    assert words in answer.content.decode()


def test_the_draft_says_what_it_changes(as_staff, world, draft):
    draft.lines.update(step="gravity_reduced")
    text = as_staff(world.therapist).get(url("draft", world)).content.decode()
    assert "What changes against version 1: 2 changes" in text
    assert "<ins>gravity-reduced</ins>" in text


def test_the_minutes_are_called_an_estimate(as_staff, world, draft):
    text = as_staff(world.therapist).get(url("draft", world)).content.decode()
    assert "min</strong> for the longest session" in text
    assert "an estimate" in text


def student_issues(client_of, world, draft):
    client_of(world.student).post(url("draft_issue", world), form(draft))
    draft.refresh_from_db()
    return draft


def test_what_a_student_issues_waits_and_the_plan_in_force_stays(as_staff, world, draft):
    text = as_staff(world.student).get(url("draft", world)).content.decode()
    assert "Issue for a signature" in text
    waiting = student_issues(as_staff, world, draft)
    assert waiting.state == PlanVersion.State.WAITING
    assert version_in_force(world.patient, TODAY) == world.version
    text = as_staff(world.student).get(url("plan", world)).content.decode()
    assert "waits for a countersignature" in text
    answer = as_staff(world.student).get(url("draft", world))
    assert answer["Location"] == url("plan_version", world, waiting.pk)
    again = as_staff(world.student).post(url("draft_start", world), follow=True)
    assert "Have it signed or sent back first." in again.content.decode()


def test_a_clinic_may_let_students_issue_by_themselves(as_staff, world, draft):
    ClinicProfile.objects.update(students_need_signature=False)
    assert student_issues(as_staff, world, draft).state == PlanVersion.State.ISSUED


def test_a_supervisor_signs(as_staff, world, draft):
    waiting = student_issues(as_staff, world, draft)
    client = as_staff(world.supervisor)
    text = client.get(url("plan_version", world, waiting.pk)).content.decode()
    assert "Sign version 2" in text
    answer = client.post(url("version_sign", world, waiting.pk))
    assert answer["Location"] == url("plan", world)
    assert version_in_force(world.patient, TODAY) == waiting
    waiting.refresh_from_db()
    assert waiting.signed_by == world.supervisor
    text = client.get(url("plan_version", world, waiting.pk)).content.decode()
    assert "Sue Supervisor, " in text


def test_a_supervisor_sends_back_with_a_note_that_stands_on_the_draft(as_staff, world, draft):
    waiting = student_issues(as_staff, world, draft)
    client = as_staff(world.supervisor)
    empty = client.post(url("version_send_back", world, waiting.pk), {"note": " "})
    assert empty.status_code == 422
    client.post(url("version_send_back", world, waiting.pk), {"note": "Fewer sets, please."})
    waiting.refresh_from_db()
    assert waiting.state == PlanVersion.State.DRAFT
    text = as_staff(world.student).get(url("draft", world)).content.decode()
    assert "Fewer sets, please." in text
    text = as_staff(world.student).get(url("plan", world)).content.decode()
    assert "Fewer sets, please." in text


@pytest.mark.parametrize("role", ["therapist", "student"])
def test_only_a_supervisor_signs_or_sends_back(as_staff, world, draft, role):
    waiting = student_issues(as_staff, world, draft)
    client = as_staff(getattr(world, role))
    text = client.get(url("plan_version", world, waiting.pk)).content.decode()
    assert "Sign version 2" not in text
    for name in ("version_sign", "version_send_back"):
        page = client.post(url(name, world, waiting.pk), {"note": "No"}, follow=True)
        assert "Only a supervisor can" in page.content.decode()
    waiting.refresh_from_db()
    assert waiting.state == PlanVersion.State.WAITING


def test_a_version_signed_already_is_not_signed_twice(as_staff, world, draft):
    waiting = student_issues(as_staff, world, draft)
    client = as_staff(world.supervisor)
    client.post(url("version_sign", world, waiting.pk))
    page = client.post(url("version_sign", world, waiting.pk), follow=True)
    assert "no longer waits" in page.content.decode()
