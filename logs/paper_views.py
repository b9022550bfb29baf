"""The paper diary: a week on one grid, typed in and saved in one go."""

from collections.abc import Mapping
from datetime import date
from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from clinic.http import StaffRequest, render_page, today_in
from logs.models import Source
from logs.paper import MOST_EXTRAS, WeekPlan, paper_week
from logs.paper_actions import SessionMoved, save_week
from logs.paper_forms import first_cell, read_typed, wrong_cells
from logs.paper_page import DiaryPage, days_heard, monday_of, week_plan, why_of_days
from patients.actions import record_view
from patients.models import Patient
from patients.queries import patient_for, zone_of
from patients.views import person_context


@require_http_methods(["GET", "POST"])
def diary(request: StaffRequest, pk: int) -> HttpResponse:
    """Show a week as typed so far; save what is typed, or name what can't be and keep it all."""
    patient = patient_for(request.user, pk)
    today = today_in(zone_of(patient))
    plan = week_plan(patient, monday_of(request.GET.get("week", ""), today), today)
    if request.method == "POST":
        page = _page_as_typed(request, patient, plan, today)
        if page is None:
            return redirect(f"{reverse('diary', args=[pk])}?week={plan.first_day:%G-W%V}")
    else:
        record_view(user=request.user, patient=patient, page="diary")
        week = paper_week(plan, extras=_extras(request.GET))
        page = DiaryPage(
            week=week,
            heard=days_heard(patient, plan.first_day, today),
            wrong=(),
            was={place: told.revision for place, told in week.typed.items()},
            source=Source.PAPER,
            token=uuid4(),
            today=today,
            why=why_of_days(patient, plan.first_day),
        )
    context = person_context(patient, "diary", today) | {"page": page}
    return render_page(request, "logs/diary.html", context, status=422 if page.wrong else 200)


def _page_as_typed(
    request: StaffRequest, patient: Patient, plan: WeekPlan, today: date
) -> DiaryPage | None:
    """Save the form and return nothing; or return the page with all that was typed."""
    texts = request.POST.dict()
    adds_row = "add_extra" in texts
    extras = min(MOST_EXTRAS, _extras(texts) + adds_row)
    week = paper_week(plan, extras=extras, texts=texts)
    typed = read_typed(texts, week)
    problems = dict(typed.problems)
    if not problems and not adds_row:
        try:
            saved = save_week(by=request.user, patient=patient, week=week, typed=typed, today=today)
        except SessionMoved as moved:
            cell = first_cell(week, moved.place)
            problems[cell.name if cell else ""] = str(moved)
        else:
            messages.success(request, saved.words)
            return None
    week = paper_week(plan, extras=extras, texts=texts, problems={} if adds_row else problems)
    return DiaryPage(
        week=week,
        heard=days_heard(patient, plan.first_day, today, typed.ticked),
        wrong=wrong_cells(week),
        was=typed.was,
        source=typed.source,
        token=typed.token,
        today=today,
        why=typed.reasons,
    )


def _extras(asked: Mapping[str, str]) -> int:
    """Return how many rows for extra sessions are asked for; 0 for anything that is no number."""
    text = asked.get("extras", "")
    return int(text) if len(text) == 1 and text.isascii() and text.isdigit() else 0
