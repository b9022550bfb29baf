"""The clinic's starting sets: looked at, made, copied, changed, retired, and put into a draft."""

from dataclasses import replace

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from clinic.actions import ActionRefused
from clinic.http import StaffRequest, render_page, today_in
from patients.actions import record_view
from patients.models import Patient
from patients.queries import patient_for, zone_of
from plans.catalogue import Exercise
from plans.catalogue_actions import MAY_WRITE
from plans.draft_views import SET, answer, draft_action
from plans.models import PlanVersion
from plans.queries import searchable_exercises, versions_of
from plans.set_actions import put_in_set, retire_set, save_set, take_out_set
from plans.set_forms import SetTyped
from plans.set_page import fitted_words, shown_sets
from plans.set_queries import edits_of, fit, set_of_version, starting_sets
from plans.start_queries import known_of
from plans.starting_sets import StartingSet

TEMPLATE = "plans/set.html"


def sets(request: StaffRequest) -> HttpResponse:
    """All sets, by stage, and those retired."""
    known = starting_sets()
    exercises = _exercises()
    context = {
        "section": "exercises",
        "sets": shown_sets(known.in_use, exercises),
        "retired": shown_sets(known.retired, exercises),
        "problems": known.problems,
        "may_write": request.user.role in MAY_WRITE,
    }
    return render_page(request, "plans/sets.html", context)


def _exercises() -> list[Exercise]:
    return [entry.exercise for entry in searchable_exercises()]


def set_new(request: StaffRequest) -> HttpResponse:
    """Make a set."""
    return _write(request, None, key="")


def set_edit(request: StaffRequest, key: str) -> HttpResponse:
    """Change a set; an example becomes the clinic's own by it."""
    return _write(request, _set(key), key=key)


def set_copy(request: StaffRequest, key: str) -> HttpResponse:
    """Make a set from another one."""
    one = _set(key)
    return _write(request, replace(one, name=f"{one.name} (copy)"), key="")


def set_from_version(request: StaffRequest, pk: int, version_pk: int) -> HttpResponse:
    """Make a set from a patient's version; nothing that names the patient goes along."""
    patient = patient_for(request.user, pk)
    version = get_object_or_404(versions_of(patient), pk=version_pk)
    record_view(user=request.user, patient=patient, page=f"set of {version}")
    return _write(request, set_of_version(version), key="", of=version)


def _set(key: str) -> StartingSet:
    one = starting_sets().of(key)
    if one is None:
        raise Http404("no such set")
    return one


def _write(
    request: StaffRequest, one: StartingSet | None, *, key: str, of: PlanVersion | None = None
) -> HttpResponse:
    may_write = request.user.role in MAY_WRITE
    if not may_write:
        raise PermissionDenied("therapists and supervisors change starting sets")
    data = request.POST if request.method == "POST" else None
    typed = SetTyped(data, one, _exercises())
    status = 200
    if data is not None:
        status = 422
        if typed.is_valid():
            seen = typed.form.cleaned_data["seen_edits"]
            try:
                saved = save_set(
                    by=request.user,
                    one=typed.result(key),
                    seen_edits=(seen or 0) if key else None,
                )
            except ActionRefused as refusal:
                typed.form.add_error(None, str(refusal))
            else:
                messages.success(request, f"Saved the set “{saved.name}”.")
                return redirect("sets")
    context = {
        "section": "exercises",
        "typed": typed,
        "of": one if key else None,
        "version": of,
        "edits": edits_of(key) if key else "",
    }
    return render_page(request, TEMPLATE, context, status=status)


@require_POST
def set_retire(request: StaffRequest, key: str) -> HttpResponse:
    """Take a set out of use, or back into it."""
    one = _set(key)
    is_retired = request.POST.get("back") != "1"
    try:
        retire_set(by=request.user, one=one, is_retired=is_retired)
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
    else:
        done = "is out of use" if is_retired else "is in use again"
        messages.success(request, f"“{one.name}” {done}.")
    return redirect("sets")


@draft_action
def set_put_in(request: StaffRequest, patient: Patient, version: PlanVersion) -> HttpResponse:
    """Put a set into the draft, fitted to the patient; it can be taken out at one press."""
    key = request.POST.get("set", "")
    one = next((each for each in starting_sets().in_use if each.key == key), None)
    if one is None:
        raise ActionRefused("That set is no longer in use. Choose another one.")
    fits = fit(one, patient, known_of(patient, today_in(zone_of(patient))))
    lines = put_in_set(by=request.user, version=version, one=one, fit=fits)
    request.session.pop("removed_line", None)
    request.session[SET] = {
        "version": version.pk,
        "key": one.key,
        "name": one.name,
        "is_example": one.is_example,
        "lines": [line.pk for line in lines],
        **fitted_words(fits),
    }
    done = f"“{one.name}”: {len(lines)} put in"
    out = len(fits.left_out) + len(fits.missing)
    messages.success(request, f"{done}, {out} left out." if out else f"{done}.")
    return answer(request, patient, lines[0] if lines else None, takes_focus=True)


@draft_action
def set_take_out(request: StaffRequest, patient: Patient, version: PlanVersion) -> HttpResponse:
    """Take the lines that a set put in out again."""
    said = request.session.pop(SET, None)
    if not said or said["version"] != version.pk:
        raise ActionRefused("There is no set to take out.")
    count = take_out_set(by=request.user, version=version, lines=said["lines"], name=said["key"])
    messages.success(request, f"“{said['name']}” is out again: {count} lines.")
    return answer(request, patient)
