"""Teach-back on the issued plan: what the patient showed, what to watch, who may record it."""

import re

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from clinic.models import AuditRow
from plans.actions import new_draft
from plans.models import TeachBack
from plans.plan_page import shown_version
from plans.queries import versions_of
from plans.teaching_page import taught_lines
from tests.world import FIRST_DAY, issue, make_line


def record(client, world, line, **sent):
    url = reverse("teach_back", args=[world.patient.pk, line.pk])
    return client.post(url, {"shown": "with_help", "watch": "Shrugs the shoulder."} | sent)


def shown_page(client, version):
    url = reverse("plan_version", args=[version.patient_id, version.pk])
    html = client.get(url).content.decode()
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def test_what_the_patient_showed_stands_on_the_plan(as_staff, world):
    client, line = as_staff(world.therapist), world.version.lines.first()
    assert "Not shown yet." in shown_page(client, world.version)
    answer = record(client, world, line)
    assert answer["Location"].endswith(f"/plan/{world.version.pk}/")
    text = shown_page(client, world.version)
    assert "shows it with words or a hand" in text
    assert "Watch: Shrugs the shoulder." in text
    row = AuditRow.objects.get(verb="recorded teach-back")
    assert (row.patient, row.detail["shown"]) == (world.patient.pk, "with_help")


def test_the_newest_speaks_and_older_ones_stay(as_staff, world):
    client, line = as_staff(world.therapist), world.version.lines.first()
    record(client, world, line)
    record(client, world, line, shown="alone", watch="")
    assert TeachBack.objects.filter(line=line).count() == 2
    assert "Shrugs the shoulder." not in shown_page(client, world.version)


def test_a_line_keeps_its_teach_back_in_the_next_version_and_names_another_step(as_staff, world):
    client, line = as_staff(world.therapist), world.version.lines.first()
    record(client, world, line, shown="alone")
    same = issue(world.patient, world.therapist, FIRST_DAY, [{"key": line.key, "step": line.step}])
    text = shown_page(client, same)
    assert "shows it alone" in text
    assert "on another step" not in text
    easier = issue(
        world.patient, world.therapist, FIRST_DAY, [{"key": line.key, "step": "passive"}]
    )
    assert "on another step" in shown_page(client, easier)


def test_only_an_issued_plan_is_taught_back(as_staff, world):
    client = as_staff(world.therapist)
    line = make_line(new_draft(by=world.therapist, patient=world.patient))
    answer = record(client, world, line)
    assert answer.status_code == 302
    assert not TeachBack.objects.exists()


@pytest.mark.parametrize("sent", [{"shown": ""}, {"shown": "perhaps"}, {"watch": "x" * 301}])
def test_what_says_nothing_is_refused(as_staff, world, sent):
    client, line = as_staff(world.therapist), world.version.lines.first()
    answer = client.post(
        reverse("teach_back", args=[world.patient.pk, line.pk]),
        {"shown": "alone", "watch": ""} | sent,
        follow=True,
    )
    assert "Say how the patient showed it" in answer.content.decode()
    assert not TeachBack.objects.exists()


@pytest.mark.parametrize("who", ["outsider", "administrator"])
def test_a_stranger_records_nothing(as_staff, world, who):
    client, line = as_staff(getattr(world, who)), world.version.lines.first()
    assert record(client, world, line).status_code == 404
    assert not TeachBack.objects.exists()


def test_another_patients_line_is_not_there(as_staff, world):
    client, line = as_staff(world.therapist), world.version.lines.first()
    url = reverse("teach_back", args=[world.patient.pk + 1, line.pk])
    assert client.post(url, {"shown": "alone"}).status_code == 404


def test_the_database_refuses_to_change_one(as_staff, world):
    record(as_staff(world.therapist), world, world.version.lines.first())
    with transaction.atomic(), pytest.raises(IntegrityError, match="never changes"):
        TeachBack.objects.update(shown="alone")


def test_one_query_for_all_lines(as_staff, world, django_assert_num_queries):
    client = as_staff(world.therapist)
    for line in world.version.lines.all():
        record(client, world, line)
    shown = shown_version(versions_of(world.patient).get(pk=world.version.pk))
    with django_assert_num_queries(1):
        taught = taught_lines(world.patient, shown)
        assert [row.last.recorded_by.name for row in taught] == ["Thea Therapist"] * 2
