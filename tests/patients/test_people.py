"""Patients' pages: adding, changing, who may open them, and cover with a reason."""

from datetime import date

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from clinic.models import AuditRow
from patients.forms import ICD10_SHAPE
from patients.models import CareTeamMember, Patient
from patients.queries import age_years

NEW = {
    "clinic_number": "H-200",
    "name": "Moss Bellweather",
    "birth_date": "1950-02-03",
    "sex": "female",
    "affected_side": "right",
    "dominant_side": "right",
    "stature_cm": "168",
    "body_mass_kg": "71.5",
    "language": "en",
    "text_size": "large",
}

PATIENT_PAGES = ["patient", "patient_edit", "episode_new", "helper_new"]


def test_a_therapist_adds_a_patient_and_is_in_their_care_team(as_staff, world):
    client = as_staff(world.therapist)
    answer = client.post(reverse("patient_new"), NEW)
    patient = Patient.objects.get(clinic_number="H-200")
    assert answer["Location"] == reverse("episode_new", args=[patient.pk])
    assert patient.care_team.get().user == world.therapist
    assert AuditRow.objects.filter(patient=patient.pk, verb="added patient").count() == 1


def test_bad_details_keep_what_was_typed(as_staff, world):
    client = as_staff(world.therapist)
    answer = client.post(reverse("patient_new"), NEW | {"stature_cm": "17", "clinic_number": "a b"})
    page = answer.content.decode()
    assert "What you typed is kept" in page
    assert 'value="Moss Bellweather"' in page
    assert 'value="17"' in page
    assert "no spaces" in page
    assert not Patient.objects.filter(name="Moss Bellweather").exists()


@pytest.mark.parametrize("page", ["patients", "patient_new"])
def test_an_administrator_is_offered_no_patients(as_staff, world, page):
    answer = as_staff(world.administrator).get(reverse(page), follow=True)
    assert answer.redirect_chain[-1][0] == reverse("staff")
    assert answer.status_code == 200


@pytest.mark.parametrize("page", PATIENT_PAGES)
@pytest.mark.parametrize("who", ["outsider", "administrator"])
def test_a_stranger_finds_nothing(as_staff, world, page, who):
    client = as_staff(getattr(world, who))
    assert client.get(reverse(page, args=[world.patient.pk])).status_code == 404


@pytest.mark.parametrize("page", PATIENT_PAGES)
@pytest.mark.parametrize("who", ["therapist", "student", "supervisor"])
def test_those_who_care_find_the_page(as_staff, world, page, who):
    client = as_staff(getattr(world, who))
    answer = client.get(reverse(page, args=[world.patient.pk]))
    assert answer.status_code == 200
    assert "Fern Quill" in answer.content.decode()


def test_opening_a_patient_is_written_down(as_staff, world):
    as_staff(world.therapist).get(reverse("patient", args=[world.patient.pk]))
    row = AuditRow.objects.get(patient=world.patient.pk, verb="opened")
    assert (row.user, row.subject) == (world.therapist, "patient")


def test_cover_opens_a_colleagues_patient_and_keeps_the_reason(as_staff, world):
    client = as_staff(world.outsider)
    form = {"clinic_number": "H-100", "reason": "Thea is ill, patient rang about pain"}
    answer = client.post(reverse("cover"), form)
    assert answer["Location"] == reverse("patient", args=[world.patient.pk])
    assert client.get(answer["Location"]).status_code == 200
    row = AuditRow.objects.get(verb="took cover")
    assert row.detail["reason"] == form["reason"]
    member = CareTeamMember.objects.get(patient=world.patient, user=world.outsider)
    assert member.cover_reason == form["reason"]


def test_cover_without_a_reason_is_refused_and_keeps_the_number(as_staff, world):
    answer = as_staff(world.outsider).post(
        reverse("cover"), {"clinic_number": "H-100", "reason": " "}
    )
    assert 'value="H-100"' in answer.content.decode()
    assert not CareTeamMember.objects.filter(user=world.outsider).exists()


def test_the_last_person_in_charge_cannot_leave(as_staff, world):
    client = as_staff(world.therapist)
    for user in (world.student, world.therapist):
        member = CareTeamMember.objects.get(patient=world.patient, user=user)
        client.post(reverse("team_leave", args=[world.patient.pk, member.pk]))
    staying = CareTeamMember.objects.filter(patient=world.patient, until=None)
    assert [member.user for member in staying] == [world.therapist]


def test_the_list_finds_by_every_word_and_answers_a_fragment(as_staff, world):
    client = as_staff(world.therapist)
    found = client.get(reverse("patients"), {"q": "quill h-1"}, headers={"HX-Request": "true"})
    page = found.content.decode()
    assert "Fern Quill" in page
    assert "<html" not in page
    nobody = client.get(reverse("patients"), {"q": "fern zebra"}).content.decode()
    assert "Nobody in your care matches" in nobody


def test_going_back_in_the_history_gets_the_whole_page(as_staff, world):
    answer = as_staff(world.therapist).get(
        reverse("patients"),
        headers={"HX-Request": "true", "HX-History-Restore-Request": "true"},
    )
    assert "<html" in answer.content.decode()
    assert "HX-Request" in answer["Vary"]


@pytest.mark.parametrize("many", [1, 12])
def test_the_list_asks_the_same_number_of_queries_however_long(
    as_staff, world, many, django_assert_num_queries
):
    from tests.world import EpisodeFactory, join

    for _ in range(many):
        join(EpisodeFactory().patient, world.therapist)
    client = as_staff(world.therapist)
    client.get(reverse("patients"))
    with django_assert_num_queries(6):  # session, user, clinic, patients, episodes, stop signs
        client.get(reverse("patients"))


def test_an_episode_takes_a_code_in_its_shape_only(as_staff, world):
    client = as_staff(world.therapist)
    address = reverse("episode_new", args=[world.patient.pk])
    form = {"diagnosis": "Broken wrist, right", "icd10": "s52.5", "opened_day": "2026-03-01"}
    assert client.post(address, form).status_code == 302
    assert world.patient.episodes.get(diagnosis="Broken wrist, right").icd10 == "S52.5"
    refused = client.post(address, form | {"icd10": "broken"}).content.decode()
    assert "looks like S42.2" in refused


# Codes as the WHO's ICD-10 (2019) prints them, and shapes that it never has.
@pytest.mark.parametrize("code", ["I63.9", "S42.2", "M75.1", "G81.9", "T92.6", "Z50.7", "S52.50"])
def test_real_icd10_codes_fit(code):
    assert ICD10_SHAPE.fullmatch(code)


@pytest.mark.parametrize("code", ["I6", "63.9", "I63.", "I639", "II3.9", "S42-2", "I63.99999"])
def test_other_shapes_do_not_fit(code):
    assert not ICD10_SHAPE.fullmatch(code)


@given(st.dates(date(1900, 1, 1), date(2030, 1, 1)), st.integers(0, 40000))
def test_age_agrees_with_dateutil(birth_date, days):
    relativedelta = pytest.importorskip("dateutil.relativedelta").relativedelta
    today = date.fromordinal(birth_date.toordinal() + days)
    expected = relativedelta(today, birth_date).years
    # dateutil lets someone born on 29 February age on the 28th; the law of most places waits.
    if (birth_date.month, birth_date.day) == (2, 29) and (today.month, today.day) == (2, 28):
        return
    assert age_years(birth_date, today) == expected
