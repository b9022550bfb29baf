"""The therapist's side of patients' phones: enrolment links, names, shutting out."""

from urllib.parse import urlsplit

import segno
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_POST

from clinic.actions import ActionRefused
from clinic.http import StaffRequest
from patients import phones, queries
from patients.models import Phone
from patients.pairing import CODE_LIFE
from patients.views import person_context


def qr_svg(link: str) -> str:
    """Return a link as a QR code, an inline picture without any style attribute.

    It brings its own white ground: readers want dark on light, in the dark look too.
    """
    code = segno.make(link, error="m", micro=False)
    return mark_safe(  # noqa: S308 - drawn by segno from modules; holds no text of ours
        code.svg_inline(border=4, dark="#000", light="#fff", omitsize=True)
    )


@require_POST
def phone_invite(request: StaffRequest, pk: int) -> HttpResponse:
    """Make an enrolment link with a short code, and show both this once: only hashes are kept."""
    patient = queries.patient_for(request.user, pk)
    now = timezone.now()
    link, code = phones.make_invite_with_code(by=request.user, patient=patient, now=now)
    context = person_context(patient, "overview", phones.local_day(patient, now)) | {
        "link": link,
        "code": f"{code[:4]} {code[4:]}",
        "code_expires_at": now + CODE_LIFE,
        "page": link.partition("#")[0],
        "qr": qr_svg(link),
        "expires_at": now + phones.INVITE_LIFE,
        "only_this_computer": urlsplit(link).hostname in ("localhost", "127.0.0.1"),
    }
    return render(request, "patients/phone_invite.html", context)


@require_POST
def phone_rename(request: StaffRequest, pk: int, phone_pk: int) -> HttpResponse:
    """Give a phone another name."""
    patient = queries.patient_for(request.user, pk)
    phone = get_object_or_404(Phone, pk=phone_pk, patient=patient)
    try:
        phones.rename_phone(by=request.user, phone=phone, label=request.POST.get("label", ""))
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"The phone is called {phone.label} now.")
    return redirect(reverse("patient", args=[pk]) + "#phones")


@require_POST
def phone_revoke(request: StaffRequest, pk: int, phone_pk: int) -> HttpResponse:
    """Shut a phone out."""
    patient = queries.patient_for(request.user, pk)
    phone = get_object_or_404(Phone, pk=phone_pk, patient=patient)
    try:
        phones.revoke_phone(by=request.user, phone=phone, now=timezone.now())
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(
            request,
            f"{phone.label} is shut out. Days it had not reported stay unheard until you mark "
            "them in the diary.",
        )
    return redirect(reverse("patient", args=[pk]) + "#phones")
