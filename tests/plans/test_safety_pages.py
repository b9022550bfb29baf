"""Precautions where plans are made: findings, what blocks an issue, overrides, withdrawals."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from clinic.actions import ActionRefused
from clinic.http import today_in
from clinic.models import AuditRow, ClinicProfile
from patients.motions import Side
from patients.precaution_actions import lift_precaution
from patients.precaution_models import Precaution
from plans import actions, safety_actions
from plans.models import Line, PlanVersion
from plans.queries import open_version, version_in_force, waiting_versions
from plans.safety_models import PrecautionOverride, Withdrawal
from plans.safety_queries import checked_line, safety_of, standing_overrides
from tests.plans.test_safety import HALF_A_DEGREE, LIMITED, WITH_POSES, poses_of
from tests.world import issue, make_line, make_world, stock

TODAY = today_in("Europe/London")
LIFT = "arm_lift_forward_lying"


def url(name, world, *args):
    return reverse(name, args=[world.patient.pk, *args])


def text_of(answer):
    return " ".join(answer.content.decode().split())


def limit(world, **fields):
    fields = {
        "kind": "angle",
        "side": "left",
        "motion": "shoulder_flexion",
        "limit_deg": 60,
        "from_day": TODAY - timedelta(days=7),
        "set_by": "Dr Mason Reed",
        "source": "letter of the surgeon",
        "recorded_by": world.therapist,
        "recorded_at": timezone.now(),
    } | fields
    if fields["kind"] != "angle":
        fields |= {"motion": fields.get("of", ""), "limit_deg": None}
    fields.pop("of", None)
    return Precaution.objects.create(patient=world.patient, **fields)


@pytest.fixture
def draft(world):
    return actions.start_draft(by=world.therapist, patient=world.patient, today=TODAY)


def lift_of(version):
    return version.lines.get(revision__exercise__key=LIFT)


def form(draft, **more):
    draft.refresh_from_db()
    return {
        "effective_day": TODAY.isoformat(),
        "pain_limit": "3",
        "seen_edits": draft.edits,
    } | more


def override_of(line, precaution, reason="The surgeon allows it, by telephone today"):
    return {f"override_{line.pk}_{precaution.pk}": reason}


def issue_over(world, draft, by=None, **more):
    return actions.issue_version(
        by=by or world.therapist,
        version=draft,
        today=TODAY,
        effective_day=TODAY,
        pain_limit=3,
        **more,
    )


class TestTheDraft:
    def test_a_finding_stands_beside_its_line_and_above_the_issue(self, as_staff, world, draft):
        limit(world)
        text = text_of(as_staff(world.therapist).get(url("draft", world)))
        assert text.count("At 3.0 s shoulder flexion is 88°, 28° beyond 60°.") == 2
        assert "Left shoulder flexion no further than 60°." in text
        assert "stopped at 60° of shoulder flexion" in text
        assert "A hard precaution blocks the issue." in text

    def test_without_precautions_nothing_is_said_of_them(self, as_staff, world, draft):
        text = text_of(as_staff(world.therapist).get(url("draft", world)))
        assert "precautions</h3>" not in text

    def test_an_advisory_one_is_shown_and_blocks_nothing(self, as_staff, world, draft):
        limit(world, is_hard=False)
        client = as_staff(world.therapist)
        assert "28° beyond 60°" in text_of(client.get(url("draft", world)))
        client.post(url("draft_issue", world), form(draft))
        assert version_in_force(world.patient, TODAY) == draft

    def test_a_stop_is_taken_and_the_patient_is_told_of_it(self, as_staff, world, draft):
        limit(world)
        line, client = lift_of(draft), as_staff(world.therapist)
        client.post(url("line_instead", world, line.pk), {"offer": "stop:shoulder_flexion:60"})
        text = text_of(client.get(url("draft", world)))
        assert "beyond 60°" not in text
        assert "Stop at 60° of shoulder flexion" in text
        client.post(url("draft_issue", world), form(draft))
        assert version_in_force(world.patient, TODAY) == draft
        sheet = client.get(reverse("sheet_web", args=[world.patient.pk, draft.pk]))
        told = "Only up to here: 60° at the shoulder, before the arm points to the ceiling."
        assert told in text_of(sheet)

    @pytest.mark.parametrize(
        ("offer", "fields"),
        [
            ("step:passive", {"step": "passive"}),
            ("orthosis:", {"orthosis": "on"}),
            ("exercise:table_slide_forward:passive", {"step": "passive", "unit": "repetitions"}),
        ],
    )
    def test_other_offers_are_taken_too(self, as_staff, world, draft, offer, fields):
        stock("table_slide_forward")
        line = lift_of(draft)
        as_staff(world.therapist).post(url("line_instead", world, line.pk), {"offer": offer})
        line.refresh_from_db()
        assert {name: getattr(line, name) for name in fields} == fields
        if offer.startswith("exercise"):
            assert line.revision.exercise.key == "table_slide_forward"
            assert line.key.startswith("table_slide_forward")

    @pytest.mark.parametrize(
        "offer", ["", "stop:hip_flexion:3", "step:heroic", "exercise:x:y", "stop:a:b:c"]
    )
    def test_an_offer_that_is_none_changes_nothing(self, as_staff, world, draft, offer):
        line = lift_of(draft)
        before = actions.line_fields(line)
        said = as_staff(world.therapist).post(
            url("line_instead", world, line.pk), {"offer": offer}, follow=True
        )
        assert "no longer on offer" in text_of(said)
        line.refresh_from_db()
        assert actions.line_fields(line) == before

    def test_what_the_model_can_not_check_is_confirmed_by_a_person(self, as_staff, world, draft):
        limit(world)
        draft.lines.all().delete()
        care = make_line(draft, "scar_care", unit="minutes")
        client = as_staff(world.therapist)
        assert "Not checked by the model" in text_of(client.get(url("draft", world)))
        refused = client.post(url("draft_issue", world), form(draft))
        assert "Confirm that Scar massage" in text_of(refused)
        assert refused.status_code == 422
        client.post(url("draft_issue", world), form(draft, **{f"confirm_{care.pk}": "on"}))
        assert version_in_force(world.patient, TODAY) == draft
        confirmed = AuditRow.objects.get(verb="confirmed unchecked lines")
        assert confirmed.detail["lines"] == [care.key]


class TestTheEasierStep:
    def test_it_is_checked_as_soon_as_the_patient_may_do_it(self, as_staff, world, draft):
        limit(world, kind="position", position="lying_side")
        line = lift_of(draft)
        assert not safety_of(draft, [line], TODAY).blocking
        actions.change_line(by=world.therapist, line=line, changes={"easier_allowed": True})
        [stood] = safety_of(draft, [line], TODAY).blocking
        assert stood.finding.words.startswith("In the easier step: ")
        with pytest.raises(ActionRefused):
            actions.issue_version(
                by=world.therapist,
                version=draft,
                today=TODAY,
                effective_day=TODAY,
                pain_limit=5,
            )
        page = text_of(as_staff(world.therapist).get(url("draft", world)))
        assert "May do the easier step: gravity-reduced" in page

    def test_the_form_gives_and_takes_the_leave_and_names_the_step(self, as_staff, world, draft):
        line = lift_of(draft)
        client = as_staff(world.therapist)
        page = text_of(client.get(f"{url('draft', world)}?open={line.pk}"))
        assert "May do the easier step: gravity-reduced" in page
        fields = {
            "step": line.step,
            "side": "left",
            "sets": 2,
            "amount_low": 8,
            "amount_high": 10,
            "days": list(range(7)),
            "sessions_per_day": 2,
        }
        to = url("line_change", world, line.pk)
        client.post(to, fields | {"easier_allowed": "on"})
        assert lift_of(draft).easier_allowed
        client.post(to, fields)
        assert not lift_of(draft).easier_allowed
        answer = client.post(to, fields | {"step": "passive", "easier_allowed": "on"})
        assert "there is no easier one" in text_of(answer)


class TestOverrides:
    def test_a_hard_finding_blocks_the_issue_and_what_was_typed_is_kept(
        self, as_staff, world, draft
    ):
        precaution = limit(world)
        other = limit(world, kind="bearing")
        client = as_staff(world.therapist)
        refused = client.post(url("draft_issue", world), form(draft, change_sentence="Higher now."))
        assert refused.status_code == 422
        text = text_of(refused)
        assert "28° beyond 60°. Precaution: left shoulder flexion no further than 60°." in text
        assert 'value="Higher now."' in text
        assert version_in_force(world.patient, TODAY) == world.version
        assert f"override_{lift_of(draft).pk}_{precaution.pk}" in text
        assert f"override_{lift_of(draft).pk}_{other.pk}" not in text

    def test_a_therapists_reason_is_kept_with_the_evidence_and_waits(self, as_staff, world, draft):
        precaution, line = limit(world), lift_of(draft)
        client = as_staff(world.therapist)
        client.post(url("draft_issue", world), form(draft, **override_of(line, precaution)))
        draft.refresh_from_db()
        assert draft.state == PlanVersion.State.WAITING
        assert version_in_force(world.patient, TODAY) == world.version
        override = PrecautionOverride.objects.get()
        assert (override.made_by, override.role) == (world.therapist, "therapist")
        assert (override.line_key, override.precaution) == (line.key, precaution)
        assert override.reason == "The surgeon allows it, by telephone today"
        assert override.evidence[0]["words"].endswith("28° beyond 60°.")
        assert [waiting.overridden for waiting in waiting_versions()] == [[override]]
        assert AuditRow.objects.filter(verb="overrode precaution").exists()
        # Not printed before it is signed.
        assert client.get(url("sheet", world, draft.pk)).status_code != 200

    def test_a_supervisor_sees_it_signs_it_and_then_it_counts(self, as_staff, world, draft):
        precaution, line = limit(world), lift_of(draft)
        about = {(line.key, precaution.pk): "Allowed by the surgeon"}
        issue_over(world, draft, overrides=about)
        client = as_staff(world.supervisor)
        text = text_of(client.get(url("plan_version", world, draft.pk)))
        assert "Thea Therapist: “Allowed by the surgeon”" in text
        listed = text_of(client.get(reverse("caseload")))
        assert '“Allowed by the surgeon” <span class="quiet">(Thea Therapist)' in listed
        client.post(url("version_sign", world, draft.pk))
        assert version_in_force(world.patient, TODAY) == draft
        assert "Allowed by the surgeon" not in text_of(client.get(reverse("caseload")))
        text = text_of(client.get(url("plan", world)))
        assert "overridden" in text
        assert "A hard precaution stands against" not in text

    def test_a_supervisors_own_override_waits_for_another(self, world, draft):
        precaution, line = limit(world), lift_of(draft)
        about = {(line.key, precaution.pk): "Allowed"}
        waiting = issue_over(world, draft, by=world.supervisor, overrides=about)
        assert waiting.state == PlanVersion.State.WAITING
        with pytest.raises(ActionRefused, match="Nobody signs their own"):
            actions.sign_version(by=world.supervisor, version=waiting, today=TODAY)

    @pytest.mark.parametrize("clinic_lets_them", [True, False])
    def test_a_student_can_not(self, as_staff, world, draft, clinic_lets_them):
        ClinicProfile.objects.update(students_need_signature=not clinic_lets_them)
        precaution, line = limit(world), lift_of(draft)
        client = as_staff(world.student)
        assert "ask a therapist or a supervisor" in text_of(client.get(url("draft", world)))
        refused = client.post(
            url("draft_issue", world), form(draft, **override_of(line, precaution))
        )
        assert refused.status_code == 422
        assert "ask a therapist or a supervisor" in text_of(refused)
        assert not PrecautionOverride.objects.exists()

    def test_a_reason_of_blanks_is_none(self, world, draft):
        precaution, line = limit(world), lift_of(draft)
        with pytest.raises(ActionRefused, match="write why"):
            issue_over(world, draft, overrides={(line.key, precaution.pk): "  "})

    def test_a_precaution_set_while_it_waits_holds_up_the_signature(self, world, draft):
        precaution, line = limit(world), lift_of(draft)
        about = {(line.key, precaution.pk): "Allowed"}
        issue_over(world, draft, overrides=about)
        later = limit(world, limit_deg=30)
        with pytest.raises(ActionRefused, match="nobody overrode"):
            actions.sign_version(by=world.supervisor, version=draft, today=TODAY)
        lift_precaution(by=world.therapist, precaution=later, why="A slip of the pen")
        actions.sign_version(by=world.supervisor, version=draft, today=TODAY)

    def test_one_that_is_lifted_blocks_nothing_one_past_its_review_does(self, world, draft):
        past = limit(world, until_day=TODAY - timedelta(days=1))
        with pytest.raises(ActionRefused, match="60°"):
            issue_over(world, draft)
        lift_precaution(by=world.therapist, precaution=past, why="Cleared")
        assert issue_over(world, draft).state == PlanVersion.State.ISSUED

    def test_one_that_begins_before_the_plan_does_blocks_it(self, world, draft):
        limit(world, from_day=TODAY + timedelta(days=3))
        later = {"today": TODAY, "pain_limit": 3, "by": world.therapist, "version": draft}
        with pytest.raises(ActionRefused, match="60°"):
            actions.issue_version(effective_day=TODAY + timedelta(days=3), **later)
        assert actions.issue_version(effective_day=TODAY + timedelta(days=2), **later)

    def test_an_override_never_changes(self, world, draft):
        precaution, line = limit(world), lift_of(draft)
        issue_over(world, draft, overrides={(line.key, precaution.pk): "Allowed"})
        with pytest.raises(IntegrityError, match="never changes"), transaction.atomic():
            PrecautionOverride.objects.update(reason="Something else")


class TestAfterTheIssue:
    def test_a_precaution_set_later_shows_on_the_plan(self, as_staff, world):
        client = as_staff(world.therapist)
        assert "issued before this precaution" not in text_of(client.get(url("plan", world)))
        limit(world)
        text = text_of(client.get(url("plan", world)))
        assert "issued before this precaution" in text
        assert "A hard precaution stands against 1 line of the plan in force." in text


class TestWithdrawing:
    def test_a_line_is_out_from_today_and_the_patient_is_to_be_rung(self, as_staff, world):
        line, client = lift_of(world.version), as_staff(world.therapist)
        form = {"line_key": line.key, "reason": "New letter from the surgeon"}
        client.post(url("withdraw", world), form)
        now = version_in_force(world.patient, TODAY)
        assert (now.effective_day, now.state) == (TODAY, PlanVersion.State.ISSUED)
        assert [each.key for each in now.lines.all()] == ["elbow_bend_sitting-left"]
        assert not now.needs_signature
        text = text_of(client.get(url("plan", world)))
        assert "Ring the patient: the paper sheet is still out." in text
        assert "New letter from the surgeon" in text
        withdrawal = Withdrawal.objects.get()
        told = url("withdrawal_told", world, withdrawal.pk)
        assert "Write how the patient was told" in text_of(client.post(told, follow=True))
        client.post(told, {"how": "By telephone; the sheet is crossed out"})
        assert "Ring the patient" not in text_of(client.get(url("plan", world)))
        withdrawal.refresh_from_db()
        assert withdrawal.told_by == world.therapist
        with pytest.raises(IntegrityError, match="never changes"), transaction.atomic():
            Withdrawal.objects.update(told_how="By letter")

    def test_even_by_a_student_and_without_a_signature(self, as_staff, world):
        line = lift_of(world.version)
        as_staff(world.student).post(
            url("withdraw", world), {"line_key": line.key, "reason": "It hurts at night"}
        )
        assert lift_gone(version_in_force(world.patient, TODAY))

    def test_the_whole_plan(self, as_staff, world):
        client = as_staff(world.therapist)
        client.post(url("withdraw", world), {"reason": "Suspected clot"})
        assert not version_in_force(world.patient, TODAY).lines.exists()
        text = text_of(client.get(url("plan", world)))
        assert "withdrew the whole plan" in text
        again = client.post(url("withdraw", world), {"reason": "Suspected clot"}, follow=True)
        assert "There is no plan to withdraw." in text_of(again)

    def test_a_plan_to_come_loses_the_line_too_and_still_comes(self, world):
        later = TODAY + timedelta(days=5)
        issue(
            world.patient,
            world.therapist,
            day=later,
            lines=[{"exercise": LIFT}, {"exercise": "elbow_bend_sitting", "sets": 3}],
        )
        key = lift_of(world.version).key
        withdraw(world, key)
        assert lift_gone(version_in_force(world.patient, TODAY))
        coming = version_in_force(world.patient, later)
        assert (coming.effective_day, [line.sets for line in coming.lines.all()]) == (later, [3])

    def test_an_open_draft_stays_open_after_it_without_the_line(self, world, draft):
        withdraw(world, lift_of(world.version).key)
        draft.refresh_from_db()
        assert draft.number > version_in_force(world.patient, TODAY).number
        assert lift_gone(draft)
        issue_over(world, draft)
        assert version_in_force(world.patient, TODAY) == draft

    def test_what_waits_for_a_signature_goes_back(self, world, draft):
        issue_over(world, draft, by=world.student)
        withdraw(world, lift_of(world.version).key)
        back = open_version(world.patient)
        assert back.state == PlanVersion.State.DRAFT
        assert "Withdrawn meanwhile: Arm lift" in back.sent_back_note
        assert lift_gone(back)

    def test_overrides_of_the_lines_that_stay_are_carried_over(self, world, draft):
        precaution, line = limit(world), lift_of(draft)
        issue_over(world, draft, overrides={(line.key, precaution.pk): "Allowed"})
        actions.sign_version(by=world.supervisor, version=draft, today=TODAY)
        withdraw(world, "elbow_bend_sitting-left")
        [carried] = standing_overrides(version_in_force(world.patient, TODAY))
        assert (carried.reason, carried.made_by) == ("Allowed", world.therapist)
        assert carried.evidence[-1]["carried_over_from"] == "version 2"

    def test_not_without_a_reason_nor_of_a_line_that_is_not_there(self, as_staff, world):
        with pytest.raises(ActionRefused, match="Write why"):
            withdraw(world, lift_of(world.version).key, reason=" ")
        with pytest.raises(ActionRefused, match="no longer in the plan"):
            withdraw(world, "knee_bend")
        client = as_staff(world.outsider)
        assert client.post(url("withdraw", world), {"reason": "x"}).status_code == 404


def withdraw(world, key, reason="New letter from the surgeon"):
    return safety_actions.withdraw(
        by=world.therapist, patient=world.patient, line_key=key, reason=reason, today=TODAY
    )


def lift_gone(version):
    return not Line.objects.filter(version=version, revision__exercise__key=LIFT).exists()


class TestWhatIsIssued(TestCase):
    """Random plans through the whole issue: poses sampled apart from the checks."""

    def setUp(self):
        self.world = make_world()

    @settings(
        max_examples=25, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
    )
    @given(
        steps=st.lists(
            st.sampled_from(WITH_POSES), min_size=1, max_size=3, unique_by=lambda s: s[0]
        ),
        limits=st.lists(
            st.tuples(st.sampled_from(LIMITED), st.integers(-20, 100), st.booleans()),
            min_size=1,
            max_size=4,
        ),
        reasons=st.booleans(),
        times=st.lists(st.floats(0, 1), min_size=15, max_size=15),
    )
    def test_no_pose_is_outside_a_hard_limit_but_one_overridden_on_record(
        self, steps, limits, reasons, times
    ):
        world = self.world
        helper = world.patient.home_helpers.create(name="Ida Quill")
        draft = actions.new_draft(by=world.therapist, patient=world.patient)
        for exercise, step in steps:
            line = make_line(draft, exercise, step=step, home_helper=helper, key=exercise)
            means = checked_line(line).means
            load = {"load_means": means, "load_g": 500} if means else {}
            Line.objects.filter(pk=line.pk).update(**load)
        precautions = [
            limit(world, motion=motion, limit_deg=deg, is_hard=is_hard)
            for motion, deg, is_hard in limits
        ]
        about = {(key, each.pk): "Allowed" for key, _ in steps for each in precautions}
        confirmed = [key for key, _ in steps]
        try:
            issued = issue_over(
                world, draft, overrides=about if reasons else {}, confirmed=confirmed
            )
        except ActionRefused:
            assert not reasons
            return
        overridden = {(each.line_key, each.precaution_id) for each in standing_overrides(issued)}
        assert (issued.state == PlanVersion.State.WAITING) == bool(overridden)
        for line in issued.lines.all():
            angles = poses_of(checked_line(line), times)
            for each in precautions:
                is_outside = (angles[each.motion] > each.limit_deg + HALF_A_DEGREE).any()
                if is_outside and each.is_hard and each.limit.concerns(Side.LEFT):
                    assert (line.key, each.pk) in overridden
