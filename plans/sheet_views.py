"""The patient's sheet: as a PDF, as one page at a glance, and as a web page."""

from datetime import date

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_POST

from clinic.http import StaffRequest, render_page, today_in
from clinic.languages import LANGUAGES, direction
from patients.actions import record_view
from patients.models import Patient, TextSize
from patients.phones import INVITE_LIFE, local_day, make_invite
from patients.queries import patient_for, zone_of
from patients.views import person_context
from plans.models import PlanVersion
from plans.queries import versions_of
from plans.sheet import Sheet, fridge_pdf, sheet_pdf
from plans.sheet_page import sheet_of, sheet_pictures
from plans.sheet_phone import PhoneCode
from plans.sheet_setting import Setting
from plans.sheet_web import WebSheet


def sheet(request: StaffRequest, pk: int, version_pk: int) -> HttpResponse:
    """Answer with the sheet of an issued version; with why not, for one that is not issued.

    ``large=1`` or ``0`` sets the size of print (else the patient's own), ``letter=1`` the paper,
    ``name=1`` prints the name, ``fridge=1`` asks for the one page at a glance.
    """
    patient = patient_for(request.user, pk)
    version = get_object_or_404(versions_of(patient), pk=version_pk)
    return _no_pdf(request, patient, version) or _pdf(request, patient, version)


@require_POST
def sheet_with_phone(request: StaffRequest, pk: int, version_pk: int) -> HttpResponse:
    """Make an enrolment link and answer with the sheet that carries it, this once.

    As a PDF; as a web page where ``form=web`` asks for it, or the language can't be set otherwise.
    """
    patient = patient_for(request.user, pk)
    version = get_object_or_404(versions_of(patient), pk=version_pk)
    if refused := _refused(request, patient, version):
        return refused
    now = timezone.now()
    link = make_invite(by=request.user, patient=patient, now=now)
    phone = PhoneCode(link, local_day(patient, now + INVITE_LIFE))
    is_web = request.POST.get("form") == "web" or direction(patient.language) == "rtl"
    return (_web if is_web else _pdf)(request, patient, version, phone)


def sheet_web(request: StaffRequest, pk: int, version_pk: int) -> HttpResponse:
    """The same sheet as a page that screen readers read and a browser prints.

    It takes ``large``, ``name`` and ``fridge`` as the PDF does; the browser knows the paper.
    """
    patient = patient_for(request.user, pk)
    version = get_object_or_404(versions_of(patient), pk=version_pk)
    return _refused(request, patient, version) or _web(request, patient, version)


def _refused(request: StaffRequest, patient: Patient, version: PlanVersion) -> HttpResponse | None:
    """Answer why a version that is not issued has no sheet."""
    return (
        None if version.state == PlanVersion.State.ISSUED else _refusal(request, patient, version)
    )


def _no_pdf(request: StaffRequest, patient: Patient, version: PlanVersion) -> HttpResponse | None:
    """Answer why there is no PDF: not issued, or in a language that a PDF can't set."""
    if direction(patient.language) == "rtl":
        return _refusal(request, patient, version)
    return _refused(request, patient, version)


def _refusal(request: StaffRequest, patient: Patient, version: PlanVersion) -> HttpResponse:
    context = person_context(patient, "plan", today_in(zone_of(patient))) | {
        "version": version,
        "language": LANGUAGES[patient.language].english_name,
    }
    return render_page(request, "plans/sheet_refused.html", context, status=409)


def _is_large(request: StaffRequest, patient: Patient) -> bool:
    usual = "0" if patient.text_size == TextSize.NORMAL else "1"
    return request.GET.get("large", usual) == "1"


def _made(
    request: StaffRequest, patient: Patient, version: PlanVersion, phone: PhoneCode | None
) -> Sheet:
    """Return what the sheet says, and note that it was opened."""
    record_view(user=request.user, patient=patient, page=f"sheet of {version}")
    return sheet_of(
        patient=patient,
        version=version,
        today=today_in(zone_of(patient)),
        with_name=request.GET.get("name") == "1",
        next_visit=parse_day(request.GET.get("until", "")),
        phone=phone,
    )


def parse_day(text: str) -> date | None:
    """Return the day that was chosen; None where none was, or what was sent is no day."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def _is_fridge(request: StaffRequest, phone: PhoneCode | None) -> bool:
    return request.GET.get("fridge") == "1" and phone is None


def _web(
    request: StaffRequest,
    patient: Patient,
    version: PlanVersion,
    phone: PhoneCode | None = None,
) -> HttpResponse:
    made = _made(request, patient, version, phone)
    context = {
        "page": WebSheet(made, sheet_pictures(version, made.words)),
        "version": version,
        "is_large": _is_large(request, patient),
    }
    form = "sheet_fridge_web" if _is_fridge(request, phone) else "sheet_web"
    return render_page(request, f"plans/{form}.html", context)


def _pdf(
    request: StaffRequest,
    patient: Patient,
    version: PlanVersion,
    phone: PhoneCode | None = None,
) -> HttpResponse:
    made = _made(request, patient, version, phone)
    setting = Setting(letter=request.GET.get("letter") == "1", large=_is_large(request, patient))
    is_fridge = _is_fridge(request, phone)
    content = fridge_pdf(made, setting) if is_fridge else sheet_pdf(made, setting)
    name = f"{'at-a-glance' if is_fridge else 'home-exercises'}-plan-{version.number}.pdf"
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )
