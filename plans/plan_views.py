"""Pages of a plan as it stands, its versions and its pauses."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from clinic.actions import ActionRefused
from clinic.http import StaffRequest, render_page, today_in
from patients.actions import record_view
from patients.models import Patient
from patients.queries import patient_for, zone_of
from patients.views import person_context
from plans import actions, queries, safety_actions, safety_queries
from plans.catalogue_actions import MAY_WRITE
from plans.forms import (
    PauseEndForm,
    PauseForm,
    SendBackForm,
    StrikeForm,
    ToldForm,
    WithdrawForm,
)
from plans.models import Pause, PlanVersion, TeachBack
from plans.plan_page import plan_page, shown_version, version_changes
from plans.teaching_page import taught_lines


def plan(request: StaffRequest, pk: int) -> HttpResponse:
    """The plan in force today, its pauses and its versions."""
    patient = patient_for(request.user, pk)
    record_view(user=request.user, patient=patient, page="plan")
    return _plan(request, patient)


def _plan(
    request: StaffRequest, patient: Patient, pause_form: PauseForm | None = None
) -> HttpResponse:
    zone = zone_of(patient)
    today = today_in(zone)
    context = person_context(patient, "plan", today) | {
        "today": today,
        "zone": zone,
        "page": plan_page(patient, today),
        "pause_form": pause_form or PauseForm(initial={"first_day": today}),
    }
    return render_page(request, "plans/plan.html", context, status=422 if pause_form else 200)


def plan_version(request: StaffRequest, pk: int, version_pk: int) -> HttpResponse:
    """One version in words, what it changed, and its countersignature."""
    patient = patient_for(request.user, pk)
    version = queries.versions_of(patient).filter(pk=version_pk).first()
    if version is None:
        raise Http404("no such version")
    if version.state == PlanVersion.State.DRAFT:
        return redirect("draft", pk=pk)
    record_view(user=request.user, patient=patient, page=str(version))
    return _version(request, patient, version)


def _version(
    request: StaffRequest,
    patient: Patient,
    version: PlanVersion,
    send_back_form: SendBackForm | None = None,
) -> HttpResponse:
    zone = zone_of(patient)
    today = today_in(zone)
    version.patient = patient
    shown = shown_version(version, max(today, version.effective_day or today))
    context = person_context(patient, "plan", today) | {
        "today": today,
        "zone": zone,
        "shown": shown,
        "changes": version_changes(queries.version_before(version), shown),
        "may_write": request.user.role in MAY_WRITE,
        "may_judge": request.user.may_sign and version.issued_by_id != request.user.pk,
        "form": send_back_form or SendBackForm(),
        "taught": taught_lines(patient, shown),
        "shown_choices": TeachBack.Shown.choices,
    }
    status = 422 if send_back_form else 200
    return render_page(request, "plans/version.html", context, status=status)


@require_POST
def sign(request: StaffRequest, pk: int, version_pk: int) -> HttpResponse:
    """Countersign a waiting version."""
    patient = patient_for(request.user, pk)
    version = get_object_or_404(PlanVersion, pk=version_pk, patient=patient)
    try:
        actions.sign_version(by=request.user, version=version, today=today_in(zone_of(patient)))
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
        return redirect("plan_version", pk=pk, version_pk=version_pk)
    messages.success(request, f"Version {version.number} is signed.")
    return redirect("plan", pk=pk)


@require_POST
def send_back(request: StaffRequest, pk: int, version_pk: int) -> HttpResponse:
    """Return a waiting version to its maker, with what to change."""
    patient = patient_for(request.user, pk)
    version = get_object_or_404(queries.versions_of(patient), pk=version_pk)
    form = SendBackForm(request.POST)
    if not form.is_valid():
        return _version(request, patient, version, form)
    try:
        actions.send_back(by=request.user, version=version, note=form.cleaned_data["note"])
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
        return redirect("plan_version", pk=pk, version_pk=version_pk)
    messages.success(request, f"Version {version.number} went back as a draft, with your note.")
    return redirect("plan", pk=pk)


@require_POST
def withdraw(request: StaffRequest, pk: int) -> HttpResponse:
    """Withdraw a line, or the whole plan, from today on."""
    patient = patient_for(request.user, pk)
    form = WithdrawForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Write why it is withdrawn.")
        return redirect("plan", pk=pk)
    try:
        withdrawal = safety_actions.withdraw(
            by=request.user, patient=patient, today=today_in(zone_of(patient)), **form.cleaned_data
        )
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"Withdrawn from today: {withdrawal.title}.")
    return redirect("plan", pk=pk)


@require_POST
def withdrawal_told(request: StaffRequest, pk: int, withdrawal_pk: int) -> HttpResponse:
    """Keep that the patient was told of a withdrawal."""
    patient = patient_for(request.user, pk)
    withdrawal = safety_queries.withdrawal_of(patient, withdrawal_pk)
    if withdrawal is None:
        raise Http404("no such withdrawal")
    form = ToldForm(request.POST)
    try:
        how = form.cleaned_data["how"] if form.is_valid() else ""
        safety_actions.mark_told(by=request.user, withdrawal=withdrawal, how=how)
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "Kept: the patient was told.")
    return redirect("plan", pk=pk)


@require_POST
def pause_add(request: StaffRequest, pk: int) -> HttpResponse:
    """Pause the plan."""
    patient = patient_for(request.user, pk)
    form = PauseForm(request.POST)
    if not form.is_valid():
        return _plan(request, patient, form)
    actions.add_pause(
        by=request.user, patient=patient, today=today_in(zone_of(patient)), **form.cleaned_data
    )
    messages.success(request, "The pause is entered. Nothing is due on its days.")
    return redirect("plan", pk=pk)


@require_POST
def pause_end(request: StaffRequest, pk: int, pause_pk: int) -> HttpResponse:
    """Set the last day of a pause."""
    pause = _pause(request, pk, pause_pk)
    form = PauseEndForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Write the last day of the pause.")
        return redirect("plan", pk=pk)
    try:
        actions.end_pause(by=request.user, pause=pause, last_day=form.cleaned_data["last_day"])
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "The last day of the pause is set.")
    return redirect("plan", pk=pk)


@require_POST
def pause_strike(request: StaffRequest, pk: int, pause_pk: int) -> HttpResponse:
    """Strike out a pause made by mistake."""
    pause = _pause(request, pk, pause_pk)
    form = StrikeForm(request.POST)
    try:
        reason = form.cleaned_data["reason"] if form.is_valid() else ""
        actions.strike_pause(by=request.user, pause=pause, reason=reason)
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "The pause is struck out. It stays on record.")
    return redirect("plan", pk=pk)


def _pause(request: StaffRequest, pk: int, pause_pk: int) -> Pause:
    patient = patient_for(request.user, pk)
    return get_object_or_404(Pause, pk=pause_pk, patient=patient, struck_at=None)
