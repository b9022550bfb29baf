"""The precautions of one patient: set, kept, lifted; from the clinic's protocols or by hand."""

from datetime import date

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from clinic.actions import ActionRefused
from clinic.http import StaffRequest, render_page, today_in
from patients import precaution_actions, precaution_queries
from patients.actions import record_view
from patients.models import Episode, Patient
from patients.precaution_forms import (
    KeepForm,
    LiftForm,
    PrecautionForm,
    ProtocolForm,
    form_values,
    proposed_precaution,
)
from patients.precaution_models import Precaution
from patients.precaution_protocols import Protocol
from patients.precautions import Kind, Standing
from patients.queries import patient_for, zone_of
from patients.views import person_context

TEMPLATE = "patients/precautions.html"


def precautions(request: StaffRequest, pk: int) -> HttpResponse:
    """All precautions, with the protocols to choose from."""
    patient = patient_for(request.user, pk)
    record_view(user=request.user, patient=patient, page="precautions")
    protocol = precaution_queries.protocol_of(request.GET.get("protocol", ""))
    return _page(request, patient, protocol=protocol)


def _page(
    request: StaffRequest,
    patient: Patient,
    *,
    protocol: Protocol | None = None,
    protocol_form: ProtocolForm | None = None,
) -> HttpResponse:
    today = today_in(zone_of(patient))
    rows = [(row, row.standing(today)) for row in precaution_queries.precaution_list(patient)]
    protocols, problems = precaution_queries.protocols()
    episodes = list(patient.episodes.all())
    if protocol and protocol_form is None:
        protocol_form = ProtocolForm(
            patient=patient,
            count=len(protocol.precautions),
            initial={"side": patient.affected_side, "episode": episodes[0] if episodes else None},
        )
    context = person_context(patient, "precautions", today) | {
        "today": today,
        "zone": zone_of(patient),
        "standing": [(row, stands) for row, stands in rows if stands != Standing.LIFTED],
        "lifted": [row for row, stands in rows if stands == Standing.LIFTED],
        "protocols": protocols,
        "problems": problems,
        "protocol": protocol,
        "proposed": [
            (number, proposed, protocol_form is None or protocol_form.is_ticked(number))
            for number, proposed in enumerate(protocol.precautions if protocol else ())
        ],
        "protocol_form": protocol_form,
        "has_episode": bool(episodes),
        "may_lift": not request.user.needs_signature,
    }
    is_refused = protocol_form is not None and protocol_form.is_bound
    return render_page(request, TEMPLATE, context, status=422 if is_refused else 200)


def precaution_new(request: StaffRequest, pk: int) -> HttpResponse:
    """Set one precaution by hand, or one of a protocol's after editing it."""
    patient = patient_for(request.user, pk)
    today = today_in(zone_of(patient))
    start = _start_of(request, patient, today)
    form = PrecautionForm(
        request.POST if request.method == "POST" else None,
        instance=start,
        initial=form_values(start),
    )
    if request.method == "POST" and form.is_valid():
        try:
            precaution_actions.set_precaution(by=request.user, precaution=form.instance)
        except ActionRefused as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"Set: {form.instance.limit.words}.")
            return redirect("precautions", pk=pk)
    context = person_context(patient, "precautions", today) | {"form": form, "today": today}
    status = 422 if form.is_bound else 200
    return render_page(request, "patients/precaution_form.html", context, status=status)


def _start_of(request: StaffRequest, patient: Patient, today: date) -> Precaution:
    """Return what the form begins with: a protocol's precaution, or nearly nothing."""
    protocol = precaution_queries.protocol_of(request.GET.get("protocol", ""))
    number = request.GET.get("edit", "")
    episode = (
        patient.episodes.filter(pk=int(request.GET.get("episode") or 0)).first()
        if (request.GET.get("episode", "0").isdecimal())
        else None
    )
    episode = episode or patient.episodes.first()
    if protocol and episode and number.isdecimal() and int(number) < len(protocol.precautions):
        proposed = protocol.precautions[int(number)]
        return proposed_precaution(proposed, episode=episode, side=patient.affected_side)
    return Precaution(
        patient=patient, kind=Kind.ANGLE.value, side=patient.affected_side, from_day=today
    )


@require_POST
def protocol_accept(request: StaffRequest, pk: int, key: str) -> HttpResponse:
    """Set the ticked precautions of a protocol."""
    patient = patient_for(request.user, pk)
    protocol = precaution_queries.protocol_of(key)
    if protocol is None:
        messages.error(request, "That protocol is not there any more. Choose another one.")
        return redirect("precautions", pk=pk)
    form = ProtocolForm(request.POST, patient=patient, count=len(protocol.precautions))
    if not form.is_valid():
        return _page(request, patient, protocol=protocol, protocol_form=form)
    episode: Episode = form.cleaned_data["episode"]
    chosen = []
    for number in form.cleaned_data["ticked"]:
        precaution = proposed_precaution(
            protocol.precautions[number], episode=episode, side=form.cleaned_data["side"]
        )
        precaution.set_by = form.cleaned_data["set_by"]
        chosen.append(precaution)
    done = precaution_actions.set_precautions(by=request.user, precautions=chosen)
    messages.success(request, f"{len(done)} set from “{protocol.name}”.")
    return redirect("precautions", pk=pk)


@require_POST
def precaution_lift(request: StaffRequest, pk: int, precaution_pk: int) -> HttpResponse:
    """Lift a precaution."""
    precaution = _precaution(request, pk, precaution_pk)
    form = LiftForm(request.POST)
    why = form.cleaned_data["why"] if form.is_valid() else ""
    try:
        precaution_actions.lift_precaution(by=request.user, precaution=precaution, why=why)
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"Lifted: {precaution.limit.words}.")
    return redirect("precautions", pk=pk)


@require_POST
def precaution_keep(request: StaffRequest, pk: int, precaution_pk: int) -> HttpResponse:
    """Keep a precaution until another review."""
    precaution = _precaution(request, pk, precaution_pk)
    form = KeepForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Say why it stays, and on which day to look at it again.")
        return redirect("precautions", pk=pk)
    try:
        precaution_actions.keep_precaution(
            by=request.user,
            precaution=precaution,
            today=today_in(zone_of(precaution.patient)),
            **form.cleaned_data,
        )
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"Kept: {precaution.limit.words}.")
    return redirect("precautions", pk=pk)


def _precaution(request: StaffRequest, pk: int, precaution_pk: int) -> Precaution:
    patient = patient_for(request.user, pk)
    return get_object_or_404(Precaution, pk=precaution_pk, patient=patient)
