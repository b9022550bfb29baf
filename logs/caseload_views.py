"""The supervisor's page: everyone in care, what waits, and the same as a table file."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby
from typing import Any, NamedTuple

from django.conf import settings
from django.core.paginator import Page, Paginator
from django.http import Http404, HttpResponse
from django.utils import timezone

from clinic.actions import write_audit
from clinic.http import StaffRequest, render_page, today_in
from clinic.queries import clinic_profile
from logs.caseload import CaseloadRow, Flag, caseload, pain_trends
from logs.caseload_csv import csv_text
from logs.forms import CaseloadForm
from logs.pain_words import short_trend_words
from logs.queries import overseen_patients
from logs.stop_page import OpenShown, open_shown
from logs.stop_queries import open_stops
from logs.stops import urgency
from logs.thresholds import Thresholds, read_thresholds
from patients.precaution_queries import precautions_due
from plans.models import PlanVersion
from plans.queries import waiting_versions
from plans.stop_signs import TIERS

THRESHOLDS = settings.BASE_DIR / "fixtures" / "thresholds.toml"
NOBODY = "nobody in charge"

type Key = Callable[[CaseloadRow], Any]


def _unknown_last(value: float | None, *, largest_first: bool = False) -> tuple[bool, float]:
    if value is None:
        return True, 0
    return False, -value if largest_first else value


SORTS: dict[str, Key] = {
    "therapist": lambda row: row.patient.lead or "\uffff",
    "name": lambda row: row.patient.name,
    "flags": lambda row: (
        urgency(row.stop.open.tier) if row.stop else len(TIERS),
        [list(Flag).index(flag) for flag in row.flags] or [len(Flag)],
    ),
    "sessions": lambda row: _unknown_last(row.sessions.percent),
    "word": lambda row: -(row.days_since_word if row.days_since_word is not None else 999),
    "pain": lambda row: _unknown_last(row.pain_change, largest_first=True),
    "volume": lambda row: _unknown_last(row.volume_change_percent),
}
"""The orders of the list, each with the most pressing first."""


ROWS_A_PAGE = 60


class ShownRow(NamedTuple):
    """A row on the screen, and what the trend of its pain shows, if anything."""

    row: CaseloadRow
    trend: str


class Group(NamedTuple):
    """The rows on the screen of one therapist, of so many in all; or those of everybody."""

    lead: str
    of_all: int
    rows: tuple[ShownRow, ...]


@dataclass(frozen=True)
class Caseload:
    """What the page and the file show."""

    rows: tuple[CaseloadRow, ...]
    all_rows: tuple[CaseloadRow, ...]
    waiting: tuple[PlanVersion, ...]
    stops: tuple[OpenShown, ...]
    days: int
    sort: str
    flag: str
    therapist: str
    limits: Thresholds
    today: date

    @property
    def late_stops(self) -> tuple[OpenShown, ...]:
        """Unanswered stop signs past the clinic's set time: the supervisor's to see to."""
        return tuple(stop for stop in self.stops if stop.is_late)

    @property
    def fresh_stops(self) -> tuple[OpenShown, ...]:
        """Unanswered stop signs that their therapists still have time for."""
        return tuple(stop for stop in self.stops if not stop.is_late)

    @property
    def flag_counts(self) -> tuple[tuple[Flag, int], ...]:
        """How many of all patients have each flag that any has."""
        counted = ((flag, sum(flag in row.flags for row in self.all_rows)) for flag in Flag)
        return tuple((flag, count) for flag, count in counted if count)

    def groups(self, page: Page[CaseloadRow]) -> tuple[Group, ...]:
        """The rows of a page under their therapist where the list is in that order, else as one.

        One query.
        """
        trends = pain_trends(list(page))
        shown = [ShownRow(row, short_trend_words(trends.get(row.patient.pk))) for row in page]
        if self.sort != "therapist":
            return (Group("", len(self.rows), tuple(shown)),) if shown else ()
        counts = Counter(row.patient.lead or NOBODY for row in self.rows)
        by_lead = groupby(shown, key=lambda shown: shown.row.patient.lead or NOBODY)
        return tuple(Group(lead, counts[lead], tuple(rows)) for lead, rows in by_lead)


def caseload_page(request: StaffRequest) -> HttpResponse:
    """Everyone in care by therapist, with flags; versions that wait for a signature on top."""
    found, form = _caseload(request)
    page = Paginator(found.rows, ROWS_A_PAGE).get_page(request.GET.get("page"))
    query = request.GET.copy()
    query.pop("page", None)
    context = {
        "section": "caseload",
        "caseload": found,
        "form": form,
        "query": query,
        "page": page,
        "groups": found.groups(page),
    }
    return render_page(request, "logs/caseload.html", context, fragment="list")


def caseload_file(request: StaffRequest) -> HttpResponse:
    """The same rows as CSV."""
    found, _ = _caseload(request)
    write_audit(user=request.user, verb="downloaded caseload", subject=f"{len(found.rows)} rows")
    answer = HttpResponse(csv_text(*_table(found)), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="caseload-{found.today}.csv"'
    return answer


def _caseload(request: StaffRequest) -> tuple[Caseload, CaseloadForm]:
    if not request.user.may_sign:
        raise Http404("the caseload is a supervisor's")
    zone = clinic_profile().time_zone
    patients = overseen_patients()
    today_of_zone = {
        name: today_in(name) for name in {zone, *(p.time_zone or zone for p in patients)}
    }
    waiting = tuple(waiting_versions())
    limits = read_thresholds(THRESHOLDS)
    form = CaseloadForm(request.GET, therapists=sorted({p.lead or NOBODY for p in patients}))
    asked = form.choice()
    lead_of = {patient.pk: patient.lead or NOBODY for patient in patients}
    stops = tuple(
        replace(stop, lead=lead_of.get(stop.open.patient, NOBODY))
        for stop in open_shown(open_stops(request.user), now=timezone.now(), limits=limits)
    )
    first_stops = {stop.open.patient: stop for stop in reversed(stops)}
    waiting_for = frozenset(version.patient_id for version in waiting)
    today_of = {p.pk: today_of_zone[p.time_zone or zone] for p in patients}
    all_rows = tuple(
        row
        for row in caseload(
            patients,
            today_of=today_of,
            waiting=waiting_for,
            precautions_due=precautions_due(today_of),
            stops=first_stops,
            days=asked.days,
            limits=limits,
        )
        if row.patient.has_open_episode
        or row.plan_since
        or {Flag.WAITING, Flag.STOP_SIGN} & {*row.flags}
    )
    rows = [
        row
        for row in sorted(all_rows, key=lambda row: (SORTS[asked.sort](row), row.patient.name))
        if (not asked.flag or asked.flag in [flag.key for flag in row.flags])
        and (not asked.therapist or (row.patient.lead or NOBODY) == asked.therapist)
    ]
    found = Caseload(
        rows=tuple(rows),
        all_rows=all_rows,
        waiting=waiting,
        stops=stops,
        days=asked.days,
        sort=asked.sort,
        flag=asked.flag,
        therapist=asked.therapist,
        limits=limits,
        today=today_of_zone[zone],
    )
    return found, form


HEADER = (
    "clinic_number",
    "name",
    "therapist",
    "flags",
    "days",
    "sessions_due",
    "sessions_done",
    "sessions_extra",
    "sessions_unheard",
    "sessions_held",
    "percent",
    "lower_percent",
    "upper_percent",
    "last_word",
    "days_since_word",
    "worst_pain_median_14_days",
    "worst_pain_median_14_days_before",
    "repetitions_14_days",
    "repetitions_14_days_before",
    "plan_since",
    "paused",
    "stop_sign",
    "stop_sign_received",
)


def _table(found: Caseload) -> tuple[Sequence[str], list[Sequence[object]]]:
    """The columns of the file and its rows."""
    rows: list[Sequence[object]] = []
    for row in found.rows:
        sessions = row.sessions
        percents = (sessions.percent, sessions.lower_percent, sessions.upper_percent)
        rows.append(
            (
                row.patient.clinic_number,
                row.patient.name,
                row.patient.lead,
                "; ".join(row.flags),
                found.days,
                sessions.due,
                sessions.done,
                sessions.extra,
                sessions.unheard,
                sessions.held,
                *(None if percent is None else round(percent, 2) for percent in percents),
                row.last_word,
                row.days_since_word,
                row.pain,
                row.pain_before,
                row.repetitions,
                row.repetitions_before,
                row.plan_since,
                "yes" if row.is_paused else "no",
                row.stop.tier if row.stop else None,
                row.stop.open.received_at.isoformat(timespec="minutes") if row.stop else None,
            )
        )
    return HEADER, rows
