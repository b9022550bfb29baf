"""Pages of assessments: what was measured last, every record, one motion over time, the form."""

from collections.abc import Mapping

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect

from clinic.actions import ActionRefused
from clinic.http import StaffRequest, render_page, today_in
from patients import assessment_queries as queries
from patients.actions import record_view
from patients.assessment_actions import record_assessment
from patients.assessment_cells import history_rows
from patients.assessment_forms import AssessmentForm, ChoiceOfJoints
from patients.assessment_page import assessment_page, before, side_order
from patients.assessment_rows import carried_over, joints_of, typed_again
from patients.measures_models import Assessment
from patients.models import Patient
from patients.motions import MOTIONS, Joint
from patients.precaution_queries import precautions_on
from patients.queries import patient_for, zone_of
from patients.views import person_context

BACK_TO = ("draft", "plan")
"""Pages, by the name of their address, that a link to a new assessment may ask to go back to."""

FIRST_JOINTS = (Joint.SHOULDER, Joint.ELBOW)
"""Shown on a first assessment, until others are chosen."""


def assessment(request: StaffRequest, pk: int) -> HttpResponse:
    """The latest assessment with what changed, and the list of all."""
    patient = patient_for(request.user, pk)
    record_view(user=request.user, patient=patient, page="assessment")
    return _shown(request, patient, None)


def assessment_record(request: StaffRequest, pk: int, assessment_pk: int) -> HttpResponse:
    """One assessment as it was recorded, corrected or not."""
    patient = patient_for(request.user, pk)
    record = queries.assessment_of(patient, assessment_pk)
    if record is None:
        raise Http404("no such assessment")
    record_view(user=request.user, patient=patient, page=str(record))
    return _shown(request, patient, record)


def _shown(request: StaffRequest, patient: Patient, record: Assessment | None) -> HttpResponse:
    standing = queries.standing_assessments(patient)
    rules = queries.error_rules()
    shown = record or (standing[0] if standing else None)
    context = person_context(patient, "assessment", today_in(zone_of(patient))) | {
        "is_latest": bool(standing) and shown == standing[0],
        "page": assessment_page(patient, shown, before(shown, standing), rules) if shown else None,
        "all_assessments": list(queries.assessment_list(patient)),
        "rules": rules,
    }
    return render_page(request, "patients/assessment.html", context)


def assessment_motion(request: StaffRequest, pk: int, motion: str) -> HttpResponse:
    """One motion in every assessment that measured it."""
    patient = patient_for(request.user, pk)
    if motion not in MOTIONS:
        raise Http404("no such motion")
    record_view(user=request.user, patient=patient, page=f"assessment of {motion}")
    order = side_order(patient)
    context = person_context(patient, "assessment", today_in(zone_of(patient))) | {
        "motion": MOTIONS[motion],
        "sides": order,
        "rows": history_rows(queries.motion_history(patient, motion), order),
    }
    return render_page(request, "patients/assessment_motion.html", context)


def assessment_new(request: StaffRequest, pk: int) -> HttpResponse:
    """Enter an assessment as it is measured; choosing joints keeps what was typed.

    A link may name the joints to show (``joints=shoulder``, as often as needed) and where to go
    once it is kept (``then=draft`` or ``plan``).
    """
    return _entry(request, patient_for(request.user, pk), None)


def assessment_correct(request: StaffRequest, pk: int, assessment_pk: int) -> HttpResponse:
    """Record a correction; what it corrects stays on record."""
    patient = patient_for(request.user, pk)
    corrects = queries.assessment_of(patient, assessment_pk)
    if corrects is None:
        raise Http404("no such assessment")
    if hasattr(corrects, "superseded_by"):
        messages.error(request, "This assessment was corrected already. Correct the correction.")
        return redirect("assessment_record", pk=pk, assessment_pk=corrects.superseded_by.pk)
    return _entry(request, patient, corrects)


def _entry(request: StaffRequest, patient: Patient, corrects: Assessment | None) -> HttpResponse:
    today = today_in(zone_of(patient))
    standing = queries.standing_assessments(patient)
    last = corrects or (standing[0] if standing else None)
    typed: Mapping[str, object] = {}
    if last is not None:
        typed = typed_again(last) if corrects else carried_over(last)
    choice = ChoiceOfJoints(request.POST or request.GET)
    joints, sides = choice.chosen(joints_of(last) if last else FIRST_JOINTS)
    precautions = precautions_on(patient, today)
    choosing = request.method == "POST" and "show" in request.POST
    form = AssessmentForm(
        request.POST if request.method == "POST" else None,
        joints=joints,
        sides=sides,
        order=side_order(patient),
        by=request.user,
        raters=list(queries.raters(patient)),
        today=today,
        first=typed,
        corrects=corrects,
        limits=[precaution.limit for precaution in precautions],
    )
    status = 200
    if request.method == "POST" and not choosing:
        status = 422
        if form.is_valid():
            try:
                record = record_assessment(
                    by=request.user,
                    patient=patient,
                    assessment=form.assessment(),
                    measures=form.measures(),
                    today=today,
                )
            except ActionRefused as refusal:
                form.add_error(None, str(refusal))
            else:
                messages.success(
                    request, f"The assessment of {record.measured_day:%-d %B} is kept."
                )
                then = request.GET.get("then", "")
                return redirect(then if then in BACK_TO else "assessment", pk=patient.pk)
    context = person_context(patient, "assessment", today) | {
        "form": form,
        "choice": ChoiceOfJoints(
            initial={"joints": [joint.value for joint in joints], "sides": sides}
        ),
        "corrects": corrects,
        "choosing": choosing,
        "precautions": precautions,
    }
    return render_page(
        request, "patients/assessment_form.html", context, fragment="measures", status=status
    )
