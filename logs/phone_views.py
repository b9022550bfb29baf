"""Everything under /home/: the patient's phone, which carries a credential instead of a sign-in.

What the page sends is JSON. It carries no CSRF token, since a page kept on the phone would keep
an old one: an origin of our own and a content type that no plain form can send do its work.
"""

import json
from collections.abc import Callable, Sequence
from functools import wraps
from uuid import UUID

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils import timezone, translation
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_GET

from logs.models import Revision, StopReport
from logs.phone_entries import NOT_OVER, store_reason, store_records
from logs.phone_records import BadRecord
from logs.phone_shell import kept_plan, manifest, shell_page, shell_version, worker_script
from patients import phones
from patients.models import Phone
from patients.pairing import CodesClosed

MOST_RECORDS = 100
MOST_KNOWN = 500
LARGEST_BODY = 256 * 1024

type JsonView = Callable[[HttpRequest, dict[str, object]], JsonResponse]


def refusal(code: str, status: int) -> JsonResponse:
    """Return an answer that names, in a word, why nothing was done."""
    return JsonResponse({"v": 1, "error": code}, status=status)


def takes_json(view: JsonView) -> Callable[[HttpRequest], HttpResponse]:
    """Give a view the JSON object of a request that one of our own pages has sent."""

    @login_not_required
    @csrf_exempt
    @wraps(view)
    def checked(request: HttpRequest) -> HttpResponse:
        if request.method != "POST":
            return refusal("post_only", 405)
        if request.headers.get("Origin") not in _own_origins(request):
            return refusal("other_origin", 403)
        if request.content_type != "application/json":
            return refusal("not_json", 415)
        if len(request.body) > LARGEST_BODY:
            return refusal("too_large", 413)
        try:
            body = json.loads(request.body)
        except (ValueError, RecursionError):
            return refusal("not_json", 400)
        if not isinstance(body, dict):
            return refusal("not_an_object", 400)
        return view(request, body)

    return checked


def _own_origins(request: HttpRequest) -> set[str]:
    return {settings.PUBLIC_ADDRESS, f"{request.scheme}://{request.get_host()}"}


@login_not_required
@require_GET
def join(request: HttpRequest) -> HttpResponse:
    """Show the button that enrols a phone. Opening it uses nothing up: mail scanners open links."""
    return _in_browser_language(request, "logs/home/join.html")


def _in_browser_language(request: HttpRequest, template: str, status: int = 200) -> HttpResponse:
    """Render a page for someone not known yet in the language that their browser asks for."""
    with translation.override(translation.get_language_from_request(request)):
        return render(request, template, status=status)


@takes_json
def enrol(request: HttpRequest, body: dict[str, object]) -> JsonResponse:
    """Use up an enrolment link, by its secret or its short code; give this browser a credential."""
    store = _uuid(body.get("store"))
    secret, code, zone = body.get("secret", ""), body.get("code", ""), body.get("zone")
    if not (isinstance(secret, str) and isinstance(code, str) and isinstance(zone, str)):
        return refusal("bad_request", 400)
    if store is None or bool(secret) == bool(code):
        return refusal("bad_request", 400)
    try:
        enrolled = phones.enrol(
            secret=secret,
            code=code,
            store_id=store,
            time_zone=zone,
            user_agent=request.headers.get("User-Agent", ""),
            present=phones.phone_for(request),
            now=timezone.now(),
        )
    except CodesClosed:
        return refusal("codes_closed", 429)
    if enrolled is None:
        return refusal("code_not_good" if code else "link_not_good", 410)
    response = JsonResponse({"v": 1, "enrolled": True})
    if enrolled.credential:
        _give_credential(response, enrolled.credential)
    return response


def _give_credential(response: HttpResponse, credential: str) -> None:
    response.set_cookie(
        phones.COOKIE_NAME,
        credential,
        max_age=phones.COOKIE_AGE_S,
        secure=settings.HTTPS,
        httponly=True,
        samesite="Lax",
    )


@login_not_required
@require_GET
def home(request: HttpRequest) -> HttpResponse:
    """The patient's page: what to do today, in words, and with script the sessions."""
    phone = phones.phone_for(request)
    if phone is None:
        return _in_browser_language(request, "logs/home/not_enrolled.html", status=403)
    patient = phone.patient
    with translation.override(patient.language):
        plan = kept_plan(patient=patient, now=timezone.now(), shell=shell_version())
        beside = {name: part for name, part in plan.items() if name not in ("main", "foot")}
        context = {"plan": plan, "beside": beside, "patient": patient}
        response = render(request, "logs/home/home.html", context)
        response["Content-Language"] = patient.language
    # Each visit keeps the credential alive, so that it never ends on a patient who uses it.
    _give_credential(response, request.COOKIES[phones.COOKIE_NAME])
    return response


@login_not_required
@require_GET
def plan(request: HttpRequest) -> JsonResponse:
    """What the phone keeps to show the page without a network, if it has not got it yet."""
    phone = phones.phone_for(request)
    if phone is None:
        return refusal("unknown_phone", 401)
    kept = kept_plan(patient=phone.patient, now=timezone.now(), shell=shell_version())
    if request.GET.get("have") == kept["hash"]:
        kept = {"v": 1, "same": True}
    response = JsonResponse(kept)
    _give_credential(response, request.COOKIES[phones.COOKIE_NAME])
    return response


@login_not_required
@require_GET
def shell(request: HttpRequest) -> HttpResponse:
    """The bare page that a phone keeps: the same for everyone."""
    with translation.override(translation.get_language_from_request(request)):
        return HttpResponse(shell_page(shell_version()))


@login_not_required
@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker. Asked for anew each time, so that a new version is seen at once."""
    response = HttpResponse(worker_script(), content_type="text/javascript; charset=utf-8")
    response["Cache-Control"] = "no-cache"
    return response


@login_not_required
@require_GET
def web_manifest(request: HttpRequest) -> HttpResponse:
    """The manifest by which the page is installed."""
    with translation.override(translation.get_language_from_request(request)):
        response = JsonResponse(manifest(), content_type="application/manifest+json")
    response["Cache-Control"] = "no-cache"
    return response


@takes_json
def entries(request: HttpRequest, body: dict[str, object]) -> JsonResponse:
    """Store what a phone tells, each record by itself, and say of each what became of it."""
    phone = phones.phone_for(request)
    if phone is None:
        return refusal("unknown_phone", 401)
    records = body.get("entries")
    if not isinstance(records, list) or body.keys() - {"entries", "sent_at", "last"}:
        return refusal("bad_request", 400)
    if len(records) > MOST_RECORDS:
        return refusal("too_many", 413)
    answers = [answer.as_json for answer in store_records(phone=phone, values=records)]
    phones.note_clock(phone=phone, sent_at=body.get("sent_at"), now=timezone.now())
    return JsonResponse({"v": 1, "answers": answers, "last_known": _is_known(phone, body)})


def _is_known(phone: Phone, body: dict[str, object]) -> bool:
    """Whether we hold what the phone last heard of as stored; not, once put back to a backup."""
    last = body.get("last")
    return last is None or not _missing(phone, [last])


def _missing(phone: Phone, uuids: Sequence[object]) -> list[str]:
    named = {uuid: str(text) for text in uuids if (uuid := _uuid(text))}
    entries = Revision.objects.filter(pk__in=named, entry__patient=phone.patient_id)
    stops = StopReport.objects.filter(pk__in=named, patient=phone.patient_id)
    here = {*entries.values_list("pk", flat=True), *stops.values_list("pk", flat=True)}
    return [text for uuid, text in named.items() if uuid not in here]


@takes_json
def known(request: HttpRequest, body: dict[str, object]) -> JsonResponse:
    """Say which of the entries that a phone once heard of as stored are not here."""
    phone = phones.phone_for(request)
    if phone is None:
        return refusal("unknown_phone", 401)
    uuids = body.get("uuids")
    if not isinstance(uuids, list) or len(uuids) > MOST_KNOWN:
        return refusal("bad_request", 400)
    return JsonResponse({"v": 1, "missing": _missing(phone, uuids)})


@takes_json
def missed(request: HttpRequest, body: dict[str, object]) -> JsonResponse:
    """Keep why a day's sessions were missed; told again, nothing changes."""
    phone = phones.phone_for(request)
    if phone is None:
        return refusal("unknown_phone", 401)
    if body.keys() != {"owner", "day", "reason"}:
        return refusal("bad_request", 400)
    if body["owner"] != phones.owner_key(phone.patient):
        return refusal("other_owner", 409)
    try:
        store_reason(phone=phone, day=body["day"], reason=body["reason"], now=timezone.now())
    except BadRecord as bad:
        return refusal(str(bad), 409 if str(bad) == NOT_OVER else 400)
    return JsonResponse({"v": 1, "day": body["day"]})


@takes_json
def report(request: HttpRequest, body: dict[str, object]) -> JsonResponse:
    """Take a phone's word on how many entries wait on it."""
    phone = phones.phone_for(request)
    if phone is None:
        return refusal("unknown_phone", 401)
    store, pending, zone = _uuid(body.get("store")), body.get("pending"), body.get("zone")
    if store is None or type(pending) is not int or pending < 0 or not isinstance(zone, str):
        return refusal("bad_request", 400)
    now = timezone.now()
    phones.note_clock(phone=phone, sent_at=body.get("sent_at"), now=now)
    phones.note_contact(phone=phone, said=body, now=now)
    is_known = _is_known(phone, body)
    if is_known:  # else it still holds what we have lost: no day is heard by its empty queue
        phones.report(phone=phone, store_id=store, pending=pending, time_zone=zone, now=now)
    return JsonResponse({"v": 1, "noted": is_known, "last_known": is_known})


def _uuid(value: object) -> UUID | None:
    try:
        return UUID(value) if isinstance(value, str) else None
    except ValueError:
        return None
