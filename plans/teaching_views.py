"""The one POST of a teach-back."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from clinic.actions import ActionRefused
from clinic.http import StaffRequest, today_in
from patients.queries import patient_for, zone_of
from plans.models import Line
from plans.plan_page import shown_line
from plans.teaching_actions import record_teach_back
from plans.teaching_forms import TeachBackForm


@require_POST
def teach_back(request: StaffRequest, pk: int, line_pk: int) -> HttpResponse:
    """Record how the patient showed one line; go back to the version that has it."""
    patient = patient_for(request.user, pk)
    line = get_object_or_404(
        Line.objects.select_related("version", "revision"), pk=line_pk, version__patient=patient
    )
    form = TeachBackForm(request.POST)
    if not form.is_valid():
        messages.error(
            request, "Say how the patient showed it, in at most 300 letters of watching."
        )
    else:
        try:
            record = record_teach_back(
                by=request.user,
                line=line,
                shown=form.cleaned_data["shown"],
                watch=form.cleaned_data["watch"],
                today=today_in(zone_of(patient)),
            )
        except ActionRefused as refusal:
            messages.error(request, str(refusal))
        else:
            name = shown_line(line).title
            messages.success(request, f"{name}: {record.get_shown_display()}.")
    return redirect("plan_version", pk=pk, version_pk=line.version_id)
