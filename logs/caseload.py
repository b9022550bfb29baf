"""The whole clinic at a glance: who has gone quiet, who hurts more, what waits."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum
from statistics import median

from logs.adherence import dose_adherence, session_adherence
from logs.heard import heard_days
from logs.queries import (
    Hearing,
    OverseenPatient,
    PatientTelling,
    hearing_by_patient,
    tellings_by_patient,
)
from logs.tally import DoseAdherence, SessionAdherence
from logs.thresholds import Thresholds
from logs.windows import last_days
from plans.queries import Schedule, schedules_of
from plans.schedule import Unit, Window, occasions, version_on

FORTNIGHT_DAYS = 14
READ_DAYS = 2 * FORTNIGHT_DAYS
"""How far back the caseload looks: two fortnights, one against the other."""

NOBODY = Schedule((), ())
NO_HEARING = Hearing({}, ())


class Flag(StrEnum):
    """Why someone should look, most pressing first; its value is the word on the page."""

    WAITING = "waits for a signature"
    HURTS_MORE = "hurts more"
    QUIET = "quiet"
    OVERDOING = "overdoing"
    DOES_LITTLE = "does little"
    NO_PLAN = "no plan"
    PLAN_DUE = "plan due for review"

    @property
    def key(self) -> str:
        """What stands for it in an address."""
        return self.name.lower()


@dataclass(frozen=True)
class CaseloadRow:
    """One patient on the caseload.

    ``last_word`` is the latest day heard from or told of, None if there is none in four weeks;
    ``silent_days`` are past days since with something due. Pains are medians of the days' highest
    worst-during score, None with too few days. ``repetitions`` are confirmed ones, as far as told.
    """

    patient: OverseenPatient
    today: date
    sessions: SessionAdherence
    last_word: date | None
    silent_days: int
    pain: float | None
    pain_before: float | None
    repetitions: int
    repetitions_before: int
    plan_since: date | None
    is_paused: bool
    flags: tuple[Flag, ...]

    @property
    def days_since_word(self) -> int | None:
        """Days since the last word; None if that is longer ago than the caseload looks back."""
        return None if self.last_word is None else (self.today - self.last_word).days

    @property
    def pain_change(self) -> float | None:
        """Points from the fortnight before to this one; None where one is not known."""
        if self.pain is None or self.pain_before is None:
            return None
        return self.pain - self.pain_before

    @property
    def volume_change_percent(self) -> float | None:
        """Repetitions of this fortnight against the one before; None from nothing."""
        if not self.repetitions_before:
            return None
        return 100 * (self.repetitions - self.repetitions_before) / self.repetitions_before

    @property
    def volume_change_words(self) -> str:
        """The change of volume in words."""
        change = round(self.volume_change_percent or 0)
        return (
            f"{abs(change)}\N{NO-BREAK SPACE}% {'more' if change > 0 else 'less'}"
            if change
            else "unchanged"
        )


def caseload(
    patients: Sequence[OverseenPatient],
    *,
    today_of: Mapping[int, date],
    waiting: frozenset[int],
    days: int,
    limits: Thresholds,
) -> tuple[CaseloadRow, ...]:
    """Return a row for each patient (nine queries, however many there are).

    ``today_of`` has each patient's own present day, ``waiting`` those with a version that waits for
    a signature; ``days`` is the window of adherence, at most 28.
    """
    if not patients:
        return ()
    read = Window(min(today_of.values()) - timedelta(days=READ_DAYS - 1), max(today_of.values()))
    schedules = schedules_of(None)
    tellings = tellings_by_patient(read)
    hearings = hearing_by_patient(None, read)
    return tuple(
        _row(
            patient,
            today_of[patient.pk],
            schedules.get(patient.pk, NOBODY),
            tellings.get(patient.pk, ()),
            hearings.get(patient.pk, NO_HEARING),
            patient.pk in waiting,
            days,
            limits,
        )
        for patient in patients
    )


def _row(
    patient: OverseenPatient,
    today: date,
    schedule: Schedule,
    tellings: Sequence[PatientTelling],
    hearing: Hearing,
    is_waiting: bool,
    days: int,
    limits: Thresholds,
) -> CaseloadRow:
    read = last_days(READ_DAYS, today)
    heard = heard_days(
        marked=hearing.marked.keys(), phones=hearing.phones, window=read, today=today
    )
    due = occasions(schedule.versions, schedule.pauses, read)
    sessions = [telling.session for telling in tellings]
    adherence = session_adherence(
        versions=schedule.versions,
        occasions=due,
        sessions=sessions,
        heard=heard,
        window=read,
        today=today,
    )
    dose = dose_adherence(
        versions=schedule.versions,
        occasions=due,
        sessions=sessions,
        heard=heard,
        window=read,
        today=today,
    )
    told = (session.day for session in sessions if session.day in read)
    last_word = max((*heard, *told), default=None)
    now, before = last_days(FORTNIGHT_DAYS, today), _fortnight_before(today)
    in_force = version_on(schedule.versions, today)
    has_plan = in_force is not None and bool(in_force.lines)
    row = CaseloadRow(
        patient=patient,
        today=today,
        sessions=SessionAdherence(adherence.days[-days:]),
        last_word=last_word,
        silent_days=sum(
            1
            for tally in adherence.days
            if tally.due and tally.day < today and (last_word is None or tally.day > last_word)
        ),
        pain=_median_worst(tellings, now, limits),
        pain_before=_median_worst(tellings, before, limits),
        repetitions=_repetitions(dose, now),
        repetitions_before=_repetitions(dose, before),
        plan_since=in_force.first_day if in_force and has_plan else None,
        is_paused=any(today in pause for pause in schedule.pauses),
        flags=(),
    )
    overdone = max(dose.overdone_by_week().values(), default=0)
    return replace(row, flags=_flags(row, is_waiting, overdone, limits))


def _fortnight_before(today: date) -> Window:
    return last_days(FORTNIGHT_DAYS, today - timedelta(days=FORTNIGHT_DAYS))


def _median_worst(
    tellings: Sequence[PatientTelling], window: Window, limits: Thresholds
) -> float | None:
    highest: dict[date, int] = defaultdict(int)
    for telling in tellings:
        day, score = telling.session.day, telling.pain_worst
        if score is not None and day in window:
            highest[day] = max(highest[day], score)
    return median(highest.values()) if len(highest) >= limits.fewest_pain_days.value else None


def _repetitions(dose: DoseAdherence, window: Window) -> int:
    return sum(
        line_day.performed
        for line_day in dose.days
        if line_day.day in window and line_day.line.unit is Unit.REPETITIONS
    )


def _flags(
    row: CaseloadRow, is_waiting: bool, overdone: int, limits: Thresholds
) -> tuple[Flag, ...]:
    percent, change = row.sessions.percent, row.pain_change
    plan_days = (row.today - row.plan_since).days if row.plan_since else 0
    holds = {
        Flag.WAITING: is_waiting,
        Flag.HURTS_MORE: change is not None and change >= limits.hurts_more_points.value,
        Flag.QUIET: row.silent_days >= limits.quiet_days.value,
        Flag.OVERDOING: overdone >= limits.overdone_times.value,
        Flag.DOES_LITTLE: percent is not None and percent < limits.low_percent.value,
        Flag.NO_PLAN: row.plan_since is None,
        Flag.PLAN_DUE: plan_days >= limits.plan_days.value,
    }
    return tuple(flag for flag in Flag if holds[flag])
