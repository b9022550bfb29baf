"""Arranging a draft's lines from the builder, and going back to the therapist's own order."""

import pytest
from django.urls import reverse

from clinic.models import AuditRow
from plans.actions import new_draft
from tests.world import PatientFactory, join, make_line, stock

EXERCISES = ("arm_lift_forward_sitting", "arm_lift_forward_lying", "elbow_bend_sitting")


@pytest.fixture
def draft(world):
    stock(*EXERCISES)
    patient = PatientFactory()
    join(patient, world.therapist)
    version = new_draft(by=world.therapist, patient=patient)
    for key in EXERCISES:
        make_line(version, key)
    return version


def order_of(version):
    return [line.revision.exercise.key for line in version.lines.order_by("position")]


def post(client, name, version, **data):
    return client.post(reverse(name, args=[version.patient_id]), data, follow=True)


def test_one_press_saves_changes_and_says_how_many(as_staff, world, draft):
    client = as_staff(world.therapist)
    page = client.get(reverse("draft", args=[draft.patient_id])).content.decode()
    assert "2 changes of position; 1 would do." in page
    page = post(client, "lines_arrange", draft).content.decode()
    lying = order_of(draft).index("arm_lift_forward_lying")
    assert lying in (0, 2)
    assert "Changes of position: 2 before, 1 now" in page
    assert "no order has fewer" in page
    assert AuditRow.objects.filter(verb="reordered lines").count() == 1
    draft.refresh_from_db()
    assert draft.edits == 1


def test_the_therapists_own_order_comes_back(as_staff, world, draft):
    client = as_staff(world.therapist)
    post(client, "lines_arrange", draft)
    page = post(client, "lines_arrange_undo", draft).content.decode()
    assert order_of(draft) == list(EXERCISES)
    assert "the order they had before" in page
    assert "no order to go back to" in post(client, "lines_arrange_undo", draft).content.decode()


def test_nothing_is_written_where_no_order_is_better(as_staff, world, draft):
    client = as_staff(world.therapist)
    post(client, "lines_arrange", draft)
    arranged = order_of(draft)
    page = post(client, "lines_arrange", draft).content.decode()
    assert "No order is better" in page
    assert order_of(draft) == arranged
    assert AuditRow.objects.filter(verb="reordered lines").count() == 1


def test_an_order_of_other_lines_is_refused(as_staff, world, draft):
    client = as_staff(world.therapist)
    post(client, "lines_arrange", draft)
    draft.lines.first().delete()
    assert "other lines by now" in post(client, "lines_arrange_undo", draft).content.decode()


def test_an_outsider_arranges_nothing(as_staff, world, draft):
    assert post(as_staff(world.outsider), "lines_arrange", draft).status_code == 404
    assert order_of(draft) == list(EXERCISES)
