"""Proposals for one patient: the latest word on each motion, both sides, and how they read."""

from datetime import date

import pytest
from django.template.loader import render_to_string
from django.urls import reverse

from patients.assessment_actions import Measures, record_assessment
from patients.assessment_rows import motions_of
from patients.measures_models import Assessment, MotionMeasure
from patients.motions import Effort, Joint, Side
from plans.actions import new_draft
from plans.catalogue_actions import stock_catalogue
from plans.plan_page import shown_line
from plans.queries import searchable_exercises
from plans.start_queries import known_of
from tests.patients.measuring import typed
from tests.world import make_line, shipped_exercises

LIFT = "arm_lift_forward_lying"

TODAY = date(2026, 4, 6)


def assess(world, day, rows, **more):
    """Record grades: (motion, side, grade or reason)."""
    measures = []
    for motion, side, said in rows:
        is_grade = said[0].isdigit()
        measures.append(
            MotionMeasure(
                motion=motion,
                side=side,
                method="goniometer",
                grade=said if is_grade else "",
                grade_rank=9 if is_grade else None,
                grade_not_tested="" if is_grade else said,
            )
        )
    return record_assessment(
        by=world.therapist,
        patient=world.patient,
        assessment=Assessment(
            measured_day=date.fromisoformat(day), measured_by=world.therapist, **more
        ),
        measures=Measures(motions=measures),
        today=date(2026, 12, 1),
    )


def start(world, side=Side.LEFT, key=LIFT):
    return known_of(world.patient, TODAY).proposal(shipped_exercises()[key], side)


def test_the_latest_word_on_each_motion_counts(world):
    assess(world, "2026-03-02", [("shoulder_flexion", "left", "2")])
    assert start(world).effort is Effort.GRAVITY_REDUCED
    assess(world, "2026-04-02", [("elbow_flexion", "left", "4")])
    assert start(world).effort is Effort.GRAVITY_REDUCED
    assess(world, "2026-05-02", [("shoulder_flexion", "left", "3")])
    assert start(world).effort is Effort.ACTIVE
    # Not tested any more is an answer too: then there is no grade.
    assess(world, "2026-06-02", [("shoulder_flexion", "left", "not_allowed")])
    assert start(world).effort is Effort.PASSIVE
    assert "not graded (not allowed yet)" in start(world).reason


def test_a_corrected_assessment_no_longer_counts(world):
    wrong = assess(world, "2026-03-02", [("shoulder_flexion", "left", "4")])
    assert start(world).effort is Effort.RESISTED
    assess(
        world,
        "2026-03-02",
        [("shoulder_flexion", "left", "2")],
        supersedes=wrong,
        correction_reason="read off the wrong arm",
    )
    assert start(world).effort is Effort.GRAVITY_REDUCED


def test_each_side_has_its_own_start_and_both_take_the_weaker(world):
    rows = [("shoulder_flexion", "left", "2"), ("shoulder_flexion", "right", "5")]
    assess(world, "2026-03-02", rows)
    assert start(world, Side.RIGHT).effort is Effort.RESISTED
    assert start(world, Side.BOTH).effort is Effort.GRAVITY_REDUCED
    assess(world, "2026-04-02", [("shoulder_flexion", "right", "pain")])
    assert start(world, Side.BOTH).effort is Effort.PASSIVE


def test_the_latest_pain_on_movement_counts(world):
    assess(world, "2026-03-02", [("shoulder_flexion", "left", "4")], pain_on_movement=7)
    assert start(world).effort is Effort.ACTIVE
    assess(world, "2026-04-02", [], pain_at_rest=1)
    assert start(world).effort is Effort.ACTIVE
    assess(world, "2026-05-02", [], pain_on_movement=3)
    assert start(world).effort is Effort.RESISTED


def test_three_queries_however_much_was_assessed(world, django_assert_num_queries):
    for day in ("2026-03-02", "2026-04-02", "2026-05-02"):
        grades = [(motion, "left", "3") for joint in Joint for motion in motions_of(joint)]
        assess(world, day, grades)
    with django_assert_num_queries(3):
        known = known_of(world.patient, TODAY)
    with django_assert_num_queries(0):
        assert known.proposal(shipped_exercises()[LIFT], Side.LEFT).effort is Effort.ACTIVE


def test_the_words_on_the_page(world):
    assess(world, "2026-03-02", [("shoulder_flexion", "left", "2")])
    context = {
        "known": known_of(world.patient, TODAY),
        "patient": world.patient,
        "exercise": shipped_exercises()[LIFT],
    }
    html = " ".join(render_to_string("plans/_proposal.html", context).split())
    assert "<strong>Start gravity-reduced.</strong> Shoulder flexors 2: lying on the side" in html
    assert "Assessed Mon 2 Mar 2026." in html
    assert "<strong>Active: no.</strong> Shoulder flexors 2: lying on the back" in html
    assert render_to_string("plans/_proposal.html", context | {"known": None}).strip() == ""


@pytest.mark.parametrize(("step", "flagged"), [("active", True), ("gravity_reduced", False)])
def test_a_line_against_the_assessment_is_flagged(world, step, flagged):
    assess(world, "2026-03-02", [("shoulder_flexion", "left", "2")])
    line = make_line(new_draft(by=world.therapist, patient=world.patient), LIFT, step=step)
    context = {"known": known_of(world.patient, TODAY), "item": shown_line(line)}
    html = render_to_string("plans/_start_flag.html", context)
    assert ("against the assessment" in html) is flagged
    assert ("100 % of holding the arm straight out" in html) is flagged


def test_every_exercise_of_the_catalogue_has_a_start(world):
    stock_catalogue(by=None, exercises=list(shipped_exercises().values()))
    known = known_of(world.patient, TODAY)
    for entry in searchable_exercises():
        found = known.proposal(entry.exercise, Side.LEFT)
        assert found.effort is entry.exercise.steps[0].effort or found.asks, entry.exercise.key


def test_the_builder_adds_on_the_proposed_step(as_staff, world):
    assess(world, "2026-03-02", [("shoulder_flexion", "left", "2"), ("elbow_flexion", "left", "4")])
    client = as_staff(world.therapist)
    client.post(reverse("draft_start", args=[world.patient.pk]))
    draft = reverse("draft", args=[world.patient.pk])
    proposed = known_of(world.patient, TODAY).proposal(shipped_exercises()[LIFT], Side.LEFT)
    page = client.get(draft, {"q": "arm lift front lying"}).content.decode()
    assert proposed.effort < Effort.ACTIVE
    assert f'value="{LIFT}:{proposed.effort.key}" class="tiny"' in page
    assert f"Start {proposed.effort.label}." in page
    # The world's line stands on the active step, which grade 2 does not bear.
    assert "active against the assessment" in page


def test_what_is_not_graded_is_one_link_from_being_assessed(as_staff, world):
    assess(world, "2026-03-02", [("elbow_flexion", "left", "4")])
    client = as_staff(world.therapist)
    client.post(reverse("draft_start", args=[world.patient.pk]))
    draft = reverse("draft", args=[world.patient.pk])
    form = reverse("assessment_new", args=[world.patient.pk]) + "?joints=shoulder&then=draft"
    link = f'<a href="{form.replace("&", "&amp;")}">Assess the shoulder</a>'
    assert link in client.get(draft, {"q": "arm lift front lying"}).content.decode()
    page = client.get(form).content.decode()
    assert "shoulder_flexion-left-grade" in page
    assert "elbow_flexion-left-grade" not in page
    grades = {"shoulder_flexion__left__grade": "3"}
    answer = client.post(form, typed(world.therapist, joints=["shoulder"], **grades))
    assert (answer.status_code, answer.get("Location")) == (302, draft)
    assert link not in client.get(draft, {"q": "arm lift front lying"}).content.decode()


def test_the_plan_page_leads_to_an_assessment_of_its_joints(as_staff, world):
    page = as_staff(world.therapist).get(reverse("plan", args=[world.patient.pk]))
    form = reverse("assessment_new", args=[world.patient.pk])
    assert f'href="{form}?joints=shoulder&amp;joints=elbow&amp;then=plan"' in page.content.decode()


def test_a_draft_without_any_grade_says_so_and_leads_to_the_assessment(as_staff, world):
    client = as_staff(world.therapist)
    client.post(reverse("draft_start", args=[world.patient.pk]))
    text = client.get(reverse("draft", args=[world.patient.pk])).content.decode()
    assert "Nothing is graded yet" in text
    assert "Assess first" in text


def test_an_assessment_goes_on_to_no_other_page(as_staff, world):
    form = reverse("assessment_new", args=[world.patient.pk])
    client = as_staff(world.therapist)
    assert client.get(f"{form}?joints=shoulder&joints=tail").status_code == 200
    answer = client.post(
        f"{form}?then=//elsewhere.example", typed(world.therapist, pain_at_rest="2")
    )
    assert answer.get("Location") == reverse("assessment", args=[world.patient.pk])
