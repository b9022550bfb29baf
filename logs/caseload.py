"""The whole clinic at a glance: who has gone quiet, who hurts more, what waits."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from enum import StrEnum
from typing import NamedTuple

from logs.figure_queries import (
    judged_days,
    kept_columns,
    marked_days,
    numbers_done,
    phone_days,
    span_rows,
)
from logs.figures import READ_DAYS, Figures
from logs.queries import OverseenPatient
from logs.review_queries import last_review_days
from logs.stop_page import OpenShown
from logs.stop_queries import holds_by_patient, partial_days
from logs.tally import percent_of
from logs.thresholds import Thresholds
from plans.schedule import Window


class Flag(StrEnum):
    """Why someone should look, most pressing first; its value is the word on the page."""

    STOP_SIGN = "stop sign unanswered"
    WAITING = "waits for a signature"
    PRECAUTION_DUE = "precaution to look at again"
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


class SessionSums(NamedTuple):
    """Session adherence in sums over days; each means what `logs.tally.SessionAdherence` says."""

    due: int
    done: int
    extra: int
    unheard: int
    heard_due: int
    heard_done: int
    held: int

    @property
    def percent(self) -> float | None:
        """Done ÷ due over the heard days."""
        return percent_of(self.heard_done, self.heard_due)

    @property
    def lower_percent(self) -> float | None:
        """Done ÷ due over all days: as if all that is unheard had been missed."""
        return percent_of(self.done, self.due)

    @property
    def upper_percent(self) -> float | None:
        """As if all that is unheard had been done."""
        return percent_of(self.done + self.unheard, self.due)


class CaseloadRow(NamedTuple):
    """One patient on the caseload.

    ``last_word`` is the latest day heard from or told of, None if there is none in four weeks;
    ``silent_days`` are past days since with something due. Pains are medians of the days' highest
    worst-during score, None with too few days. ``repetitions`` are confirmed ones, as far as told.
    ``overdone`` is the number of line days overdone in the week that has most of them. ``stop`` is
    the most urgent reported stop sign that nobody has answered.
    """

    patient: OverseenPatient
    today: date
    sessions: SessionSums
    last_word: date | None
    silent_days: int
    pain: float | None
    pain_before: float | None
    repetitions: int
    repetitions_before: int
    plan_since: date | None
    is_paused: bool
    overdone: int
    flags: tuple[Flag, ...]
    stop: OpenShown | None

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
    stops: Mapping[int, OpenShown],
    precautions_due: frozenset[int],
    days: int,
    limits: Thresholds,
) -> tuple[CaseloadRow, ...]:
    """Return a row for each patient (seven queries, two more where plans changed lately, two where
    a day was held in part).

    ``today_of`` has each patient's own present day, ``waiting`` those with a version that waits for
    a signature, ``stops`` the most urgent unanswered stop sign, ``precautions_due`` those with a
    precaution that asks to be looked at again; ``days`` is the window of adherence, at most 28.
    What is kept ready is read, and what stop signs hold: see `logs.kept`, `plans.spans` and
    `logs.holds`.
    """
    if not patients:
        return ()
    todays = today_of.values()
    read = Window(min(todays) - timedelta(days=READ_DAYS - 1), max(todays))
    figures = Figures({patient.pk: today_of[patient.pk] for patient in patients})
    figures.add_spans(span_rows(read), read.first_day)
    figures.add_kept(kept_columns(read))
    holds = holds_by_patient(read)
    figures.add_holds(holds, numbers_done(partial_days(holds)))
    figures.add_heard(marked_days(read), phone_days())
    overdone = figures.overdone(judged_days(figures.unclear))
    reviewed = last_review_days()
    rows = []
    for patient, sums, word, silent, pains, told, plan, times in zip(
        patients,
        figures.sessions(days),
        figures.last_words(),
        figures.silent_days(),
        figures.pains(limits.fewest_pain_days.value),
        figures.repetitions_told(),
        figures.plans,
        overdone,
        strict=True,
    ):
        today = today_of[patient.pk]
        sessions = SessionSums(*sums)
        looked_at = max(plan.since, reviewed.get(patient.pk, plan.since)) if plan.since else None
        stop = stops.get(patient.pk)
        flags = _flags(sessions, silent, pains, looked_at, today, times, limits)
        if patient.pk in precautions_due:
            flags = (Flag.PRECAUTION_DUE, *flags)
        if patient.pk in waiting:
            flags = (Flag.WAITING, *flags)
        if stop is not None:
            flags = (Flag.STOP_SIGN, *flags)
        rows.append(
            CaseloadRow(
                patient,
                today,
                sessions,
                word,
                silent,
                pains[0],
                pains[1],
                told[0],
                told[1],
                plan.since,
                plan.is_paused,
                times,
                flags,
                stop,
            )
        )
    return tuple(rows)


def _flags(
    sessions: SessionSums,
    silent_days: int,
    pains: tuple[float | None, float | None],
    looked_at: date | None,
    today: date,
    overdone: int,
    limits: Thresholds,
) -> tuple[Flag, ...]:
    flags = []
    now, before = pains
    if now is not None and before is not None and now - before >= limits.hurts_more_points.value:
        flags.append(Flag.HURTS_MORE)
    if silent_days >= limits.quiet_days.value:
        flags.append(Flag.QUIET)
    if overdone >= limits.overdone_times.value:
        flags.append(Flag.OVERDOING)
    percent = sessions.percent
    if percent is not None and percent < limits.low_percent.value:
        flags.append(Flag.DOES_LITTLE)
    if looked_at is None:
        flags.append(Flag.NO_PLAN)
    elif (today - looked_at).days >= limits.plan_days.value:
        flags.append(Flag.PLAN_DUE)
    return tuple(flags)
