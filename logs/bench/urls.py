"""The clinic's addresses, and the empty pages that others are measured against."""

from django.http import HttpResponse
from django.urls import include, path

from clinic.http import StaffRequest, render_page
from patients.actions import record_view
from patients.models import Patient
from patients.queries import patient_for
from patients.views import person_context


def bare_patient_page(request: StaffRequest, pk: int) -> HttpResponse:
    """A patient's page with access check, read audit and the base template, and nothing in it."""
    patient = patient_for(request.user, pk)
    record_view(user=request.user, patient=patient, page="bench")
    return _bare(request, patient)


def bare_look(request: StaffRequest, pk: int) -> HttpResponse:
    """The same without the audit: what answers while somebody types has none of its own."""
    return _bare(request, patient_for(request.user, pk))


def _bare(request: StaffRequest, patient: Patient) -> HttpResponse:
    context = person_context(patient, "review", patient.added_at.date())
    return render_page(request, "patients/person.html", context)


def bare_page(request: StaffRequest) -> HttpResponse:
    """A signed-in page with the base template, and nothing in it."""
    return render_page(request, "clinic/base.html", {"section": "exercises"})


urlpatterns = [
    path("bench/patient/<int:pk>/", bare_patient_page, name="bare_patient_page"),
    path("bench/patient/<int:pk>/look/", bare_look, name="bare_look"),
    path("bench/page/", bare_page, name="bare_page"),
    path("", include("clinic.urls")),
]
