"""Reads of people, and the one way to reach a patient."""

from datetime import date

from django.db.models import Prefetch, Q, QuerySet
from django.http import Http404

from clinic.models import Role, User
from clinic.queries import clinic_profile
from patients.models import CareTeamMember, Episode, Patient, Phone


def patients_of(user: User) -> QuerySet[Patient]:
    """Return the patients whose pages this person may open, by name.

    A supervisor oversees everyone; an administrator keeps the machine and treats nobody.
    """
    if not user.may_treat:
        return Patient.objects.none()
    if user.role == Role.SUPERVISOR:
        return Patient.objects.all()
    return Patient.objects.filter(
        pk__in=CareTeamMember.objects.filter(user=user, until__isnull=True).values("patient")
    )


def patient_for(user: User, pk: int) -> Patient:
    """Return a patient to someone who may open their pages; to everyone else it is not there.

    Raises Http404, so that an outsider can't tell a stranger's patient from none.
    """
    patient = patients_of(user).filter(pk=pk).first()
    if patient is None:
        raise Http404("no such patient")
    return patient


def found_patients(user: User, words: str) -> QuerySet[Patient]:
    """Return this person's patients, those whose name or number holds every word (two queries)."""
    found = patients_of(user)
    for word in words.split():
        found = found.filter(Q(name__icontains=word) | Q(clinic_number__icontains=word))
    return found.prefetch_related(
        Prefetch("episodes", queryset=Episode.objects.filter(closed_day__isnull=True))
    )


def patient_by_number(clinic_number: str) -> Patient | None:
    """Return the patient with that clinic number: for commands, which act for the whole clinic."""
    return Patient.objects.filter(clinic_number=clinic_number).first()


def care_team(patient: Patient) -> QuerySet[CareTeamMember]:
    """Return who cares for a patient now, longest first."""
    return patient.care_team.filter(until__isnull=True).select_related("user")


def zone_of(patient: Patient) -> str:
    """Return the patient's time zone: what the phone last reported, else the clinic's."""
    return patient.time_zone or clinic_profile().time_zone


def phones_in_use(patient: Patient) -> QuerySet[Phone]:
    """Return a patient's enrolled phones that were not revoked."""
    return patient.phones.filter(revoked_at__isnull=True)


def age_years(birth_date: date, today: date) -> int:
    """Return the age in whole years.

    >>> age_years(date(1960, 2, 29), date(2026, 2, 28))
    65
    """
    had_birthday = (today.month, today.day) >= (birth_date.month, birth_date.day)
    return today.year - birth_date.year - (0 if had_birthday else 1)
