"""Reading the file that a phone has handed over."""

from dataclasses import dataclass

from django.http import HttpResponse
from django.urls import reverse

from clinic.actions import ActionRefused
from clinic.http import StaffRequest, render_page, today_in
from logs.handover import LARGEST_BYTES, read_handover
from logs.handover_actions import Imported, OtherPatient, import_handover
from patients.models import Patient
from patients.queries import patient_for, zone_of
from patients.views import person_context
from plans.jsonfile import JsonError, Place

OF_ANOTHER = "this file is not of this patient's phone. Look whose it is, and read it on their page"


@dataclass(frozen=True)
class HandoverPage:
    """The form, and after it what became of a file: stored, or refused with the places."""

    imported: Imported | None = None
    problems: tuple[tuple[Place | None, str], ...] = ()


def handover(request: StaffRequest, pk: int) -> HttpResponse:
    """Read a hand-over file of one patient's phone; safe to repeat."""
    patient = patient_for(request.user, pk)
    page = _read(request, patient) if request.method == "POST" else HandoverPage()
    context = person_context(patient, "overview", today_in(zone_of(patient))) | {
        "page": page,
        "back": reverse("patient", args=[pk]) + "#phones",
    }
    return render_page(request, "logs/handover.html", context, status=422 if page.problems else 200)


def _read(request: StaffRequest, patient: Patient) -> HandoverPage:
    file = request.FILES.get("file")
    if file is None:
        return HandoverPage(problems=((None, "Choose the file that the phone made."),))
    content = file.read(LARGEST_BYTES + 1)
    try:
        handed = read_handover(content)
        return HandoverPage(import_handover(by=request.user, patient=patient, handover=handed))
    except JsonError as broken:
        return HandoverPage(problems=tuple(broken.problems))
    except OtherPatient:
        return HandoverPage(problems=((handed.owner_place, OF_ANOTHER),))
    except ActionRefused as refused:
        return HandoverPage(problems=((None, str(refused)),))
