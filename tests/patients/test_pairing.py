"""Short codes: good for ten minutes, five tries and one phone; the limiter is in the database."""

import re
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from clinic.models import AuditRow
from patients import pairing, phones
from patients.models import Invite, Phone, WrongCode
from tests.world import PatientFactory

NOW = datetime(2026, 3, 4, 12, tzinfo=UTC)


def made(patient, now=NOW):
    return phones.make_invite_with_code(by=None, patient=patient, now=now)


def type_in(code, now=NOW):
    return phones.enrol(
        code=code,
        store_id=uuid4(),
        time_zone="Europe/London",
        user_agent="iPhone",
        present=None,
        now=now,
    )


def wrong(code, n=1):
    """Return another code with the same two first digits."""
    return f"{code[:2]}{(int(code[2:]) + n) % 10**6:06}"


def test_a_code_enrols_one_phone_and_uses_its_link_up_too(world):
    link, code = made(world.patient)
    assert re.fullmatch(r"\d{8}", code)
    enrolled = type_in(f"{code[:4]} {code[4:]}")
    assert enrolled.phone.patient == world.patient
    assert enrolled.phone.label.startswith("iPhone")
    assert type_in(code) is None
    secret = link.partition("#")[2]
    again = phones.enrol(
        secret=secret, store_id=uuid4(), time_zone="", user_agent="", present=None, now=NOW
    )
    assert again is None
    assert Phone.objects.count() == 1


def test_a_second_phone_gets_a_code_of_its_own(world):
    first = type_in(made(world.patient)[1]).phone
    second = type_in(made(world.patient)[1]).phone
    assert first != second
    assert {first.patient, second.patient} == {world.patient}


def test_only_a_salted_hash_of_a_code_is_kept(world):
    _, code = made(world.patient)
    _, other = made(PatientFactory())
    for invite in Invite.objects.all():
        kept = " ".join(map(str, vars(invite).values()))
        assert code not in kept
        assert code[2:] not in kept
    salts = set(Invite.objects.values_list("code_salt", flat=True))
    assert len(salts) == 2
    assert code[:2] != other[:2]  # two that are good at once never share their first digits


@pytest.mark.parametrize(("minutes", "is_good"), [(9.9, True), (10, False), (60, False)])
def test_a_code_ends_after_ten_minutes_and_its_link_does_not(world, minutes, is_good):
    _, code = made(world.patient)
    assert (type_in(code, NOW + timedelta(minutes=minutes)) is not None) == is_good
    assert (phones.waiting_invite(world.patient, NOW + timedelta(hours=1)) is None) == is_good


def test_the_fifth_try_is_the_last(world):
    _, code = made(world.patient)
    for n in range(1, 5):
        assert type_in(wrong(code, n)) is None
    assert Invite.objects.get().code_tries == 4
    assert type_in(code) is not None

    _, code = made(PatientFactory())
    for n in range(1, 6):
        assert type_in(wrong(code, n)) is None
    assert type_in(code) is None
    assert AuditRow.objects.filter(verb="ended code after wrong tries").count() == 1


def test_a_wrong_try_counts_against_one_code_alone(world):
    _, code = made(world.patient)
    _, others = made(PatientFactory())
    for n in range(1, 6):
        type_in(wrong(code, n))
    assert type_in(others) is not None


@pytest.mark.parametrize("typed", ["", "1234567", "123456789", "abcdefgh", "1234-567x", "\0" * 8])
def test_what_is_no_code_counts_as_no_try(world, typed):
    made(world.patient)
    assert type_in(typed) is None
    assert Invite.objects.get().code_tries == WrongCode.objects.count() == 0


def test_after_twenty_wrong_tries_within_an_hour_no_code_is_taken_but_links_are(world):
    for _ in range(4):
        _, code = made(world.patient)
        for n in range(1, 6):
            assert type_in(wrong(code, n)) is None
    link, code = made(world.patient)
    with pytest.raises(pairing.CodesClosed):
        type_in(code)
    assert Invite.objects.get(used_at=None).code_tries == 0
    later = NOW + timedelta(minutes=61)
    _, code = made(PatientFactory(), later)
    assert type_in(code, later) is not None
    assert WrongCode.objects.count() == 0  # what is older than an hour is cleared away
    secret = link.partition("#")[2]
    assert phones.enrol(
        secret=secret, store_id=uuid4(), time_zone="", user_agent="", present=None, now=NOW
    )


def test_ten_thousand_tries_have_odds_below_one_in_ten_thousand(world):
    # Within an hour at most 20 tries are looked at, each of 10**6: the rest meets a closed door.
    _, code = made(world.patient)
    looked_at = 0
    for n in range(1, 10_001):
        if n % 5 == 1:
            _, code = made(world.patient)
        try:
            type_in(wrong(code, n))
        except pairing.CodesClosed:
            break
        looked_at += 1
    assert looked_at == pairing.MOST_WRONG_AN_HOUR
    assert looked_at / 10 ** (pairing.CODE_DIGITS - pairing.PREFIX_DIGITS) < 1e-4


@pytest.mark.parametrize("column", [{"code_tries": 6}, {"code_hash": ""}, {"code_salt": ""}])
def test_the_database_holds_what_a_code_is(world, column):
    made(world.patient)
    with pytest.raises(IntegrityError), transaction.atomic():
        Invite.objects.update(**column)


def test_the_code_stands_beside_the_square_on_the_therapists_screen(as_staff, world):
    page = as_staff(world.therapist).post(reverse("phone_invite", args=[world.patient.pk]))
    text = page.content.decode()
    code = re.search(r'class="short-code"[^>]*>(\d{4} \d{4})<', text)[1]
    assert "<svg" in text
    assert type_in(code, Invite.objects.get().made_at) is not None
