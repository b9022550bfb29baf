"""What was withdrawn: a task until a person closes it, a warning until each phone has it."""

import html
import re

import pytest
from django.urls import reverse
from django.utils import timezone

from clinic.models import AuditRow
from plans import safety_actions
from plans.receipts import still_out
from tests.logs.homes import enrol_home


@pytest.fixture
def out(world):
    """Two phones with the first version, and one of its lines withdrawn since."""
    homes = [enrol_home(world.patient) for _ in range(2)]
    for n, home in enumerate(homes):
        home.phone.label = f"Phone {n}"
        home.phone.last_version = world.version.number
        home.phone.last_contact_at = timezone.now()
        home.phone.save()
    withdrawal = safety_actions.withdraw(
        by=world.therapist,
        patient=world.patient,
        line_key=world.version.lines.first().key,
        reason="New letter",
        today=timezone.localdate(),
    )
    return homes, withdrawal


def receive(home, number):
    home.phone.last_version = number
    home.phone.save(update_fields=["last_version"])


def page(client, world):
    text = client.get(reverse("plan", args=[world.patient.pk])).content.decode()
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def test_the_page_says_which_phones_have_received_a_withdrawal(as_staff, world, out):
    homes, withdrawal = out
    client = as_staff(world.therapist)
    receive(homes[0], withdrawal.version.number)
    text = page(client, world)
    assert "Ring the patient: the paper sheet is still out." in text
    assert "Phone 0: has received it" in text
    assert "Phone 1: has not received it , last heard" in text


def test_the_task_stands_until_a_person_closes_it_though_all_phones_have_it(as_staff, world, out):
    homes, withdrawal = out
    client = as_staff(world.therapist)
    for home in homes:
        receive(home, withdrawal.version.number + 1)
    assert "Ring the patient" in page(client, world)
    client.post(
        reverse("withdrawal_told", args=[world.patient.pk, withdrawal.pk]),
        {"how": "Rang; the sheet is torn up"},
    )
    text = page(client, world)
    assert "Ring the patient" not in text
    assert "still on a phone" not in text
    assert AuditRow.objects.filter(verb="told patient", user=world.therapist).count() == 1


def test_a_closed_task_leaves_a_warning_while_a_phone_has_not_received_it(as_staff, world, out):
    homes, withdrawal = out
    safety_actions.mark_told(by=world.therapist, withdrawal=withdrawal, how="Rang")
    assert [phone.label for phone in still_out(world.patient)[0].missing] == ["Phone 0", "Phone 1"]
    client = as_staff(world.therapist)
    assert "is still on a phone. The patient was told" in page(client, world)
    receive(homes[0], withdrawal.version.number)
    homes[1].phone.revoked_at = timezone.now()
    homes[1].phone.revoked_day = timezone.localdate()
    homes[1].phone.save()
    assert still_out(world.patient) == ()
    assert "is still on a phone" not in page(client, world)


def test_a_phone_never_heard_from_counts_as_without_it(world, out):
    homes, _ = out
    receive(homes[0], None)
    assert len(still_out(world.patient)[0].missing) == 2


def test_no_phone_and_nobody_told_is_still_a_task(as_staff, world):
    safety_actions.withdraw(
        by=world.therapist, patient=world.patient, reason="Clot", today=timezone.localdate()
    )
    text = page(as_staff(world.therapist), world)
    assert "Ring the patient" in text
    assert "No phone is enrolled." in text


def test_it_asks_twice_however_many_there_are(world, out, django_assert_num_queries):
    safety_actions.withdraw(
        by=world.therapist, patient=world.patient, reason="Clot", today=timezone.localdate()
    )
    with django_assert_num_queries(2):
        assert [item.is_told for item in still_out(world.patient)] == [False, False]
