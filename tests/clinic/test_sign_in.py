"""Signing in and out, rest, and who may see which page of the clinic's own."""

import time

import pytest
from django.contrib.auth.hashers import identify_hasher
from django.test import Client, override_settings
from django.urls import reverse

from clinic import sessions
from clinic.models import AuditRow, Session, User
from tests.world import PASSWORD, UserFactory


def test_a_person_signs_in_and_lands_on_their_patients(client, world):
    answer = client.post(
        reverse("sign_in"), {"username": "therapist", "password": PASSWORD}, follow=True
    )
    assert answer.redirect_chain[-1][0] == reverse("patients")
    assert "Fern Quill" in answer.content.decode()


def test_a_wrong_password_says_what_to_do_and_keeps_the_name(client, world):
    answer = client.post(reverse("sign_in"), {"username": "therapist", "password": "wrong"})
    page = answer.content.decode()
    assert "don’t go together" in page or "don&#x27;t go together" in page
    assert 'value="therapist"' in page
    assert not Session.objects.filter(user=world.therapist).exists()


def test_guessing_is_slowed_for_the_name_and_place_only(client, world, settings):
    for _ in range(settings.AXES_FAILURE_LIMIT):
        client.post(reverse("sign_in"), {"username": "therapist", "password": "wrong"})
    shut = client.post(reverse("sign_in"), {"username": "therapist", "password": PASSWORD})
    assert shut.status_code == 429
    assert "Wait a little" in shut.content.decode()
    colleague = client.post(reverse("sign_in"), {"username": "student", "password": PASSWORD})
    assert colleague.status_code == 302


def test_passwords_are_kept_by_argon2(db):
    with override_settings(PASSWORD_HASHERS=["clinic.hashers.ClinicArgon2PasswordHasher"]):
        user = UserFactory()
        assert identify_hasher(user.password).algorithm == "argon2"
        assert "m=47104,t=2,p=1" in user.password


@pytest.mark.parametrize("name", ["patients", "home", "account", "staff", "caseload", "exercises"])
def test_staff_pages_ask_for_sign_in(client, db, name):
    answer = client.get(reverse(name))
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("sign_in"))


def test_rest_signs_out(as_staff, world, settings, monkeypatch):
    client = as_staff(world.therapist)
    assert client.get(reverse("patients")).status_code == 200
    now = time.time()
    monkeypatch.setattr(sessions.time, "time", lambda: now + settings.SESSION_IDLE_S + 5)
    assert client.get(reverse("patients")).status_code == 302


def test_a_working_day_signs_out_even_without_rest(as_staff, world, settings, monkeypatch):
    client = as_staff(world.therapist)
    start, step = time.time(), settings.SESSION_IDLE_S - 60
    statuses = []
    for tick in range(0, settings.SESSION_COOKIE_AGE + 2 * step, step):
        monkeypatch.setattr(sessions.time, "time", lambda at=start + tick: at)
        statuses.append(client.get(reverse("patients")).status_code)
    assert statuses[0] == 200
    assert statuses[-1] == 302
    first_out_s = statuses.index(302) * step
    assert settings.SESSION_COOKIE_AGE < first_out_s <= settings.SESSION_COOKIE_AGE + step


def test_sign_out_takes_a_post_and_ends_the_session(as_staff, world):
    client = as_staff(world.therapist)
    client.get(reverse("patients"))
    assert Session.objects.filter(user=world.therapist).count() == 1
    assert client.get(reverse("sign_out")).status_code == 405
    client.post(reverse("sign_out"))
    assert not Session.objects.filter(user=world.therapist).exists()


def test_a_new_password_ends_other_sign_ins_but_not_this_one(as_staff, world):
    other = Client()
    other.force_login(world.therapist, backend="django.contrib.auth.backends.ModelBackend")
    client = as_staff(world.therapist)
    answer = client.post(
        reverse("account"), {"present": PASSWORD, "password": "seven-quiet-harbours"}, follow=True
    )
    assert "Your password is changed" in answer.content.decode()
    assert client.get(reverse("patients")).status_code == 200
    assert other.get(reverse("patients")).status_code == 302


def test_a_weak_password_is_refused_with_the_reason(as_staff, world):
    client = as_staff(world.therapist)
    answer = client.post(reverse("account"), {"present": PASSWORD, "password": "short"})
    assert "at least 12 characters" in answer.content.decode()
    world.therapist.refresh_from_db()
    assert world.therapist.check_password(PASSWORD)


@pytest.mark.parametrize("name", ["staff", "staff_new", "clinic_profile"])
@pytest.mark.parametrize("who", ["therapist", "student", "supervisor"])
def test_only_an_administrator_keeps_accounts(as_staff, world, name, who):
    assert as_staff(getattr(world, who)).get(reverse(name)).status_code == 404


def test_an_administrator_opens_and_closes_accounts(as_staff, world):
    client = as_staff(world.administrator)
    new = {
        "username": "nora",
        "name": "Nora New",
        "role": "therapist",
        "password": "eleven-paper-kites",
    }
    client.post(reverse("staff_new"), new)
    nora = User.objects.get(username="nora")
    assert nora.check_password("eleven-paper-kites")
    nora_client = Client()
    nora_client.force_login(nora, backend="django.contrib.auth.backends.ModelBackend")
    client.post(reverse("staff_edit", args=[nora.pk]), {"name": "Nora New", "role": "therapist"})
    nora.refresh_from_db()
    assert not nora.is_active
    assert nora_client.get(reverse("patients")).status_code == 302
    assert AuditRow.objects.filter(user=world.administrator, verb="changed staff").count() == 1


def test_an_administrator_cannot_shut_themselves_out(as_staff, world):
    client = as_staff(world.administrator)
    answer = client.post(
        reverse("staff_edit", args=[world.administrator.pk]),
        {"name": "Ada Admin", "role": "therapist", "is_active": "on"},
    )
    assert "change your own role" in answer.content.decode()
    world.administrator.refresh_from_db()
    assert world.administrator.role == "administrator"
