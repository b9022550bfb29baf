"""The whole clinic at a glance: who has gone quiet, who hurts more, what waits."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from enum import StrEnum
from functools import cache
from itertools import compress
from typing import NamedTuple

from logs.figure_queries import figures_of, judged_days, worst_pains
from logs.figures import SessionSums
from logs.pain import PainTrend, Series, trend_of_days
from logs.queries import OverseenPatient
from logs.review_queries import last_review_days
from logs.stop_page import OpenShown
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


TREND_DAYS = 56
"""How far back the trend of pain looks: two fortnights have too few scores for one."""


def pain_trends(rows: Sequence[CaseloadRow]) -> dict[int, PainTrend]:
    """Return the trend of the days' highest worst pain of rows on a screen, by patient.

    One query. It costs much more than a median: ask for no more rows than are shown.
    """
    if not rows:
        return {}
    read = Window(
        min(row.today for row in rows) - timedelta(days=TREND_DAYS - 1),
        max(row.today for row in rows),
    )
    scores = worst_pains([row.patient.pk for row in rows], read)
    return {patient: trend_of_days(points, Series.WORST) for patient, points in scores.items()}


class _Columns(NamedTuple):
    """What `Figures` found, a value a patient in each."""

    sessions: Sequence[SessionSums]
    last_word: Sequence[date | None]
    silent_days: Sequence[int]
    pains: Sequence[tuple[float | None, float | None]]
    repetitions: Sequence[tuple[int, int]]
    since: Sequence[date | None]
    is_paused: Sequence[bool]
    overdone: Sequence[int]


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
    figures = figures_of({patient.pk: today_of[patient.pk] for patient in patients})
    columns = _Columns(
        sessions=figures.sessions(days),
        last_word=figures.last_words(),
        silent_days=figures.silent_days(),
        pains=figures.pains(limits.fewest_pain_days.value),
        repetitions=figures.repetitions_told(),
        since=figures.plans_since(),
        is_paused=figures.is_paused.tolist(),
        overdone=figures.overdone(judged_days(figures.unclear)),
    )
    pks = figures.patients
    reviewed = last_review_days()
    raised = {
        Flag.STOP_SIGN: [pk in stops for pk in pks],
        Flag.WAITING: [pk in waiting for pk in pks],
        Flag.PRECAUTION_DUE: [pk in precautions_due for pk in pks],
        **_raised(columns, [today_of[pk] for pk in pks], [reviewed.get(pk) for pk in pks], limits),
    }
    return tuple(
        CaseloadRow(
            patient,
            today_of[patient.pk],
            sessions,
            word,
            silent,
            pains[0],
            pains[1],
            told[0],
            told[1],
            since,
            is_paused,
            overdone,
            _flags(flags),
            stops.get(patient.pk),
        )
        for patient, sessions, word, silent, pains, told, since, is_paused, overdone, flags in zip(
            patients, *columns, zip(*(raised[flag] for flag in Flag), strict=True), strict=True
        )
    )


def _raised(
    columns: _Columns,
    todays: Sequence[date],
    reviewed: Sequence[date | None],
    limits: Thresholds,
) -> dict[Flag, list[bool]]:
    """Whose figures raise which flag."""
    more, quiet = limits.hurts_more_points.value, limits.quiet_days.value
    times, low, old = (
        limits.overdone_times.value,
        limits.low_percent.value,
        limits.plan_days.value,
    )
    percents = [sessions.percent for sessions in columns.sessions]
    looked_at = [
        max(since, day or since) if since else None
        for since, day in zip(columns.since, reviewed, strict=True)
    ]
    return {
        Flag.HURTS_MORE: [
            now is not None and before is not None and now - before >= more
            for now, before in columns.pains
        ],
        Flag.QUIET: [days >= quiet for days in columns.silent_days],
        Flag.OVERDOING: [most >= times for most in columns.overdone],
        Flag.DOES_LITTLE: [percent is not None and percent < low for percent in percents],
        Flag.NO_PLAN: [day is None for day in looked_at],
        Flag.PLAN_DUE: [
            day is not None and (today - day).days >= old
            for today, day in zip(todays, looked_at, strict=True)
        ],
    }


@cache
def _flags(raised: tuple[bool, ...]) -> tuple[Flag, ...]:
    return tuple(compress(Flag, raised))
