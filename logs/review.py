"""One patient's follow-up over a window of days: every figure with the days behind it."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import TypedDict

from logs.adherence import Session, dose_adherence, session_adherence
from logs.heard import PhoneWord, heard_days, lost_store_days
from logs.line_demands import BodyTaken, body_taken, demands_for
from logs.pain import DayPain, PainReport, PainTrend, Series, pain_days, pain_trend
from logs.queries import Hearing, Telling, hearing_of, tellings_in
from logs.tally import DoseAdherence, LineDay, SessionAdherence
from logs.volume import Volume, VolumeRow, volume
from patients.models import Patient
from plans.queries import Schedule, exercise_by_hash, schedule_of
from plans.schedule import Occasion, PauseSpan, Version, Window, iso_week, occasions


@dataclass(frozen=True)
class ReviewContext:
    """What a review shows, on the page and by command.

    ``tellings`` are the window's entries as they stand, those struck out too. ``lost`` days can't
    become heard unless a person marks them, as the phone's store was lost.
    """

    clinic_number: str
    window: Window
    today: date
    schedule: Schedule
    tellings: tuple[Telling, ...]
    hearing: Hearing
    heard: frozenset[date]
    lost: frozenset[date]
    sessions: SessionAdherence
    dose: DoseAdherence
    volume: Volume
    body: BodyTaken
    pain: tuple[DayPain, ...]

    @cached_property
    def trends(self) -> Mapping[Series, PainTrend]:
        """The trend of each series of pain scores."""
        return {series: pain_trend(self.pain, series) for series in Series}

    @property
    def pauses(self) -> tuple[PauseSpan, ...]:
        """The pauses that touch the window."""
        return tuple(
            pause
            for pause in self.schedule.pauses
            if pause.first_day <= self.window.last_day
            and (pause.last_day is None or self.window.first_day <= pause.last_day)
        )

    @property
    def lost_days(self) -> tuple[date, ...]:
        """The lost days in order."""
        return tuple(sorted(self.lost))

    def is_paused(self, day: date) -> bool:
        """Whether the plan was paused on a day."""
        return any(day in pause for pause in self.schedule.pauses)

    def behind(self, row: VolumeRow) -> tuple[LineDay, ...]:
        """The line days that a row of volume is made of."""
        return tuple(
            line_day
            for line_day in self.dose.days
            if iso_week(line_day.day) == row.week
            and row.side in line_day.line.side.parts
            and _is_about(line_day, row)
            and (line_day.prescribed or line_day.performed)
        )


def _is_about(line_day: LineDay, row: VolumeRow) -> bool:
    line = line_day.line
    if row.motion:
        return row.motion in line.moves
    return row.joint in (line.joints_moved if row.is_moved else line.joints_only_loaded)


def review_of(
    patient: Patient, window: Window, today: date, *, schedule: Schedule | None = None
) -> ReviewContext:
    """Return the review of a window, which ends no later than ``today``.

    Nine queries, of which the schedule takes four unless it is given.
    """
    schedule = schedule or schedule_of(patient)
    tellings = tellings_in(patient, window)
    hearing = hearing_of(patient, window)
    hearing_facts = _Hearing(
        marked=hearing.marked.keys(), phones=hearing.phones, window=window, today=today
    )
    heard = heard_days(**hearing_facts)
    body = body_of(patient)
    counting = [telling for telling in tellings if telling.strike is None]
    facts = _Facts(
        versions=schedule.versions,
        occasions=occasions(schedule.versions, schedule.pauses, window),
        sessions=[telling.session for telling in counting],
        window=window,
        today=today,
    )
    return ReviewContext(
        clinic_number=patient.clinic_number,
        window=window,
        today=today,
        schedule=schedule,
        tellings=tellings,
        hearing=hearing,
        heard=heard,
        lost=lost_store_days(**hearing_facts),
        sessions=session_adherence(heard=heard, **facts),
        dose=dose_adherence(heard=heard, **facts),
        volume=volume(demand_of=demands_for(body.body, exercise_by_hash), **facts),
        body=body,
        pain=pain_days(map(pain_report, counting), window),
    )


def body_of(patient: Patient) -> BodyTaken:
    """Return the body that loads are estimated for."""
    mass_kg = patient.body_mass_kg
    return body_taken(patient.stature_cm, None if mass_kg is None else float(mass_kg))


class _Hearing(TypedDict):
    """What both questions about heard days go by."""

    marked: Collection[date]
    phones: Sequence[PhoneWord]
    window: Window
    today: date


class _Facts(TypedDict):
    """What all computing starts from."""

    versions: Sequence[Version]
    occasions: Sequence[Occasion]
    sessions: Sequence[Session]
    window: Window
    today: date


def pain_report(telling: Telling) -> PainReport:
    """Return the pains of an entry as the value that computing takes."""
    scores = telling.scores
    return PainReport(
        entry=telling.session.entry,
        day=telling.session.day,
        before=scores.pain_before,
        worst=scores.pain_worst,
        after=scores.pain_after,
        next_morning=scores.pain_next_morning,
    )
