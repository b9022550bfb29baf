"""Enrolling, naming and shutting out phones: secrets used once, kept only as hashes."""

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest
from django.conf import settings
from django.urls import reverse

from clinic.actions import ActionRefused
from clinic.models import AuditRow
from patients import phones
from patients.models import Invite, Phone, PhoneStore
from tests.world import PatientFactory, join

NOW = datetime(2026, 3, 4, 23, 30, tzinfo=UTC)
ANDROID = "Mozilla/5.0 (Linux; Android 14; K) AppleWebKit/537.36 Chrome/131 Mobile Safari/537.36"


def secret_in(link):
    address, _, secret = link.partition("#")
    assert address == f"{settings.PUBLIC_ADDRESS}/home/join"
    return secret


def enrol(link, *, now=NOW, present=None, store=None, zone="Europe/London"):
    return phones.enrol(
        secret=secret_in(link),
        store_id=store or uuid4(),
        time_zone=zone,
        user_agent=ANDROID,
        present=present,
        now=now,
    )


@pytest.fixture
def phone(world):
    link = phones.make_invite(by=world.therapist, patient=world.patient, now=NOW)
    return enrol(link).phone


def test_a_link_holds_256_random_bits_of_which_only_a_hash_is_kept(world):
    secret = secret_in(phones.make_invite(by=world.therapist, patient=world.patient, now=NOW))
    assert len(secret) == 43  # 256 bits in base64url, RFC 4648 section 5, without padding
    invite = Invite.objects.get()
    assert secret not in str(vars(invite))
    assert invite.expires_at - invite.made_at == timedelta(hours=72)


def test_a_link_enrols_one_phone_and_then_nothing(world):
    link = phones.make_invite(by=world.therapist, patient=world.patient, now=NOW)
    enrolled = enrol(link)
    assert enrolled.phone.patient == world.patient
    assert enrolled.credential not in str(vars(enrolled.phone))
    assert enrol(link) is None
    assert Phone.objects.count() == 1
    assert AuditRow.objects.filter(patient=world.patient.pk, verb="enrolled phone").count() == 1


def test_a_link_ends_after_72_hours(world):
    link = phones.make_invite(by=world.therapist, patient=world.patient, now=NOW)
    assert enrol(link, now=NOW + timedelta(hours=72)) is None
    assert enrol(link, now=NOW + timedelta(hours=71, minutes=59)) is not None


def test_a_new_link_ends_the_unused_one_before_it_but_not_another_patients(world):
    other = PatientFactory()
    others = phones.make_invite(by=None, patient=other, now=NOW)
    first = phones.make_invite(by=world.therapist, patient=world.patient, now=NOW)
    second = phones.make_invite(by=world.therapist, patient=world.patient, now=NOW)
    assert enrol(first) is None
    assert enrol(second).phone.patient == world.patient
    assert enrol(others).phone.patient == other


def test_a_used_link_stays_on_record_when_a_new_one_is_made(world, phone):
    phones.make_invite(by=world.therapist, patient=world.patient, now=NOW)
    assert phone.invite.used_at == NOW


def test_the_day_and_zone_of_enrolment_are_the_patients(world):
    link = phones.make_invite(by=world.therapist, patient=world.patient, now=NOW)
    enrolled = enrol(link, zone="Asia/Tokyo").phone
    assert enrolled.enrolled_day == date(2026, 3, 5)  # 08:30 the next morning there
    assert enrolled.label == "Android phone, 5 Mar 2026"
    world.patient.refresh_from_db()
    assert world.patient.time_zone == "Asia/Tokyo"


@pytest.mark.parametrize("zone", ["", "Moon/Tranquility", "../etc/passwd", "Europe/Lond\0n"])
def test_a_zone_that_is_none_changes_nothing(world, zone):
    link = phones.make_invite(by=world.therapist, patient=world.patient, now=NOW)
    enrol(link, zone=zone)
    world.patient.refresh_from_db()
    assert world.patient.time_zone == ""


def test_a_phone_enrolled_again_stays_one_phone(world, phone):
    link = phones.make_invite(by=world.therapist, patient=world.patient, now=NOW)
    again = enrol(link, present=phone)
    assert (again.phone, again.credential) == (phone, None)
    assert Phone.objects.count() == 1
    assert enrol(link) is None


def test_another_patients_phone_becomes_a_phone_of_its_own(world, phone):
    other = PatientFactory()
    link = phones.make_invite(by=None, patient=other, now=NOW)
    again = enrol(link, present=phone)
    assert again.phone != phone
    assert again.phone.patient == other


def report(phone, store, now, pending=0, zone="Europe/London"):
    phones.report(phone=phone, store_id=store, pending=pending, time_zone=zone, now=now)


def test_an_empty_report_moves_the_day_by_the_servers_clock_and_never_back(phone):
    store = phone.stores.get().store_id
    report(phone, store, NOW + timedelta(days=2))
    report(phone, store, NOW + timedelta(days=1))
    assert phone.stores.get().last_empty_day == date(2026, 3, 6)


def test_a_report_of_entries_that_wait_makes_no_day_heard(phone):
    report(phone, phone.stores.get().store_id, NOW, pending=3)
    assert phone.stores.get().last_empty_day is None


def test_a_changed_store_is_not_the_first(phone):
    report(phone, uuid4(), NOW + timedelta(days=3))
    made = PhoneStore.objects.get(phone=phone, is_first=False)
    assert (made.made_day, made.last_empty_day) == (date(2026, 3, 7), date(2026, 3, 7))
    assert phones.phone_summaries(phone.patient)[0].lost_a_store


def test_a_revoked_phone_is_unknown_at_once(world, rf):
    link = phones.make_invite(by=world.therapist, patient=world.patient, now=NOW)
    enrolled = enrol(link)
    phone = enrolled.phone
    request = rf.get("/home/")
    assert phones.phone_for(request) is None
    request.COOKIES[phones.COOKIE_NAME] = enrolled.credential
    assert phones.phone_for(request) == phone
    phones.revoke_phone(by=world.therapist, phone=phone, now=NOW + timedelta(days=1))
    assert phones.phone_for(request) is None
    assert phone.revoked_day == date(2026, 3, 5)
    with pytest.raises(ActionRefused, match="already"):
        phones.revoke_phone(by=world.therapist, phone=phone, now=NOW)


def test_the_owner_key_names_nobody_and_tells_patients_apart(world):
    key = phones.owner_key(world.patient)
    assert key == phones.owner_key(world.patient)
    assert key != phones.owner_key(PatientFactory())
    assert world.patient.clinic_number not in key


def test_a_therapist_makes_a_link_and_sees_it_once_with_its_code(as_staff, world):
    client = as_staff(world.therapist)
    answer = client.post(reverse("phone_invite", args=[world.patient.pk]))
    text = answer.content.decode()
    assert f"{settings.PUBLIC_ADDRESS}/home/join#" in text
    assert "<svg" in text
    assert "style=" not in text
    page = client.get(reverse("patient", args=[world.patient.pk])).content.decode()
    assert "/home/join" not in page
    assert "waits to be used" in page


def test_opening_the_address_of_the_link_by_get_makes_none(as_staff, world):
    answer = as_staff(world.therapist).get(reverse("phone_invite", args=[world.patient.pk]))
    assert answer.status_code == 405
    assert not Invite.objects.exists()


@pytest.mark.parametrize("who", ["outsider", "administrator"])
def test_nobody_outside_the_care_team_reaches_a_patients_phones(as_staff, world, phone, who):
    client = as_staff(getattr(world, who))
    for address in (
        reverse("phone_invite", args=[world.patient.pk]),
        reverse("phone_rename", args=[world.patient.pk, phone.pk]),
        reverse("phone_revoke", args=[world.patient.pk, phone.pk]),
    ):
        assert client.post(address, {"label": "Mine"}).status_code == 404
    phone.refresh_from_db()
    assert phone.revoked_at is None


def test_a_phone_of_another_patient_is_not_there(as_staff, world, phone):
    mine = PatientFactory()
    join(mine, world.therapist)
    address = reverse("phone_revoke", args=[mine.pk, phone.pk])
    assert as_staff(world.therapist).post(address).status_code == 404


def test_a_phone_is_renamed_and_shut_out_on_the_patients_page(as_staff, world, phone):
    client = as_staff(world.therapist)
    client.post(
        reverse("phone_rename", args=[world.patient.pk, phone.pk]), {"label": " Fern's  own "}
    )
    page = client.post(
        reverse("phone_revoke", args=[world.patient.pk, phone.pk]), follow=True
    ).content.decode()
    assert "Fern&#x27;s own" in page
    assert "shut out" in page
    verbs = AuditRow.objects.filter(patient=world.patient.pk, user=world.therapist)
    assert {"renamed phone", "revoked phone"} <= set(verbs.values_list("verb", flat=True))


@pytest.mark.parametrize("label", ["", "   ", "x" * 61])
def test_a_phone_keeps_its_name_when_the_new_one_is_none(world, phone, label):
    with pytest.raises(ActionRefused, match="1 to 60"):
        phones.rename_phone(by=world.therapist, phone=phone, label=label)


def test_the_patients_page_asks_as_often_with_many_phones_as_with_one(
    as_staff, world, phone, django_assert_num_queries, django_assert_max_num_queries
):
    client = as_staff(world.therapist)
    address = reverse("patient", args=[world.patient.pk])
    client.get(address)
    with django_assert_max_num_queries(40) as first:
        client.get(address)
    for _ in range(3):
        enrol(phones.make_invite(by=None, patient=world.patient, now=NOW))
    with django_assert_num_queries(len(first)):
        client.get(address)
