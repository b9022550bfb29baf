"""What the paper diary's page shows: the week's grid and from which of its days word has come."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID

from logs.heard import heard_days
from logs.models import Source, Why
from logs.paper import PaperSession, PaperWeek, Place, ToldSession, WeekPlan
from logs.paper_forms import SOURCES, WrongCell
from logs.queries import Telling, hearing_of, tellings_in
from logs.review_queries import reasons_in
from patients.models import Patient
from plans.queries import schedule_of
from plans.schedule import Window, iso_week


@dataclass(frozen=True)
class DayHeard:
    """One day's tick: ``marked`` is the source of a person's mark, ``by_phone`` a phone's word."""

    day: date
    is_past: bool
    is_ticked: bool
    marked: str
    by_phone: bool

    @property
    def words(self) -> str:
        """How word of it came, if it did."""
        if self.marked:
            return f"heard: {self.marked}"
        if self.by_phone:
            return "heard: phone"
        return "not heard yet" if self.is_past else ""


@dataclass(frozen=True)
class DiaryPage:
    """The page of one week, and what its form carries along besides what is typed."""

    week: PaperWeek
    heard: tuple[DayHeard, ...]
    wrong: tuple[WrongCell, ...]
    was: Mapping[Place, str]
    source: str
    token: UUID
    today: date
    why: Mapping[date, str]

    @property
    def iso_week(self) -> str:
        """The week, as ISO 8601 names it."""
        return iso_week(self.week.days[0])

    @property
    def before(self) -> str:
        """The week before."""
        return iso_week(self.week.days[0] - timedelta(days=7))

    @property
    def after(self) -> str:
        """The week after; empty where it is still to come."""
        after = self.week.days[0] + timedelta(days=7)
        return iso_week(after) if after <= self.today else ""

    @property
    def whys(self) -> tuple[tuple[date, bool, str], ...]:
        """Each day: whether it is over, and why sessions of it were missed, if that was said."""
        return tuple((day, day < self.today, self.why.get(day, "")) for day in self.week.days)

    @property
    def why_choices(self) -> list[tuple[str, str]]:
        """What may have been in the way."""
        return Why.choices

    @property
    def sources(self) -> tuple[tuple[str, str], ...]:
        """Where the words may have come from."""
        return tuple((source.value, source.label) for source in SOURCES)


def monday_of(text: str, today: date) -> date:
    """Return the first day of an ISO 8601 week like 2026-W40; this week's for none or a later one.

    >>> monday_of("2026-W01", date(2026, 3, 4)), monday_of("soon", date(2026, 3, 4))
    (datetime.date(2025, 12, 29), datetime.date(2026, 3, 2))
    """
    year, _, number = text.partition("-W")
    this_week = today - timedelta(days=today.weekday())
    try:
        monday = date.fromisocalendar(int(year), int(number), 1)
    except ValueError:
        return this_week
    return min(monday, this_week)


def week_plan(patient: Patient, first_day: date, today: date) -> WeekPlan:
    """Return what holds in a patient's week (three queries)."""
    schedule = schedule_of(patient)
    window = Window(first_day, first_day + timedelta(days=6))
    tellings = [told for told in tellings_in(patient, window) if told.strike is None]
    return WeekPlan(
        first_day=first_day,
        versions=schedule.versions,
        pauses=schedule.pauses,
        today=today,
        told=tuple(told_session(telling) for telling in tellings),
    )


def told_session(telling: Telling) -> ToldSession:
    """Return an entry as it stands, as the grid takes it."""
    session = telling.session
    return ToldSession(
        entry=session.entry,
        revision=telling.revision,
        day=session.day,
        number=session.number,
        version=session.version,
        source=session.source,
        is_typed=session.source in (Source.PAPER, Source.TELEPHONE),
        session=PaperSession(
            amounts={done.line_key: tuple(done.amounts) for done in session.performances},
            scores=(*telling.pain.scores, telling.effort),
            note=telling.note,
            loads={
                done.line_key: done.load_g
                for done in session.performances
                if done.load_g is not None
            },
            unconfirmed=frozenset(
                done.line_key for done in session.performances if not done.confirmed
            ),
        ),
    )


def why_of_days(patient: Patient, first_day: date) -> dict[date, str]:
    """Return why whole days of the week were missed, as far as it is known (one query)."""
    told = reasons_in(patient, Window(first_day, first_day + timedelta(days=6)))
    return {each.day: each.reason for each in told if each.occasion is None}


def days_heard(
    patient: Patient, first_day: date, today: date, ticked: frozenset[date] | None = None
) -> tuple[DayHeard, ...]:
    """Return each day's tick, as stored or as just ``ticked`` (two queries)."""
    window = Window(first_day, first_day + timedelta(days=6))
    hearing = hearing_of(patient, window)
    by_phone = heard_days(marked=(), phones=hearing.phones, window=window, today=today)
    return tuple(
        DayHeard(
            day=day,
            is_past=day < today,
            is_ticked=day in (hearing.marked if ticked is None else ticked),
            marked=hearing.marked.get(day, ""),
            by_phone=day in by_phone,
        )
        for day in window.days()
    )
