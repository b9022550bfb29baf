"""The plan builder: one draft, changed line by line, and issued.

Every change is one POST. With htmx it answers the list of lines; without it sends the browser back
to the page, at the line that changed.
"""

from collections.abc import Callable
from copy import copy
from datetime import date
from functools import wraps
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST
from django_htmx.http import HttpResponseClientRedirect

from clinic.actions import ActionRefused
from clinic.http import StaffRequest, render_page, today_in
from patients.actions import record_view
from patients.models import Patient
from patients.motions import MOTIONS, Effort, Joint, Side
from patients.queries import patient_for, zone_of
from patients.views import person_context
from plans import actions, queries
from plans.exercise_page import ShownExercise
from plans.forms import IssueForm, LineForm, SearchForm
from plans.models import Line, PlanVersion
from plans.plan_page import shown_line, shown_version, version_asks, version_changes
from plans.safety_models import MAY_OVERRIDE
from plans.safety_queries import against_more
from plans.search import Hit, found_exercises
from plans.set_queries import starting_sets
from plans.start_queries import Known, known_of

HITS_SHOWN = 12
WAYS = {"up": -1, "down": 1, "easier": -1, "harder": 1}
TEMPLATE = "plans/draft.html"
SET = "set_put_in"
"""Where the session keeps what the last set put in, so that it can be taken out again."""

DraftView = Callable[..., HttpResponse]


def draft(request: StaffRequest, pk: int) -> HttpResponse:
    """The builder: the catalogue to the left, the draft's lines to the right."""
    patient = patient_for(request.user, pk)
    today = today_in(zone_of(patient))
    if request.htmx and request.htmx.target == "found":
        found = _found(request, patient, known_of(patient, today))
        return render_page(request, TEMPLATE, found, fragment="found")
    version = queries.open_version(patient)
    if version is None:
        return redirect("plan", pk=pk)
    if version.state == PlanVersion.State.WAITING:
        return redirect("plan_version", pk=pk, version_pk=version.pk)
    version.patient = patient
    opened, closed = request.GET.get("open", ""), request.GET.get("closed", "")
    line = next((line for line in version.lines.all() if str(line.pk) == opened), None)
    line_form = _line_form(None, line, version) if line else None
    context = _lines(request, patient, version, today, line_form=line_form)
    context["focused"] = next((ln.pk for ln in version.lines.all() if str(ln.pk) == closed), None)
    if not request.htmx:
        record_view(user=request.user, patient=patient, page="draft")
        context |= _around(request, patient, context["known"], today)
    return render_page(request, TEMPLATE, context, fragment="lines")


def _around(
    request: StaffRequest, patient: Patient, known: Known, today: date
) -> dict[str, object]:
    """Return what stands around the lines on the whole page."""
    found = _found(request, patient, known)
    return person_context(patient, "plan", today) | found | {"sets": starting_sets().in_use}


def _found(request: StaffRequest, patient: Patient, known: Known) -> dict[str, object]:
    """Return the search and what it finds, each with where it may start (one query)."""
    form = SearchForm(request.GET)
    wanted = form.wanted()
    hits = found_exercises(queries.searchable_exercises(), wanted)
    opens = any((wanted.words, wanted.joint, wanted.position, wanted.narrows_steps))
    return {
        "patient": patient,
        "search": form,
        "words": form.cleaned_data.get("q", ""),
        "hits": [
            # Only the first of a search stands open, so only its pictures are worth their weight.
            ShownExercise(
                hit.exercise,
                hit.effort if wanted.narrows_steps else _start(known, hit, patient),
                patient.affected_side if opens and not place else "",
            )
            for place, hit in enumerate(hits[:HITS_SHOWN])
        ],
        "hit_count": len(hits),
        "known": known,
    }


def _start(known: Known, hit: Hit, patient: Patient) -> Effort:
    """Return the step to add an exercise on: the proposed one where something is known."""
    if not known.is_telling:
        return hit.effort
    side = Side(patient.affected_side) if hit.exercise.sided else Side.BOTH
    return known.proposal(hit.exercise, side).effort or hit.effort


def _lines(
    request: StaffRequest,
    patient: Patient,
    version: PlanVersion,
    today: date,
    *,
    line_form: LineForm | None = None,
    issue_form: IssueForm | None = None,
) -> dict[str, Any]:
    """Return the draft's side of the page."""
    shown = shown_version(version, max(today, version.effective_day or today))
    removed = request.session.get("removed_line") or {}
    arranged = request.session.get("arranged_lines") or {}
    set_in = request.session.get(SET) or {}
    in_force = queries.version_in_force(patient, today)
    return {
        "patient": patient,
        "today": today,
        "shown": shown,
        "changes": version_changes(in_force, shown),
        "asks": version_asks(in_force, shown),
        "line_form": line_form,
        "issue_form": issue_form or IssueForm(draft=version, shown=shown, today=today),
        "may_override": request.user.role in MAY_OVERRIDE,
        "removed": removed if removed.get("version") == version.pk else None,
        "known": known_of(patient, today),
        "against_more": against_more(patient, today, shown.safety.precautions)
        if shown.safety
        else "",
        "set_in": set_in if set_in.get("version") == version.pk else None,
        "helpers": list(patient.home_helpers.all())
        if any(line.lacks_helper for line in shown.lines)
        else [],
        "set_joints": [Joint(joint) for joint in set_in.get("ungraded_joints", ())],
        "arranged": arranged if arranged.get("version") == version.pk else None,
    }


def draft_action(view: DraftView) -> DraftView:
    """Give a view the open draft; answer a refusal as a message over the lines."""

    @require_POST
    @wraps(view)
    def guarded(request: StaffRequest, pk: int, **names: object) -> HttpResponse:
        patient = patient_for(request.user, pk)
        version = queries.open_version(patient)
        if version is None or version.state != PlanVersion.State.DRAFT:
            messages.error(request, "There is no draft any more. Start one to change the plan.")
            return _sent_to(request, reverse("plan", args=[pk]))
        version.patient = patient
        try:
            return view(request, patient, version, **names)
        except ActionRefused as refusal:
            messages.error(request, str(refusal))
            return answer(request, patient)

    return guarded


def line_action(view: DraftView) -> DraftView:
    """Give a view one line of the open draft; say so where it is gone."""

    @draft_action
    @wraps(view)
    def guarded(
        request: StaffRequest, patient: Patient, version: PlanVersion, line_pk: int, **names: object
    ) -> HttpResponse:
        line = next((line for line in version.lines.all() if line.pk == line_pk), None)
        if line is None:
            raise ActionRefused("That line is no longer in the draft. This is how it stands now.")
        line.version = version
        return view(request, patient, line, **names)

    return guarded


def _sent_to(request: StaffRequest, url: str) -> HttpResponse:
    return HttpResponseClientRedirect(url) if request.htmx else HttpResponseRedirect(url)


def answer(
    request: StaffRequest,
    patient: Patient,
    line: Line | None = None,
    *,
    takes_focus: bool = False,
) -> HttpResponse:
    """Answer the lines as they now stand (htmx), or go back to the page, at the line.

    The focus stays where it was, unless what had it is gone and the line takes it.
    """
    if not request.htmx:
        anchor = f"#line-{line.pk}" if line else "#lines"
        return redirect(reverse("draft", args=[patient.pk]) + anchor)
    version = queries.open_version(patient)
    if version is None:
        return _sent_to(request, reverse("plan", args=[patient.pk]))
    today = today_in(zone_of(patient))
    context = _lines(request, patient, version, today) | {
        "fresh": line.pk if line else None,
        "focused": line.pk if line and takes_focus else None,
    }
    return render_page(request, TEMPLATE, context, fragment="lines")


@require_POST
def start(request: StaffRequest, pk: int) -> HttpResponse:
    """Start a draft from the plan in force, or go on with the one that is open."""
    patient = patient_for(request.user, pk)
    try:
        actions.start_draft(by=request.user, patient=patient, today=today_in(zone_of(patient)))
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
        return redirect("plan", pk=pk)
    return redirect("draft", pk=pk)


@draft_action
def discard(request: StaffRequest, patient: Patient, version: PlanVersion) -> HttpResponse:
    """Throw the draft away."""
    actions.discard_draft(by=request.user, version=version)
    messages.success(request, "The draft is thrown away. The plan in force is as it was.")
    return _sent_to(request, reverse("plan", args=[patient.pk]))


@draft_action
def issue(request: StaffRequest, patient: Patient, version: PlanVersion) -> HttpResponse:
    """Issue the draft, or send it for a countersignature."""
    today = today_in(zone_of(patient))
    shown = shown_version(version, max(today, version.effective_day or today))
    form = IssueForm(request.POST, draft=version, shown=shown, today=today)
    if form.is_valid():
        data = form.cleaned_data
        try:
            issued = actions.issue_version(
                by=request.user,
                version=version,
                today=today,
                effective_day=data["effective_day"],
                pain_limit=data["pain_limit"],
                change_sentence=data["change_sentence"],
                seen_edits=data["seen_edits"],
                overrides=form.overrides(),
                confirmed=form.confirmed(),
            )
        except ActionRefused as refusal:
            form.add_error(None, str(refusal))
            version = queries.open_version(patient) or version
        else:
            request.session.pop("removed_line", None)
            request.session.pop(SET, None)
            messages.success(request, _issued_words(issued, ends=not shown.lines))
            return _sent_to(request, reverse("plan", args=[patient.pk]))
    context = _lines(request, patient, version, today, issue_form=form)
    context |= _around(request, patient, context["known"], today)
    return render_page(request, TEMPLATE, context, status=422)


def _issued_words(version: PlanVersion, *, ends: bool) -> str:
    if version.state == PlanVersion.State.WAITING:
        return (
            f"Version {version.number} waits for a supervisor’s signature. "
            "Until then the patient keeps the plan in force."
        )
    if ends:
        return f"Version {version.number} is issued: it ends the plan."
    return f"Version {version.number} is issued."


@draft_action
def line_add(request: StaffRequest, patient: Patient, version: PlanVersion) -> HttpResponse:
    """Add an exercise at a step, with its usual dose."""
    key, _, effort_key = request.POST.get("pick", "").partition(":")
    revision = queries.revision_in_use(key)
    if revision is None:
        raise ActionRefused("That exercise is not in the catalogue. Find it again.")
    usual = actions.usual_line(
        revision=revision,
        effort=next((effort for effort in Effort if effort.key == effort_key), None),
        side=patient.affected_side,
    )
    known = known_of(patient, today_in(zone_of(patient)))
    if stop := known.stop_of(queries.exercise_of(revision), usual.side, usual.step):
        usual.stop_motion, usual.stop_deg = stop
    line = actions.add_line(by=request.user, version=version, line=usual)
    request.session.pop("removed_line", None)
    shown = shown_line(line)
    bounds = f", {shown.bounds_words}" if shown.bounds_words else ""
    messages.success(request, f"Added {shown.title}: {shown.step.effort.label}{bounds}.")
    return answer(request, patient, line)


@line_action
def line_change(request: StaffRequest, patient: Patient, line: Line) -> HttpResponse:
    """Save a line's form; a wrong one stays open with what was typed."""
    form = _line_form(request.POST, line, line.version)
    if form.is_valid():
        actions.change_line(by=request.user, line=line, changes=form.changes())
        messages.success(request, f"Saved {shown_line(line).title}.")
        return answer(request, patient, line, takes_focus=True)
    today = today_in(zone_of(patient))
    context = _lines(request, patient, line.version, today, line_form=form)
    if request.htmx:
        return render_page(request, TEMPLATE, context, fragment="lines")
    context |= _around(request, patient, context["known"], today)
    return render_page(request, TEMPLATE, context, status=422)


def _line_form(data: QueryDict | None, line: Line, version: PlanVersion) -> LineForm:
    typed_into = copy(line)  # checking a form writes on its line; the list shows what is saved
    typed_into.version = version
    return LineForm(data, instance=typed_into)


@line_action
def line_move(request: StaffRequest, patient: Patient, line: Line, way: str) -> HttpResponse:
    """Move a line one place up or down."""
    actions.move_line(by=request.user, line=line, places=WAYS.get(way, 0))
    return answer(request, patient, line)


@line_action
def line_step(request: StaffRequest, patient: Patient, line: Line, way: str) -> HttpResponse:
    """Take a line one step up or down its ladder; a load goes with the step that has it."""
    shown = shown_line(line)
    step = shown.neighbour(WAYS.get(way, 0))
    if step is None:
        return _neighbour(request, patient, line, way)
    actions.change_line(
        by=request.user,
        line=line,
        changes={
            "step": step.effort.key,
            "load_means": step.load_means.value if step.load_means else "",
            "load_g": 0,
        },
    )
    messages.success(request, f"{shown.title}: now {step.effort.label}.")
    return answer(request, patient, line)


def _neighbour(request: StaffRequest, patient: Patient, line: Line, way: str) -> HttpResponse:
    """Put the neighbour exercise in the place of one at its ladder's end; the dose stays."""
    shown = shown_line(line)
    key = {"easier": shown.exercise.easier, "harder": shown.exercise.harder}.get(way)
    revision = queries.revision_in_use(key) if key else None
    if revision is None:
        end = "lowest" if way == "easier" else "highest"
        raise ActionRefused(f"{shown.title} is on the {end} step of its ladder.")
    usual = actions.usual_line(revision=revision, effort=shown.step.effort, side=line.side)
    names = ["revision", "step", "side", "load_means", "load_g"]
    if usual.unit != line.unit:
        names += ["unit", "sets", "amount_low", "amount_high", "hold_s", "pace_s", "rest_s"]
    changes: dict[str, object] = {name: getattr(usual, name) for name in names}
    if line.stop_motion not in queries.exercise_of(revision).moves:
        changes |= {"stop_motion": "", "stop_deg": None}
    actions.change_line(by=request.user, line=line, changes=changes)
    now = shown_line(line)
    messages.success(request, f"{now.title}, {now.step.effort.label}, instead of {shown.title}.")
    return answer(request, patient, line)


@line_action
def line_instead(request: StaffRequest, patient: Patient, line: Line) -> HttpResponse:
    """Put in a line's place what is offered: a step, stop, orthosis, exercise or helper."""
    changes = _instead(line, request.POST.get("offer", ""))
    actions.change_line(by=request.user, line=line, changes=changes)
    messages.success(request, f"Changed: {shown_line(line).title}.")
    return answer(request, patient, line, takes_focus=True)


def _instead(line: Line, offer: str) -> dict[str, object]:
    """Return what an offer, as its button sends it, changes of a line."""
    kind, *said = offer.split(":")
    steps = {step.effort.key: step for step in shown_line(line).exercise.steps}
    if kind == "step" and len(said) == 1 and said[0] in steps:
        means = steps[said[0]].load_means
        return {"step": said[0], "load_means": means.value if means else "", "load_g": 0}
    if kind == "stop" and len(said) == 2 and said[0] in MOTIONS and _is_whole(said[1]):
        return {"stop_motion": said[0], "stop_deg": int(said[1])}
    if kind == "orthosis":
        return {"orthosis": "on"}
    if kind == "helper" and len(said) == 1:
        helpers = line.version.patient.home_helpers.all()
        helper = next((each for each in helpers if str(each.pk) == said[0]), None)
        if helper:
            return {"home_helper": helper}
    revision = queries.revision_in_use(said[0]) if kind == "exercise" and len(said) == 2 else None
    if revision is None:
        raise ActionRefused("That is no longer on offer. This is how the draft stands now.")
    other = actions.usual_line(
        revision=revision,
        effort=next((effort for effort in Effort if effort.key == said[1]), None),
        side=line.side,
    )
    kept = ("key", "position", "note_staff", "episode", "home_helper", "orthosis")
    return {name: getattr(other, name) for name in actions.COPIED_FIELDS if name not in kept}


def _is_whole(text: str) -> bool:
    return text.removeprefix("-").isdecimal() and len(text) <= 4


@line_action
def line_remove(request: StaffRequest, patient: Patient, line: Line) -> HttpResponse:
    """Take a line out; it can be put back until the next one is added or removed."""
    request.session["removed_line"] = {
        "version": line.version_id,
        "title": shown_line(line).title,
        "fields": actions.line_fields(line),
    }
    lines = list(line.version.lines.all())
    at = lines.index(line)
    neighbours = lines[at + 1 :] or lines[:at][::-1]
    actions.remove_line(by=request.user, line=line)
    return answer(request, patient, neighbours[0] if neighbours else None, takes_focus=True)


@draft_action
def line_restore(request: StaffRequest, patient: Patient, version: PlanVersion) -> HttpResponse:
    """Put the line taken out last back where it was."""
    removed = request.session.pop("removed_line", None)
    if not removed or removed["version"] != version.pk:
        raise ActionRefused("There is nothing to put back.")
    line = actions.restore_line(by=request.user, version=version, fields=removed["fields"])
    messages.success(request, f"{removed['title']} is back.")
    return answer(request, patient, line)
