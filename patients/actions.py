"""Writes of people, episodes and care teams: one transaction and one audit row each."""

from collections.abc import Collection

from django.db import connection, transaction
from django.utils import timezone

from clinic.actions import ActionRefused, write_audit
from clinic.models import User
from clinic.queries import OPENED
from patients.models import CareTeamMember, Episode, HomeHelper, Patient
from patients.queries import patient_by_number, patients_of


@transaction.atomic
def add_patient(*, by: User | None, patient: Patient, actor: str = "") -> Patient:
    """Add a patient; whoever adds one is the first of the care team."""
    patient.save()
    if by:
        CareTeamMember.objects.create(patient=patient, user=by, since=timezone.now())
    write_audit(
        user=by,
        actor=actor,
        verb="added patient",
        subject=patient.clinic_number,
        patient_id=patient.pk,
    )
    return patient


@transaction.atomic
def change_patient(*, by: User, patient: Patient, fields: list[str]) -> Patient:
    """Save what a form changed of a patient."""
    patient.save(update_fields=fields)
    write_audit(
        user=by,
        verb="changed patient",
        subject=patient.clinic_number,
        patient_id=patient.pk,
        fields=fields,
    )
    return patient


@transaction.atomic
def save_episode(*, by: User | None, episode: Episode) -> Episode:
    """Add or change an episode of care."""
    verb = "changed episode" if episode.pk else "added episode"
    episode.save()
    write_audit(user=by, verb=verb, subject=episode.diagnosis, patient_id=episode.patient_id)
    return episode


@transaction.atomic
def save_home_helper(*, by: User | None, helper: HomeHelper) -> HomeHelper:
    """Add or change someone who helps at home."""
    verb = "changed helper" if helper.pk else "added helper"
    helper.save()
    write_audit(user=by, verb=verb, subject=helper.name, patient_id=helper.patient_id)
    return helper


@transaction.atomic
def join_care_team(*, by: User, patient: Patient, user: User) -> CareTeamMember:
    """Add a colleague to a patient's care team."""
    if not user.may_treat:
        raise ActionRefused(f"{user.name} doesn't treat patients.")
    member, added = CareTeamMember.objects.get_or_create(
        patient=patient, user=user, until=None, defaults={"since": timezone.now()}
    )
    if not added and not member.cover_reason:
        raise ActionRefused(f"{user.name} is already in the care team.")
    if not added:  # cover becomes care
        member.cover_reason = ""
        member.save(update_fields=["cover_reason"])
    write_audit(user=by, verb="added to care team", subject=user.name, patient_id=patient.pk)
    return member


@transaction.atomic
def leave_care_team(*, by: User, member: CareTeamMember) -> None:
    """Take someone out of a care team; the last one can't go, or nobody would look."""
    others = CareTeamMember.objects.filter(patient=member.patient, until__isnull=True).exclude(
        pk=member.pk
    )
    if not others.filter(cover_reason="").exists():
        raise ActionRefused("Add another person first: a patient needs someone in charge.")
    member.until = timezone.now()
    member.save(update_fields=["until"])
    write_audit(
        user=by, verb="left care team", subject=member.user.name, patient_id=member.patient_id
    )


@transaction.atomic
def cover_patient(*, by: User, clinic_number: str, reason: str) -> Patient:
    """Open a colleague's patient in an emergency or absence; the reason stays on record."""
    if not by.may_treat:
        raise ActionRefused("Your role doesn't open patients' pages.")
    if not reason.strip():
        raise ActionRefused("Write why you need this patient's pages.")
    patient = patient_by_number(clinic_number.strip())
    if patient is None:
        raise ActionRefused("No patient has that clinic number. Check it and try again.")
    if not patients_of(by).filter(pk=patient.pk).exists():
        CareTeamMember.objects.create(
            patient=patient, user=by, since=timezone.now(), cover_reason=reason.strip()
        )
        write_audit(
            user=by,
            verb="took cover",
            subject=patient.clinic_number,
            patient_id=patient.pk,
            reason=reason.strip(),
        )
    return patient


def record_view(*, user: User, patient: Patient, page: str) -> None:
    """Write down that a person opened a patient's page."""
    write_audit(user=user, verb=OPENED, subject=page, patient_id=patient.pk)


def lock_patients(patients: Collection[int]) -> None:
    """Let whoever else writes what is counted of these patients wait until we are through.

    Call it inside a transaction, first of all. SQLite has one writer at a time anyway.
    """
    if connection.features.has_select_for_update:
        rows = Patient.objects.select_for_update(no_key=True).filter(pk__in=patients)
        list(rows.order_by("pk").values_list("pk", flat=True))
