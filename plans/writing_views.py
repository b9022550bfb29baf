"""Writing exercises: one changed or copied on a screen, and what the shipped ones say instead."""

import re

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from clinic.actions import ActionRefused
from clinic.http import StaffRequest, render_page
from patients.motions import Effort
from plans import catalogue, queries
from plans.catalogue_actions import MAY_WRITE, save_exercise
from plans.typed import EFFORTS, TypedExercise, from_fields, from_table
from plans.typed_check import Checked, checked, differences
from plans.writing_page import drawn, is_drawable, writing_page

TEMPLATE = "plans/writing.html"
COPIED = "_copy"


def exercise_edit(request: StaffRequest, key: str) -> HttpResponse:
    """Change an exercise; saving adds a revision."""
    return _write(request, key, is_new=False)


def exercise_copy(request: StaffRequest, key: str) -> HttpResponse:
    """Make an exercise of the clinic's own from another one, under a key of its own."""
    return _write(request, key, is_new=True)


def _write(request: StaffRequest, key: str, *, is_new: bool) -> HttpResponse:
    revision = queries.revision_in_use(key)
    if revision is None:
        raise Http404("no such exercise")
    present = queries.exercise_of(revision)
    may_write = request.user.role in MAY_WRITE
    act, found, status = request.POST.get("act", ""), Checked(None), 200
    after = 0 if is_new else revision.number
    refused = ""
    if request.method == "POST":
        text = _acted(_typed(request, present, is_new=is_new), act)
        if (step := re.fullmatch(r"draw\.([0-9])", act)) and request.htmx:
            return _redrawn(request, text, int(step[1]))
        sent_after = request.POST.get("after", "")
        after = int(sent_after) if re.fullmatch(r"[0-9]{1,6}", sent_after) else after
        found = checked(text, _others(text.said["key"]))
        if act == "save":
            if not may_write:
                raise PermissionDenied("therapists and supervisors change exercises")
            status = 422
            if found.exercise:
                try:
                    saved = save_exercise(
                        by=request.user,
                        exercise=found.exercise,
                        after=0 if is_new else after,
                        verb="copied exercise" if is_new else "changed exercise",
                    )
                except ActionRefused as refusal:
                    refused = str(refusal)
                    after = revision.number  # saving again, after comparing, is meant
                else:
                    messages.success(request, f"Saved as revision {saved.number}.")
                    return redirect("exercise", saved.exercise.key)
    else:
        text = from_table(present.as_table())
        if is_new:
            own = dict(text.said) | {"key": _free_key(key), "source": f"after {key}"}
            own["words.en.name"] += " (copy)"
            own["words.es.name"] += " (copia)"
            text = TypedExercise(own, text.steps)
    context = {
        "section": "exercises",
        "of": present,
        "page": writing_page(text, _others(text.said["key"]), found, is_new=is_new),
        "is_new": is_new,
        "after": after,
        "act": act,
        "refused": refused,
        "may_write": may_write,
        "is_drawable": is_drawable(text),
    }
    return render_page(request, TEMPLATE, context, status=status)


def _typed(request: StaffRequest, present: catalogue.Exercise, *, is_new: bool) -> TypedExercise:
    """What was typed; the key of an exercise that is changed, and its kind, can't be."""
    text = from_fields(request.POST.dict())
    said = dict(text.said) | {"kind": present.kind.value}
    if not is_new:
        said["key"] = present.key
    return TypedExercise({"key": ""} | said, text.steps)


def _acted(text: TypedExercise, act: str) -> TypedExercise:
    """What was typed after a button that adds or takes out a pose, an angle or a step."""
    verb, _, rest = act.partition(".")
    if verb == "add-step":
        effort = EFFORTS.get(text.said.get("new_step", ""))
        return text.with_step(effort) if isinstance(effort, Effort) else text
    places = re.fullmatch(r"([0-9])(?:\.([0-9]{1,2}))?", rest)
    if places is None or int(places[1]) >= len(text.steps):
        return text
    step = int(places[1])
    if verb == "add-pose":
        return text.with_pose(step)
    if verb == "remove-pose" and places[2]:
        return text.without_pose(step, int(places[2]))
    if verb == "add-angle":
        return text.with_angle(step, text.steps[step].said.get("angle", ""))
    return text.without_step(step) if verb == "remove-step" else text


def _redrawn(request: StaffRequest, text: TypedExercise, number: int) -> HttpResponse:
    if number >= len(text.steps):
        raise Http404("no such step")
    step = text.steps[number]
    context = {"number": number, "step": step, "drawn": drawn(text, step), "swapped": True}
    return render_page(request, TEMPLATE, context, fragment="drawing")


def _others(key: str) -> list[catalogue.Exercise]:
    entries = queries.searchable_exercises()
    return [entry.exercise for entry in entries if entry.exercise.key != key]


def _free_key(key: str) -> str:
    taken = queries.keys_like(key + COPIED)
    numbers = ("", *(f"_{number}" for number in range(2, len(taken) + 2)))
    return next(f"{key}{COPIED}{n}" for n in numbers if f"{key}{COPIED}{n}" not in taken)


def shipped(request: StaffRequest) -> HttpResponse:
    """Where exercises that the clinic wrote differ from those that the program brings."""
    brought = _shipped()
    changed = []
    for revision in queries.own_revisions():
        theirs = brought.get(revision.exercise.key)
        ours = queries.exercise_of(revision)
        if theirs and theirs != ours:
            changed.append((revision, ours, differences(ours, theirs)))
    context = {
        "section": "exercises",
        "changed": changed,
        "may_write": request.user.role in MAY_WRITE,
    }
    return render_page(request, "plans/shipped.html", context)


@require_POST
def take_shipped(request: StaffRequest, key: str) -> HttpResponse:
    """Add the shipped exercise as a new revision; what the clinic wrote stays on record."""
    theirs, present = _shipped().get(key), queries.revision_in_use(key)
    if theirs is None or present is None:
        raise Http404("no such exercise")
    try:
        saved = save_exercise(
            by=request.user, exercise=theirs, after=present.number, verb="took shipped exercise"
        )
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
    else:
        name = theirs.words("en").name
        messages.success(request, f"{name}: the shipped one is now revision {saved.number}.")
    return redirect("exercises_shipped")


def _shipped() -> dict[str, catalogue.Exercise]:
    folder = settings.BASE_DIR / "fixtures" / "exercises"
    return {exercise.key: exercise for exercise in catalogue.read_folder(folder)}
