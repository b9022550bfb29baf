"""Drafting, issuing, signing, sending back, pausing: what each verb does and refuses."""

from datetime import date, timedelta

import pytest

from clinic.actions import ActionRefused
from clinic.models import AuditRow, ClinicProfile
from patients.motions import Effort
from plans import actions
from plans.models import PlanVersion
from plans.queries import current_revision, open_version, schedule_of, version_in_force
from plans.schedule import Window, occasions
from tests.world import EXERCISES, FIRST_DAY

TODAY = date(2026, 4, 6)


def draft_of(world, by=None):
    return actions.start_draft(by=by or world.therapist, patient=world.patient, today=TODAY)


def issue(world, draft, by=None, **changes):
    fields = {"today": TODAY, "effective_day": TODAY, "pain_limit": 5} | changes
    return actions.issue_version(by=by or world.therapist, version=draft, **fields)


def test_a_draft_starts_from_the_plan_in_force_and_keeps_its_keys(world):
    draft = draft_of(world)
    assert draft.number == 2
    assert [line.key for line in draft.lines.all()] == [
        line.key for line in world.version.lines.all()
    ]
    assert draft.pain_limit == world.version.pain_limit
    assert draft_of(world) == draft  # a second start returns the same


def test_issuing_leaves_the_earlier_version_as_it_was_and_counts_from_its_day(world):
    draft = draft_of(world)
    actions.change_line(by=world.therapist, line=draft.lines.first(), changes={"sets": 3})
    issue(world, draft, effective_day=TODAY + timedelta(days=2))
    assert version_in_force(world.patient, TODAY).number == 1
    assert version_in_force(world.patient, TODAY + timedelta(days=2)).number == 2
    assert world.version.lines.first().sets == 1


def test_another_side_makes_another_line(world):
    draft = draft_of(world)
    line = draft.lines.first()
    before = line.key
    actions.change_line(by=world.therapist, line=line, changes={"sets": 2})
    assert line.key == before
    actions.change_line(by=world.therapist, line=line, changes={"side": "right"})
    assert line.key == f"{EXERCISES[0]}-right"
    actions.change_line(by=world.therapist, line=line, changes={"side": "left"})
    assert line.key == f"{EXERCISES[0]}-left-2"  # the first one's entries are not this line's


def test_a_new_line_comes_with_the_usual_dose_of_its_exercise(world):
    draft = draft_of(world)
    usual = actions.usual_line(
        revision=current_revision(EXERCISES[0]), effort=Effort.ACTIVE, side="left"
    )
    line = actions.add_line(by=world.therapist, version=draft, line=usual)
    assert (line.amount_low, line.amount_high, line.step) == (8, 10, "active")
    assert line.position == 2
    assert line.key == f"{EXERCISES[0]}-left-2"


def test_a_plan_cannot_begin_in_the_past(world):
    with pytest.raises(ActionRefused, match="before today"):
        issue(world, draft_of(world), effective_day=TODAY - timedelta(days=1))


def test_an_issue_of_a_draft_that_changed_meanwhile_is_refused(world):
    draft = draft_of(world)
    seen = draft.edits
    actions.move_line(by=world.therapist, line=draft.lines.first(), places=1)
    with pytest.raises(ActionRefused, match="changed since you opened it"):
        issue(world, draft, seen_edits=seen)
    assert open_version(world.patient).state == PlanVersion.State.DRAFT


def test_what_a_student_issues_waits_and_makes_nothing_due_until_signed(world):
    draft = draft_of(world, world.student)
    issue(world, draft, by=world.student)
    assert draft.state == PlanVersion.State.WAITING
    assert version_in_force(world.patient, TODAY).number == 1
    later = TODAY + timedelta(days=3)
    actions.sign_version(by=world.supervisor, version=draft, today=later)
    assert version_in_force(world.patient, later - timedelta(days=1)).number == 1
    assert version_in_force(world.patient, later).number == 2
    assert AuditRow.objects.filter(user=world.supervisor, verb="signed version").count() == 1


def test_a_clinic_may_do_without_signatures(world):
    ClinicProfile.objects.update(students_need_signature=False)
    draft = issue(world, draft_of(world, world.student), by=world.student)
    assert draft.state == PlanVersion.State.ISSUED


def test_a_version_sent_back_is_a_draft_again_with_the_note(world):
    draft = issue(world, draft_of(world, world.student), by=world.student)
    with pytest.raises(ActionRefused, match="what to change"):
        actions.send_back(by=world.supervisor, version=draft, note=" ")
    actions.send_back(by=world.supervisor, version=draft, note="Fewer sets in week one.")
    again = draft_of(world, world.student)
    assert (again.pk, again.sent_back_note) == (draft.pk, "Fewer sets in week one.")
    issue(world, again, by=world.student)
    assert again.sent_back_note == ""


@pytest.mark.parametrize("who", ["therapist", "student", "administrator"])
def test_only_a_supervisor_signs(world, who):
    draft = issue(world, draft_of(world, world.student), by=world.student)
    with pytest.raises(ActionRefused, match="Only a supervisor"):
        actions.sign_version(by=getattr(world, who), version=draft, today=TODAY)


def test_no_draft_starts_while_one_waits(world):
    issue(world, draft_of(world, world.student), by=world.student)
    with pytest.raises(ActionRefused, match="waits for a countersignature"):
        draft_of(world)


def test_an_issued_version_is_no_draft(world):
    with pytest.raises(ActionRefused, match="no longer a draft"):
        actions.remove_line(by=world.therapist, line=world.version.lines.first())


def test_moving_lines_keeps_their_order_whole(world):
    draft = draft_of(world)
    first, second = draft.lines.all()
    actions.move_line(by=world.therapist, line=second, places=-1)
    assert [line.pk for line in draft.lines.all()] == [second.pk, first.pk]
    actions.move_line(by=world.therapist, line=second, places=-5)
    assert [line.pk for line in draft.lines.all()] == [second.pk, first.pk]


def test_a_version_without_lines_ends_the_plan(world):
    draft = draft_of(world)
    for line in draft.lines.all():
        actions.remove_line(by=world.therapist, line=line)
    issue(world, draft)
    due = due_days(world)
    assert TODAY - timedelta(days=1) in due
    assert TODAY not in due


def test_a_pause_makes_nothing_due_until_it_is_struck(world):
    day = FIRST_DAY + timedelta(days=3)
    pause = actions.add_pause(
        by=world.therapist,
        patient=world.patient,
        first_day=day,
        last_day=day,
        reason="Travels",
        today=TODAY,
    )
    assert day not in due_days(world)
    assert schedule_of(world.patient).pauses[0].is_back_dated
    with pytest.raises(ActionRefused, match="Write why"):
        actions.strike_pause(by=world.therapist, pause=pause, reason="")
    actions.strike_pause(by=world.therapist, pause=pause, reason="Wrong patient")
    assert day in due_days(world)


def test_a_pause_runs_forwards(world):
    with pytest.raises(ActionRefused, match="before it begins"):
        actions.add_pause(
            by=world.therapist,
            patient=world.patient,
            first_day=TODAY,
            last_day=TODAY - timedelta(days=1),
            reason="",
            today=TODAY,
        )


def due_days(world):
    schedule = schedule_of(world.patient)
    window = Window(FIRST_DAY, TODAY + timedelta(days=7))
    return {occasion.day for occasion in occasions(schedule.versions, schedule.pauses, window)}


def test_leave_to_do_the_easier_step_is_given_for_one_step(world):
    draft = draft_of(world)
    line = draft.lines.first()

    def change(**changes):
        actions.change_line(by=world.therapist, line=line, changes=changes)
        line.refresh_from_db()
        return line.easier_allowed

    assert change(easier_allowed=True)
    assert change(sets=3)
    assert not change(step="gravity_reduced")
    assert change(step="active", easier_allowed=True)
    assert not change(step="passive", easier_allowed=True)  # nothing is below it
    assert actions.line_fields(line)["easier_allowed"] is False


def test_the_easier_step_goes_into_the_next_version_and_into_the_schedule(world):
    draft = draft_of(world)
    line = draft.lines.first()
    actions.change_line(by=world.therapist, line=line, changes={"easier_allowed": True})
    issue(world, draft)
    latest = schedule_of(world.patient).versions[-1]
    assert [line.easier for line in latest.lines] == [Effort.GRAVITY_REDUCED, None]
    assert [line.easier_allowed for line in draft_of(world).lines.all()] == [True, False]
