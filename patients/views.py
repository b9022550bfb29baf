"""Pages about people."""

from datetime import date

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from clinic.actions import ActionRefused
from clinic.http import StaffRequest, render_page, today_in
from clinic.models import Role
from clinic.queries import clinic_profile, patient_history, patient_readers
from patients import actions, queries
from patients.forms import CareTeamForm, CoverForm, EpisodeForm, HomeHelperForm, PatientForm
from patients.models import CareTeamMember, Episode, HomeHelper, Patient
from patients.phones import phone_summaries, waiting_invite
from patients.precaution_queries import precautions_on


def person_context(patient: Patient, tab: str, today: date) -> dict[str, object]:
    """Return what the bar over every page of one patient shows."""
    return {
        "patient": patient,
        "tab": tab,
        "section": "patients",
        "age_years": queries.age_years(patient.birth_date, today),
        "episode": patient.episodes.filter(closed_day__isnull=True).first(),
        "precautions": precautions_on(patient, today),
    }


def home(request: StaffRequest) -> HttpResponse:
    """Send each role to its first page."""
    if request.user.role == Role.ADMINISTRATOR:
        return redirect("staff")
    if request.user.role == Role.SUPERVISOR:
        return redirect("caseload")
    return redirect("patients")


def patient_list(request: StaffRequest) -> HttpResponse:
    """One's own patients, found by name or number as one types."""
    if not request.user.may_treat:
        return redirect("home")
    words = request.GET.get("q", "")
    context = {
        "section": "patients",
        "patients": queries.found_patients(request.user, words),
        "words": words,
        "cover_form": CoverForm(),
    }
    return render_page(request, "patients/patient_list.html", context, fragment="list")


@require_POST
def cover(request: StaffRequest) -> HttpResponse:
    """Open a colleague's patient with a reason."""
    form = CoverForm(request.POST)
    if form.is_valid():
        try:
            patient = actions.cover_patient(by=request.user, **form.cleaned_data)
        except ActionRefused as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.warning(request, "You are covering. Your reason is on record.")
            return redirect("patient", pk=patient.pk)
    context = {
        "section": "patients",
        "patients": queries.found_patients(request.user, ""),
        "words": "",
        "cover_form": form,
    }
    return render_page(request, "patients/patient_list.html", context, status=422)


def patient_new(request: StaffRequest) -> HttpResponse:
    """Add a patient."""
    if not request.user.may_treat:
        return redirect("home")
    form = PatientForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        patient = actions.add_patient(by=request.user, patient=form.instance)
        messages.success(request, f"{patient.name} is added. Now say what the care is for.")
        return redirect("episode_new", pk=patient.pk)
    return render_page(request, "patients/patient_form.html", {"form": form, "section": "patients"})


def patient_page(request: StaffRequest, pk: int) -> HttpResponse:
    """One patient: who they are, their episodes, helpers, care team, phones and history."""
    patient = queries.patient_for(request.user, pk)
    today = today_in(queries.zone_of(patient))
    actions.record_view(user=request.user, patient=patient, page="patient")
    context = person_context(patient, "overview", today) | {
        "today": today,
        "episodes": patient.episodes.all(),
        "helpers": patient.home_helpers.all(),
        "team": queries.care_team(patient),
        "team_form": CareTeamForm(),
        "phones": phone_summaries(patient),
        "invite": waiting_invite(patient, timezone.now()),
        "history": patient_history(patient.pk, 30),
        "readers": patient_readers(patient.pk, 30),
    }
    return render_page(request, "patients/patient.html", context)


def patient_edit(request: StaffRequest, pk: int) -> HttpResponse:
    """Change a patient's details."""
    patient = queries.patient_for(request.user, pk)
    form = PatientForm(request.POST or None, instance=patient)
    if request.method == "POST" and form.is_valid():
        actions.change_patient(by=request.user, patient=form.instance, fields=list(form.fields))
        messages.success(request, "Saved.")
        return redirect("patient", pk=pk)
    shown = queries.patient_for(request.user, pk)  # the bar keeps the saved name while typing fails
    context = person_context(shown, "overview", today_in(clinic_profile().time_zone))
    return render_page(request, "patients/patient_form.html", context | {"form": form})


def episode_form(request: StaffRequest, pk: int, episode_pk: int | None = None) -> HttpResponse:
    """Add or change an episode of care."""
    patient = queries.patient_for(request.user, pk)
    today = today_in(queries.zone_of(patient))
    episode = (
        get_object_or_404(Episode, pk=episode_pk, patient=patient)
        if episode_pk
        else Episode(patient=patient, opened_day=today)
    )
    form = EpisodeForm(request.POST or None, instance=episode)
    if request.method == "POST" and form.is_valid():
        actions.save_episode(by=request.user, episode=form.instance)
        messages.success(request, "The episode is saved.")
        return redirect("patient", pk=pk)
    context = person_context(patient, "overview", today) | {"form": form, "what": "Episode of care"}
    return render_page(request, "patients/part_form.html", context)


def helper_form(request: StaffRequest, pk: int, helper_pk: int | None = None) -> HttpResponse:
    """Add or change someone who helps at home."""
    patient = queries.patient_for(request.user, pk)
    helper = (
        get_object_or_404(HomeHelper, pk=helper_pk, patient=patient)
        if helper_pk
        else HomeHelper(patient=patient)
    )
    form = HomeHelperForm(request.POST or None, instance=helper)
    if request.method == "POST" and form.is_valid():
        actions.save_home_helper(by=request.user, helper=form.instance)
        messages.success(request, "Saved.")
        return redirect("patient", pk=pk)
    context = person_context(patient, "overview", today_in(queries.zone_of(patient))) | {
        "form": form,
        "what": "Helper at home",
    }
    return render_page(request, "patients/part_form.html", context)


@require_POST
def team_join(request: StaffRequest, pk: int) -> HttpResponse:
    """Add a colleague to the care team."""
    patient = queries.patient_for(request.user, pk)
    form = CareTeamForm(request.POST)
    if form.is_valid():
        try:
            actions.join_care_team(by=request.user, patient=patient, user=form.cleaned_data["user"])
        except ActionRefused as refusal:
            messages.error(request, str(refusal))
    else:
        messages.error(request, "Choose a colleague.")
    return redirect("patient", pk=pk)


@require_POST
def team_leave(request: StaffRequest, pk: int, member_pk: int) -> HttpResponse:
    """Take someone out of the care team."""
    patient = queries.patient_for(request.user, pk)
    member = get_object_or_404(CareTeamMember, pk=member_pk, patient=patient, until=None)
    try:
        actions.leave_care_team(by=request.user, member=member)
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
        return redirect("patient", pk=pk)
    return redirect("patients") if member.user_id == request.user.pk else redirect("patient", pk=pk)
