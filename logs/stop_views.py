"""A patient's reported stop signs: reading and answering them, and writing one down."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from clinic.actions import ActionRefused
from clinic.http import StaffRequest, render_page, today_in
from logs.actions import Outcome
from logs.stop_actions import answer_stop, record_stop
from logs.stop_forms import StopAnswerForm, StopReportForm
from logs.stop_page import stops_shown
from logs.stop_queries import next_number, stop_of, stop_tiers, stops_of
from patients.actions import record_view
from patients.models import Patient
from patients.queries import patient_for, zone_of
from patients.views import person_context


def stop_signs(request: StaffRequest, pk: int) -> HttpResponse:
    """Every stop sign that was reported of a patient, with the answers; open ones first."""
    patient = patient_for(request.user, pk)
    record_view(user=request.user, patient=patient, page="stop signs")
    return _page(request, patient)


def _page(
    request: StaffRequest,
    patient: Patient,
    *,
    report_form: StopReportForm | None = None,
    answered: tuple[UUID, StopAnswerForm] | None = None,
) -> HttpResponse:
    """The page; a form that was refused stands on it as it was filled in."""
    zone = zone_of(patient)
    today = today_in(zone)
    tiers = stop_tiers()
    kept = dict([answered]) if answered else {}
    rows = []
    for shown in stops_shown(stops_of(patient)):
        form = kept.get(shown.told.uuid) or StopAnswerForm(
            stop=shown.told, language=patient.get_language_display(), today=today
        )
        rows.append((shown, form))
    context = person_context(patient, "stops", today) | {
        "zone": zone,
        "open": [row for row in rows if not row[0].told.answers],
        "answered": [row for row in rows if row[0].told.answers],
        "opened": answered[0] if answered else None,
        "may_answer": not request.user.needs_signature,
        "report_form": report_form
        or StopReportForm.begun(tiers, timezone.now(), zone, next_number(patient, today)),
        "form": report_form or (answered[1] if answered else None),
    }
    status = 422 if report_form or answered else 200
    return render_page(request, "logs/stop_signs.html", context, status=status)


@require_POST
def stop_report(request: StaffRequest, pk: int) -> HttpResponse:
    """Keep a stop sign that was told to staff."""
    patient = patient_for(request.user, pk)
    zone = zone_of(patient)
    form = StopReportForm(request.POST, tiers=stop_tiers(), today=today_in(zone), zone=zone)
    if not form.is_valid():
        return _page(request, patient, report_form=form)
    try:
        outcome = record_stop(
            patient=patient, uuid=form.cleaned_data["uuid"], told=form.told(), user=request.user
        )
        if outcome is Outcome.CONFLICT:
            raise ActionRefused("This form was sent before with other words. Open it anew.")
    except ActionRefused as refusal:
        form.add_error(None, str(refusal))
        return _page(request, patient, report_form=form)
    messages.success(request, "Kept. It stands here until it is answered.")
    return redirect(reverse("stop_signs", args=[pk]))


@require_POST
def stop_answer(request: StaffRequest, pk: int, uuid: UUID) -> HttpResponse:
    """Answer a report, or correct its answer."""
    patient = patient_for(request.user, pk)
    report = stop_of(patient, uuid)
    told = next((stop for stop in stops_of(patient) if stop.uuid == uuid), None)
    if report is None or told is None:
        raise Http404("no such report")
    today = today_in(zone_of(patient))
    form = StopAnswerForm(
        request.POST, stop=told, language=patient.get_language_display(), today=today
    )
    if not form.is_valid():
        return _page(request, patient, answered=(uuid, form))
    try:
        answer_stop(
            by=request.user,
            report=report,
            decision=form.decision(),
            seen=form.cleaned_data["seen"],
        )
    except ActionRefused as refusal:
        form.add_error(None, str(refusal))
        form.now_seen(report.answers.count())
        return _page(request, patient, answered=(uuid, form))
    messages.success(request, "Answered. The phone learns of it at its next contact.")
    return redirect(reverse("stop_signs", args=[pk]))
