"""Everything under /home/: the patient's phone, which carries a credential instead of a sign-in.

What the page sends is JSON. It carries no CSRF token, since a page kept on the phone would keep
an old one: an origin of our own and a content type that no plain form can send do its work.
"""

import json
from collections.abc import Callable, Mapping
from functools import wraps
from uuid import UUID

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils import timezone, translation
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_GET

from clinic.actions import ActionRefused
from logs.actions import Outcome, Performed, Told, record_revision
from logs.models import Source
from logs.phone_plan import home_page
from logs.phone_records import BadRecord, Record, read_record, record_uuid
from patients import phones
from patients.models import Phone
from plans.models import PlanVersion
from plans.queries import versions_of

MOST_RECORDS = 100
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
    """Use up the secret of an enrolment link, and give this browser a credential."""
    store = _uuid(body.get("store"))
    secret, zone = body.get("secret"), body.get("zone")
    if not isinstance(secret, str) or not isinstance(zone, str) or store is None:
        return refusal("bad_request", 400)
    enrolled = phones.enrol(
        secret=secret,
        store_id=store,
        time_zone=zone,
        user_agent=request.headers.get("User-Agent", ""),
        present=phones.phone_for(request),
        now=timezone.now(),
    )
    if enrolled is None:
        return refusal("link_not_good", 410)
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
        context = {"page": home_page(patient=patient, now=timezone.now()), "patient": patient}
        response = render(request, "logs/home/home.html", context)
        response["Content-Language"] = patient.language
    # Each visit keeps the credential alive, so that it never ends on a patient who uses it.
    _give_credential(response, request.COOKIES[phones.COOKIE_NAME])
    return response


@takes_json
def entries(request: HttpRequest, body: dict[str, object]) -> JsonResponse:
    """Store what a phone tells, each record by itself, and say of each what became of it."""
    phone = phones.phone_for(request)
    if phone is None:
        return refusal("unknown_phone", 401)
    records = body.get("entries")
    if not isinstance(records, list) or body.keys() != {"entries"}:
        return refusal("bad_request", 400)
    if len(records) > MOST_RECORDS:
        return refusal("too_many", 413)
    issued = versions_of(phone.patient).filter(state=PlanVersion.State.ISSUED)
    versions = {version.number: version for version in issued}
    owner = phones.owner_key(phone.patient)
    answers = []
    for value in records:
        answer: dict[str, object] = {"uuid": record_uuid(value)}
        try:
            answer["result"] = _store(phone, versions, owner, read_record(value))
        except BadRecord as bad:
            answer |= {"result": "rejected", "code": str(bad)}
        answers.append(answer)
    return JsonResponse({"v": 1, "answers": answers})


def _store(
    phone: Phone, versions: Mapping[int, PlanVersion], owner: str, record: Record
) -> Outcome:
    """Store one record in a transaction of its own; BadRecord where it doesn't fit this patient.

    Nothing is refused for its day or an old version: a late word is still a word.
    """
    if record.owner != owner:
        raise BadRecord("other_owner")
    version = versions.get(record.version)
    if version is None:
        raise BadRecord("unknown_version")
    lines = {line.key: line for line in version.lines.all()}
    if any(done.line not in lines for done in record.performances):
        raise BadRecord("unknown_line")
    told = Told(
        day=record.day,
        occasion=record.occasion,
        source=Source.PHONE,
        version=version,
        performances=tuple(
            Performed(lines[done.line], done.amounts, done.load_g, done.confirmed, done.hurt)
            for done in record.performances
        ),
        note=record.note,
        began_at=record.began_at,
        time_zone=record.zone,
        **record.scores,
    )
    try:
        outcome = record_revision(
            patient=phone.patient,
            entry=record.entry,
            revision=record.uuid,
            replaces=record.replaces,
            told=told,
            phone=phone,
        )
    except ActionRefused as refused:
        raise BadRecord("out_of_bounds") from refused
    if outcome is Outcome.CONFLICT:
        raise BadRecord("conflict")
    return outcome


@takes_json
def report(request: HttpRequest, body: dict[str, object]) -> JsonResponse:
    """Take a phone's word on how many entries wait on it."""
    phone = phones.phone_for(request)
    if phone is None:
        return refusal("unknown_phone", 401)
    store, pending, zone = _uuid(body.get("store")), body.get("pending"), body.get("zone")
    if store is None or type(pending) is not int or pending < 0 or not isinstance(zone, str):
        return refusal("bad_request", 400)
    phones.report(phone=phone, store_id=store, pending=pending, time_zone=zone, now=timezone.now())
    return JsonResponse({"v": 1, "noted": True})


def _uuid(value: object) -> UUID | None:
    try:
        return UUID(value) if isinstance(value, str) else None
    except ValueError:
        return None
