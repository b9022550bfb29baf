"""One patient's follow-up over a window of days: every figure with the days behind it."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from itertools import chain
from typing import TypedDict

from logs.adherence import dose_adherence_of, session_adherence_of
from logs.counting import DayFacts
from logs.heard import PhoneWord, heard_days, lost_store_days
from logs.holds import held_numbers
from logs.line_demands import demands_for
from logs.missed import MissedSessions, missed_sessions
from logs.obstacles import LineObstacles, line_obstacles
from logs.pain import (
    NO_CHANGE_KNOWN,
    DayPain,
    PainChange,
    PainTrend,
    Series,
    change_since,
    pain_days,
    pain_trend,
)
from logs.queries import Hearing, Telling, hearing_of, tellings_in
from logs.review_queries import (
    assessed_days,
    clinic_limits,
    pain_reports_in,
    reasons_in,
    words_on_pairs,
)
from logs.stop_queries import stops_of
from logs.stops import StopTold, holds_of
from logs.tally import DoseAdherence, LineDay, SessionAdherence
from logs.thresholds import Thresholds
from logs.volume import Volume, VolumeRow, volume_of
from patients.models import Patient
from plans.plan_page import body_of
from plans.queries import Schedule, exercise_by_hash, schedule_of
from plans.schedule import PauseSpan, Version, Window, iso_week, occasions, version_on
from plans.segments import BodyTaken


@dataclass(frozen=True)
class ReviewContext:
    """What a review shows, on the page and by command.

    ``tellings`` are the window's entries as they stand, those struck out too. ``lost`` days can't
    become heard unless a person marks them, as the phone's store was lost. ``version`` is the one
    in force on the last day; pain since it began may reach back before the window. ``pairs`` are
    entries of which a person has said that they are the same session (True) or two. ``stops`` are
    all reported stop signs, those outside the window too, as they may hold days of it.
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
    limits: Thresholds
    version: Version | None
    pain_since_version: tuple[DayPain, ...]
    missed: MissedSessions
    pairs: Mapping[frozenset[str], bool]
    assessed: tuple[date, ...]
    stops: tuple[StopTold, ...]

    @cached_property
    def trends(self) -> Mapping[Series, PainTrend]:
        """The trend of each series of pain scores."""
        return {
            series: self.worst_trend if series is Series.WORST else pain_trend(self.pain, series)
            for series in Series
        }

    @cached_property
    def worst_trend(self) -> PainTrend:
        """The trend of worst pain during exercise."""
        return pain_trend(self.pain, Series.WORST)

    @cached_property
    def changes(self) -> Mapping[Series, PainChange]:
        """How each series changed since the version in force on the last day began."""
        if self.version is None:
            return dict.fromkeys(Series, NO_CHANGE_KNOWN)
        return {
            series: change_since(
                self.version.first_day,
                self.pain_since_version,
                series,
                last_day=self.last_counted_day,
                difference=self.limits.important_difference,
            )
            for series in Series
        }

    @cached_property
    def obstacles(self) -> Mapping[str, LineObstacles]:
        """What stood in the way of lines in the sessions that count, by line key."""
        counted = {entry for day in self.sessions.days for entry in day.entries}
        return line_obstacles(
            (telling.session.day, said)
            for telling in self.tellings
            # A session in which nothing was done is counted nowhere, and yet says why.
            if telling.strike is None
            and (telling.session.entry in counted or not telling.session.is_done)
            for said in telling.said
        )

    @cached_property
    def efforts(self) -> tuple[tuple[date, int], ...]:
        """How hard the sessions that count were, by day, as the patient said."""
        return tuple(
            (telling.session.day, telling.effort)
            for telling in self.tellings
            if telling.strike is None and telling.effort is not None
        )

    @property
    def above_pain_limit(self) -> tuple[DayPain, ...]:
        """The days whose peak is above the pain limit of the version then in force."""
        limits = {version.number: version.pain_limit for version in self.schedule.versions}
        in_force = {day.day: day.version for day in self.sessions.days}
        return tuple(
            day
            for day in self.pain
            if (limit := limits.get(in_force.get(day.day) or 0)) is not None and day.is_above(limit)
        )

    @property
    def last_counted_day(self) -> date:
        """The window's last day that is not to come."""
        return min(self.window.last_day, self.today)

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
    def stops_here(self) -> tuple[StopTold, ...]:
        """The stop signs reported within the window, or holding some day of it."""
        days = self.window.days()
        return tuple(
            stop
            for stop in self.stops
            if stop.day in self.window
            or (stop.hold is not None and any(stop.hold.covers_any(day) for day in days))
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

    Ten queries, of which the schedule takes two unless it is given; one more where the version
    began before the window.
    """
    pairs = words_on_pairs(patient)
    schedule = schedule or schedule_of(patient)
    tellings = tellings_in(patient, window)
    hearing = hearing_of(patient, window)
    hearing_facts = _Hearing(
        marked=hearing.marked.keys(), phones=hearing.phones, window=window, today=today
    )
    heard = heard_days(**hearing_facts)
    counting = [telling for telling in tellings if telling.strike is None]
    pain = pain_days((telling.pain for telling in counting), window)
    version = version_on(schedule.versions, min(window.last_day, today))
    body = body_of(patient)
    stops = stops_of(patient)
    asked = occasions(schedule.versions, schedule.pauses, window)
    facts = DayFacts.of(
        versions=schedule.versions,
        occasions=asked,
        held=held_numbers(
            holds_of(stops),
            chain(
                ((occasion.day, occasion.number) for occasion in asked),
                ((telling.session.day, telling.session.number) for telling in counting),
            ),
        ),
        sessions=[telling.session for telling in counting],
        told_apart=[pair for pair, is_same in pairs.items() if not is_same],
        window=window,
        today=today,
    )
    sessions = session_adherence_of(facts, heard=heard)
    return ReviewContext(
        clinic_number=patient.clinic_number,
        window=window,
        today=today,
        schedule=schedule,
        tellings=tellings,
        hearing=hearing,
        heard=heard,
        lost=lost_store_days(**hearing_facts),
        sessions=sessions,
        dose=dose_adherence_of(facts, heard=heard),
        volume=volume_of(facts, demand_of=demands_for(body.body, exercise_by_hash)),
        body=body,
        pain=pain,
        limits=clinic_limits(),
        version=version,
        pain_since_version=_pain_since(patient, version, pain, window),
        missed=missed_sessions(sessions.days, reasons_in(patient, window)),
        pairs=pairs,
        assessed=assessed_days(patient, window),
        stops=stops,
    )


def _pain_since(
    patient: Patient, version: Version | None, pain: tuple[DayPain, ...], window: Window
) -> tuple[DayPain, ...]:
    """The days since a version began; read only where the window doesn't hold them all."""
    if version is None or version.first_day > window.last_day:
        return ()
    if window.first_day <= version.first_day:
        return tuple(day for day in pain if version.first_day <= day.day)
    since = Window(version.first_day, window.last_day)
    return pain_days(pain_reports_in(patient, since), since)


class _Hearing(TypedDict):
    """What both questions about heard days go by."""

    marked: Collection[date]
    phones: Sequence[PhoneWord]
    window: Window
    today: date
