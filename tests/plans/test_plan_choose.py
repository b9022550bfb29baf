"""Choosing what a patient can do: alone with one hand, lying down, with what is at home."""

import pytest
from django.urls import reverse

from patients.motions import Effort
from plans.actions import new_draft
from plans.catalogue import DoneBy, Equipment, Position
from plans.exercise import movement_of
from plans.search import Wanted, found_exercises, indexed
from tests.world import PatientFactory, join, make_line, shipped_exercises, stock

LYING = (Position.LYING_BACK, Position.LYING_SIDE)


@pytest.fixture(scope="module")
def catalogue():
    return [indexed(exercise) for exercise in shipped_exercises().values()]


def steps_found(catalogue, wanted):
    return [
        (hit.exercise, hit.exercise.step(hit.effort)) for hit in found_exercises(catalogue, wanted)
    ]


def test_alone_with_one_hand_no_helper_and_no_other_hand_is_in_the_picture(catalogue):
    found = steps_found(catalogue, Wanted(is_alone=True))
    assert 5 < len(found) < len(catalogue)
    for exercise, step in found:
        assert step.done_by is DoneBy.SELF
        assert step.effort not in (Effort.PASSIVE, Effort.SELF_ASSISTED) or step.poses
        assert exercise.sided
        if step.poses:
            assert movement_of(exercise, step).other_arm == "rests"


def test_lying_down_means_the_step_not_only_the_exercise(catalogue):
    found = steps_found(catalogue, Wanted(is_lying=True))
    assert found
    assert all(step.position in LYING for _, step in found)
    lying_anywhere = {e.exercise.key for e in catalogue if e.positions & set(LYING)}
    assert {exercise.key for exercise, _ in found} == lying_anywhere


def test_what_is_at_home_is_enough_for_the_step(catalogue):
    have = frozenset({Equipment.CHAIR, Equipment.TABLE})
    found = steps_found(catalogue, Wanted(at_home=have))
    assert found
    assert len(found) < len(catalogue)
    for exercise, step in found:
        assert {*exercise.equipment, *step.equipment} <= have


def test_one_step_has_to_meet_all_that_is_asked(catalogue):
    wanted = Wanted(is_alone=True, is_lying=True, effort=Effort.ACTIVE)
    for exercise, step in steps_found(catalogue, wanted):
        assert step.effort is Effort.ACTIVE
        assert step.position in LYING
        assert movement_of(exercise, step).other_arm == "rests"


@pytest.fixture
def draft(world):
    stock(*shipped_exercises())
    patient = PatientFactory()
    join(patient, world.therapist)
    return new_draft(by=world.therapist, patient=patient)


def test_the_builder_finds_by_the_boxes(as_staff, world, draft):
    client = as_staff(world.therapist)
    page = client.get(reverse("draft", args=[draft.patient_id]), {"alone": "on", "have": ["bed"]})
    assert page.context["hits"]
    for hit in page.context["hits"]:
        step = hit.exercise.step(hit.effort)
        assert {*hit.exercise.equipment, *step.equipment} <= {Equipment.BED}
        assert step.done_by is DoneBy.SELF


def press(client, line, way):
    path = reverse("line_step", args=[line.version.patient_id, line.pk, way])
    return client.post(path, follow=True).content.decode()


def test_beyond_the_ladders_end_stands_the_neighbour_with_the_same_dose(as_staff, world, draft):
    shipped = shipped_exercises()
    exercise = next(
        e
        for e in shipped.values()
        if e.harder and shipped[e.harder].unit == e.unit and shipped[e.harder].sided == e.sided
    )
    last = exercise.steps[-1]
    line = make_line(
        draft,
        exercise.key,
        step=last.effort.key,
        sets=3,
        amount_low=5,
        amount_high=6,
        load_means="",
    )
    key = line.key
    page = press(as_staff(world.therapist), line, "harder")
    line.refresh_from_db()
    assert line.revision.exercise.key == exercise.harder
    assert (line.sets, line.amount_low, line.amount_high) == (3, 5, 6)
    assert line.key != key
    assert line.step in {step.effort.key for step in shipped[exercise.harder].steps}
    assert "instead of" in page


def test_where_the_ladder_ends_and_no_neighbour_stands_it_says_so(as_staff, world, draft):
    exercise = next(e for e in shipped_exercises().values() if not e.easier)
    line = make_line(draft, exercise.key, step=exercise.steps[0].effort.key, load_means="")
    page = press(as_staff(world.therapist), line, "easier")
    line.refresh_from_db()
    assert line.revision.exercise.key == exercise.key
    assert "lowest step of its ladder" in page
