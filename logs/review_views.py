"""The review page, and striking entries out on it."""

from datetime import date
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse, QueryDict
from django.middleware.csrf import get_token
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_POST

from clinic.actions import ActionRefused
from clinic.http import StaffRequest, render_page, today_in
from clinic.queries import clinic_profile
from logs.actions import restore_entry, strike_entry
from logs.chart import svg
from logs.forms import DatesForm, MissedForm, PairForm, ReviewedForm, StrikeForm
from logs.models import Entry, MissedReason
from logs.pain_page import pain_page
from logs.queries import earlier_tellings, entry_of
from logs.review import review_of
from logs.review_actions import (
    record_review,
    say_of_pair,
    say_why_missed,
    take_back_pair_word,
)
from logs.review_page import (
    SHAPES,
    UNIT_WORDS,
    calendar,
    dose_rows,
    obstacle_rows,
    reason_rows,
    together_of,
    volume_table,
)
from logs.review_pdf import review_pdf
from logs.review_queries import LastReview, last_review
from logs.review_tables import calendar_rows, dose_rows_of, opened, reason_items, volume_rows
from logs.review_words import summary
from logs.session_items import session_items
from logs.stop_page import stops_shown
from logs.together import together
from logs.windows import USUAL, Choice, choices
from patients.actions import record_view
from patients.queries import patient_for, zone_of
from patients.views import person_context
from plans.queries import Schedule, schedule_of
from plans.schedule import Window, version_on

FIRST_SESSIONS = 6
"""How many sessions the page lists before it is asked for all."""

FIRST_WEEKS = 8
"""How many weeks of volume the page has side by side before it is asked for all."""


def review(request: StaffRequest, pk: int) -> HttpResponse:
    """One patient's follow-up over a window; ``behind`` names a figure to open."""
    patient = patient_for(request.user, pk)
    today = today_in(zone_of(patient))
    schedule = schedule_of(patient)
    last = last_review(patient)
    offered = _choices(schedule, today, last)
    window, chosen, form = _window(request.GET, offered)
    found = review_of(patient, window, today, schedule=schedule)
    asked, address = request.GET.get("behind"), _address(chosen, window)
    context: dict[str, object] = {
        "review": found,
        "address": address,
        "opened": opened(found, asked, address) if asked else None,
    }
    if context["opened"] and request.htmx:
        return render_page(request, "logs/review.html", context, fragment="behind")
    record_view(user=request.user, patient=patient, page="review")
    lines, joints = dose_rows(found)
    weeks, volume = calendar(found), volume_table(found, FIRST_WEEKS)
    told = together_of(found)
    tellings = tuple(reversed(found.tellings))
    listed = tellings if "sessions" in request.GET else tellings[:FIRST_SESSIONS]
    earlier = earlier_tellings(patient, [telling.session.entry for telling in listed])
    token = get_token(request)
    say_why = f"{reverse('missed', args=[pk])}?{address}"
    context |= person_context(patient, "review", today) | {
        "choices": offered,
        "chosen": chosen,
        "form": form,
        "sentences": summary(found),
        "doses": [
            (f"plan.{unit}", UNIT_WORDS[unit], tally)
            for unit, tally in found.dose.by_plan().items()
        ],
        "overdone": found.dose.overdone,
        "calendar": calendar_rows(weeks, address),
        "reasons": reason_rows(found),
        "missed": found.missed,
        "stop_signs": stops_shown(found.stops_here),
        "reason_items": reason_items(found.missed.days, say_why, token),
        "last_review": last,
        "shapes": [
            (kind, words)
            for kind, words in SHAPES.items()
            if any(mark and mark.kind == kind for week in weeks for mark in week.days)
        ],
        "obstacles": obstacle_rows(found),
        "dose_tables": [
            ("By line", dose_rows_of(lines, address)),
            ("By joint", dose_rows_of(joints, address)),
        ]
        if lines
        else [],
        "volume": volume,
        "volume_joints": volume_rows(volume.joints, address),
        "volume_loaded": volume_rows(volume.loaded, address),
        "pain": pain_page(found),
        "chart": mark_safe(  # noqa: S308 (all text in it is escaped by its writer)
            svg(together(told), "Sessions, volume and pain by day; a table stands below")
        ),
        "sessions": session_items(found, listed, earlier, patient=pk, address=address, token=token),
        "sessions_left": len(tellings) - len(listed),
    }
    return render_page(request, "logs/review.html", context)


def _choices(schedule: Schedule, today: date, last: LastReview | None) -> tuple[Choice, ...]:
    in_force = version_on(schedule.versions, today)
    return choices(
        today=today,
        version_day=in_force.first_day if in_force else None,
        first_day=min((version.first_day for version in schedule.versions), default=None),
        review_day=last.day if last else None,
    )


def _window(query: QueryDict, offered: tuple[Choice, ...]) -> tuple[Window, str, DatesForm]:
    """The window that was asked for, its name (empty for two dates), and the form of dates."""
    named = {choice.key: choice.window for choice in offered}
    if "first_day" in query or "last_day" in query:
        form = DatesForm(query)
        if form.is_valid():
            return form.window(), "", form
        return named[USUAL], USUAL, form
    chosen = query.get("window", USUAL)
    chosen = chosen if chosen in named else USUAL
    window = named[chosen]
    return (
        window,
        chosen,
        DatesForm(initial={"first_day": window.first_day, "last_day": window.last_day}),
    )


def _address(chosen: str, window: Window) -> str:
    """The query that shows this window again."""
    if chosen:
        return urlencode({"window": chosen})
    return urlencode({"first_day": window.first_day, "last_day": window.last_day})


def review_as_pdf(request: StaffRequest, pk: int) -> HttpResponse:
    """The same review on paper; ``letter=1`` sets the paper."""
    patient = patient_for(request.user, pk)
    today = today_in(zone_of(patient))
    schedule = schedule_of(patient)
    window, _, _ = _window(request.GET, _choices(schedule, today, last_review(patient)))
    record_view(user=request.user, patient=patient, page="review as PDF")
    content = review_pdf(
        review_of(patient, window, today, schedule=schedule),
        clinic_name=clinic_profile().name,
        letter=request.GET.get("letter") == "1",
    )
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={"Content-Disposition": 'inline; filename="review.pdf"'},
    )


@require_POST
def entry_strike(request: StaffRequest, pk: int, uuid: UUID) -> HttpResponse:
    """Strike an entry out with a reason."""
    entry = _entry(request, pk, uuid)
    form = StrikeForm(request.POST)
    try:
        reason = form.cleaned_data["reason"] if form.is_valid() else ""
        strike_entry(by=request.user, entry=entry, reason=reason)
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "Struck out. It counts nowhere and stays on record.")
    return _back(request, pk, f"entry-{uuid}")


@require_POST
def entry_restore(request: StaffRequest, pk: int, uuid: UUID) -> HttpResponse:
    """Let a struck entry count again."""
    entry = _entry(request, pk, uuid)
    try:
        restore_entry(by=request.user, entry=entry)
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "The entry counts again.")
    return _back(request, pk, f"entry-{uuid}")


def _entry(request: StaffRequest, pk: int, uuid: UUID) -> Entry:
    entry = entry_of(patient_for(request.user, pk), uuid)
    if entry is None:
        raise Http404("no such entry")
    return entry


@require_POST
def missed(request: StaffRequest, pk: int) -> HttpResponse:
    """Keep why the sessions of a day were missed; htmx gets the section anew."""
    patient = patient_for(request.user, pk)
    form = MissedForm(request.POST)
    try:
        if not form.is_valid():
            raise ActionRefused("Choose one of the reasons.")
        say_why_missed(
            by=request.user,
            patient=patient,
            day=form.cleaned_data["day"],
            reason=form.cleaned_data["reason"],
            source=form.cleaned_data["source"] or MissedReason.Told.VISIT,
            today=today_in(zone_of(patient)),
        )
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
    return _back(request, pk, "missed")


@require_POST
def pair(request: StaffRequest, pk: int) -> HttpResponse:
    """Keep whether two entries are the same session, two, or open again."""
    patient = patient_for(request.user, pk)
    form = PairForm(request.POST)
    if not form.is_valid():
        raise Http404("no such entries")
    given = form.cleaned_data
    both = (_entry(request, pk, given["one"]), _entry(request, pk, given["other"]))
    try:
        if given["word"] == "unsaid":
            take_back_pair_word(by=request.user, patient=patient, pair=both)
        else:
            say_of_pair(
                by=request.user, patient=patient, pair=both, is_same=given["word"] == "same"
            )
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
    return _back(request, pk, f"entry-{given['one']}")


@require_POST
def reviewed(request: StaffRequest, pk: int) -> HttpResponse:
    """Keep that the patient was reviewed today, over the days on the screen."""
    patient = patient_for(request.user, pk)
    form = ReviewedForm(request.POST)
    try:
        if not form.is_valid() or form.cleaned_data["last_day"] < form.cleaned_data["first_day"]:
            raise ActionRefused("A note is text of at most 500 characters; nothing was kept.")
        record_review(
            by=request.user,
            patient=patient,
            day=today_in(zone_of(patient)),
            window=Window(form.cleaned_data["first_day"], form.cleaned_data["last_day"]),
            note=form.cleaned_data["note"],
        )
    except ActionRefused as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "Kept: reviewed today.")
    return _back(request, pk, "reviewed")


def _back(request: StaffRequest, pk: int, place: str) -> HttpResponse:
    """To the same window, at a place of the page."""
    names = ("window", "first_day", "last_day", "sessions")
    kept = {name: request.GET[name] for name in names if name in request.GET}
    query = f"?{urlencode(kept)}" if kept else ""
    return redirect(f"{reverse('review', args=[pk])}{query}#{place}")
