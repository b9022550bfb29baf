"""The patient's sheet as a PDF."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404

from clinic.http import StaffRequest, render_page, today_in
from patients.actions import record_view
from patients.models import TextSize
from patients.queries import patient_for, zone_of
from patients.views import person_context
from plans.models import PlanVersion
from plans.queries import versions_of
from plans.sheet import sheet_pdf
from plans.sheet_page import sheet_of
from plans.sheet_setting import Setting


def sheet(request: StaffRequest, pk: int, version_pk: int) -> HttpResponse:
    """Answer with the sheet of an issued version; with why not, for one that is not issued.

    ``large=1`` or ``0`` sets the size of print (else the patient's own), ``letter=1`` the paper,
    ``name=1`` prints the name.
    """
    patient = patient_for(request.user, pk)
    version = get_object_or_404(versions_of(patient), pk=version_pk)
    today = today_in(zone_of(patient))
    if version.state != PlanVersion.State.ISSUED:
        context = person_context(patient, "plan", today) | {"version": version}
        return render_page(request, "plans/sheet_refused.html", context, status=409)
    record_view(user=request.user, patient=patient, page=f"sheet of {version}")
    large = request.GET.get("large", "0" if patient.text_size == TextSize.NORMAL else "1")
    content = sheet_pdf(
        sheet_of(
            patient=patient,
            version=version,
            today=today,
            with_name=request.GET.get("name") == "1",
        ),
        Setting(letter=request.GET.get("letter") == "1", large=large == "1"),
    )
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'inline; filename="home-exercises-plan-{version.number}.pdf"'
        },
    )
