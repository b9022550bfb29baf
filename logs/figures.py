"""The caseload's figures of many patients at once, from what is kept ready. Pure.

A row a patient and a column a day, of which the last is the patient's own present day. Every figure
means what `logs.adherence` says; what is different is that they are worked out for all patients
in one go.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from logs.holds import Hold, held_numbers
from logs.tally import percent_of
from plans.spans import BITS_A_WEEKDAY

FORTNIGHT_DAYS = 14
READ_DAYS = 2 * FORTNIGHT_DAYS
"""How far back the caseload looks: two fortnights, one against the other."""

_THIS_FORTNIGHT = slice(-FORTNIGHT_DAYS, None)
_FORTNIGHT_BEFORE = slice(-READ_DAYS, -FORTNIGHT_DAYS)

type Integers = npt.NDArray[np.int64]
type Truths = npt.NDArray[np.bool_]


class SpanColumns(NamedTuple):
    """Spans of what is due, without a gap from one of a patient to the next; days are ordinals."""

    patient: Integers
    first: Integers
    version: Integers
    since: Integers
    is_paused: Integers
    occasions: Integers


class PhoneColumns(NamedTuple):
    """Stores of phones: each speaks for the days from ``made`` to before ``empty``, as ordinals.

    The phone was enrolled from ``enrolled`` to before ``end``. One without a store stands once.
    """

    patient: Integers
    phone: Integers
    enrolled: Integers
    end: Integers
    made: Integers
    empty: Integers


class DayColumns(NamedTuple):
    """Days of patients, as ordinals."""

    patient: Integers
    day: Integers


class KeptColumns(NamedTuple):
    """Kept days of patients.

    ``day`` is an ordinal; ``pain_worst`` is -1 without an answer, and ``version`` 0 without one to
    judge by.
    """

    patient: Integers
    day: Integers
    numbered: Integers
    beside: Integers
    pain_worst: Integers
    beyond: Integers
    repetitions: Integers
    version: Integers


@dataclass(frozen=True, slots=True)
class Unclear:
    """A day on which a session was done by another version than was in force.

    What was overdone on it needs the lines: see ``Figures.overdone``.
    """

    patient: int
    day: date
    in_force: int


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


class Week(NamedTuple):
    """What is kept of the days of one ISO week, as far as they were read.

    ``repetitions`` are the confirmed ones; ``worst_pains`` has the highest score of each day that
    has an answer.
    """

    first_day: date
    last_day: date
    sessions: SessionSums
    repetitions: int
    worst_pains: tuple[int, ...]

    @property
    def pain_highest(self) -> int | None:
        """The highest of the days' highest worst pain; None without an answer."""
        return max(self.worst_pains, default=None)

    @property
    def pain_median(self) -> float | None:
        """The median of the days' highest worst pain; None without an answer."""
        return median(self.worst_pains) if self.worst_pains else None


class Figures:
    """Counts of as many ``days`` up to each patient's present day, which is the last column."""

    def __init__(self, today_of: Mapping[int, date], days: int = READ_DAYS) -> None:
        self.patients = tuple(today_of)
        self.place = {patient: row for row, patient in enumerate(self.patients)}
        self._ordered = np.array(sorted(self.patients), np.int64)
        self._row_of_ordered = np.argsort(np.array(self.patients, np.int64))
        shape = (len(self.patients), days)
        self.columns = np.arange(days)
        today = np.array([today.toordinal() for today in today_of.values()], np.int64)
        self.first = today - (days - 1)
        self.due = np.zeros(shape, np.int64)
        self.held = np.zeros(shape, np.int64)
        self.in_force = np.zeros(shape, np.int64)
        self.numbered = np.zeros(shape, np.int64)
        self.beside = np.zeros(shape, np.int64)
        self.pain_worst = np.full(shape, -1, np.int64)
        self.beyond = np.zeros(shape, np.int64)
        self.repetitions = np.zeros(shape, np.int64)
        self.is_told = np.zeros(shape, np.bool_)
        self.is_heard = np.zeros(shape, np.bool_)
        self.since = np.zeros(len(self.patients), np.int64)
        self.is_paused = np.zeros(len(self.patients), np.bool_)
        self.unclear: tuple[Unclear, ...] = ()

    def _rows(self, patients: Integers) -> Integers:
        """Their rows; -1 for those who have none."""
        at = np.searchsorted(self._ordered[:-1], patients)
        return np.where(self._ordered[at] == patients, self._row_of_ordered[at], -1)

    def _cells(self, patients: Integers, days: Integers) -> tuple[Integers, Integers]:
        """Which of these days have a place here, and where, with all rows laid end to end."""
        rows = self._rows(patients)
        columns, width = days - self.first[rows], len(self.columns)
        there = np.flatnonzero((rows >= 0) & (columns >= 0) & (columns < width))
        return there, rows[there] * width + columns[there]

    def add_spans(self, spans: SpanColumns) -> None:
        """Fill in what was due, and what stands today: see ``since`` and ``is_paused``."""
        rows = self._rows(spans.patient)
        columns = np.maximum(spans.first - self.first[rows], 0)
        there = np.flatnonzero((rows >= 0) & (columns < len(self.columns)))
        there = there[np.argsort(spans.first[there])]
        # A day has the latest span that has begun; 0 stands for none.
        latest = np.zeros_like(self.due)
        latest[rows[there], columns[there]] = np.arange(1, len(there) + 1)
        np.maximum.accumulate(latest, axis=1, out=latest)
        _, _, version, since, is_paused, occasions = (
            np.append(0, column[there]) for column in spans
        )
        # Ordinal 1, 1 January of year 1, was a Monday.
        weekday = (self.first[:, None] - 1 + self.columns) % 7
        due = np.where(is_paused, 0, occasions)[latest]
        self.due = due >> (BITS_A_WEEKDAY * weekday) & ((1 << BITS_A_WEEKDAY) - 1)
        self.in_force = version[latest]
        self.since = np.where(occasions, since, 0)[latest[:, -1]]
        self.is_paused = is_paused[latest[:, -1]] > 0

    def add_kept(self, kept: KeptColumns) -> None:
        """Fill in what was told; days outside are left out."""
        there, at = self._cells(kept.patient, kept.day)
        seen = np.zeros_like(self.in_force)
        for days, told in (
            (self.numbered, kept.numbered),
            (self.beside, kept.beside),
            (self.pain_worst, kept.pain_worst),
            (self.beyond, kept.beyond),
            (self.repetitions, kept.repetitions),
            (seen, kept.version),
        ):
            days.ravel()[at] = told[there]
        self.is_told.ravel()[at] = True
        done = self.numbered + self.beside > 0
        unclear = done & ((seen == 0) | ((self.in_force > 0) & (seen != self.in_force)))
        self.unclear = tuple(
            Unclear(
                self.patients[row],
                date.fromordinal(int(self.first[row]) + column),
                int(self.in_force[row, column]),
            )
            for row, column in zip(*(found.tolist() for found in np.nonzero(unclear)), strict=True)
        )

    def add_holds(
        self,
        holds: Mapping[int, Sequence[Hold]],
        numbers: Mapping[tuple[int, date], Sequence[int]],
    ) -> None:
        """Take what stop signs hold out of what is due; what was done on it is beside.

        ``numbers`` are of the sessions done on days that are held in part. Call it after spans and
        kept days are filled in.
        """
        is_whole = np.zeros_like(self.is_told)
        for patient, held in holds.items():
            row = self.place.get(patient)
            if row is None:
                continue
            first = int(self.first[row])
            for hold in held:
                start = hold.first_day.toordinal() - first + (hold.first_number > 1)
                end = hold.end_day.toordinal() - first if hold.end_day else len(self.columns)
                is_whole[row, max(0, start) : max(0, end)] = True
        self._hold(is_whole, self.due[is_whole], self.numbered[is_whole])
        for (patient, day), done in numbers.items():
            row = self.place.get(patient)
            column = -1 if row is None else day.toordinal() - int(self.first[row])
            if row is not None and 0 <= column < len(self.columns):
                at = row, column
                asked = ((day, 1 + n) for n in range(int(self.due[at])))
                due = held_numbers(holds[patient], asked)
                beside = sum(any(hold.covers(day, n) for hold in holds[patient]) for n in done)
                self._hold(at, len(due), min(beside, int(self.numbered[at])))

    def _hold(
        self, at: Truths | tuple[int, int], due: Integers | int, done: Integers | int
    ) -> None:
        self.held[at] += due
        self.beside[at] += done
        self.due[at] -= due
        self.numbered[at] -= done

    def add_heard(self, marked: DayColumns, phones: PhoneColumns) -> None:
        """Fill in which days are heard: marked ones and those that phones answer for.

        As `logs.heard.heard_days` has them: a patient's own present day is never heard.
        """
        rows = self._rows(phones.patient)
        there = np.flatnonzero(rows >= 0)
        there = there[np.lexsort((phones.phone[there], rows[there]))]
        rows, phone = rows[there], phones.phone[there]
        enrolled, end, made, empty = (
            column[there, None] - self.first[rows, None] for column in phones[2:]
        )
        if len(there):
            # A phone answers for what any of its stores does, and all phones of a day have to.
            starts = np.flatnonzero(np.diff(phone, prepend=phone[0] - 1))
            answers = (made <= self.columns) & (self.columns < empty)
            answers = np.logical_or.reduceat(answers, starts)
            was_enrolled = ((enrolled <= self.columns) & (self.columns < end))[starts]
            rows = rows[starts]
            starts = np.flatnonzero(np.diff(rows, prepend=-1))
            self.is_heard[rows[starts]] = np.logical_or.reduceat(
                was_enrolled, starts
            ) & np.logical_and.reduceat(answers | ~was_enrolled, starts)
        _, at_marked = self._cells(*marked)
        self.is_heard.ravel()[at_marked] = True
        self.is_heard[:, -1] = False

    def plans_since(self) -> Sequence[date | None]:
        """The first day of the version in force today, None if it has no lines."""
        return [date.fromordinal(day) if day else None for day in self.since.tolist()]

    def _sessions(self, which: slice) -> tuple[Integers, ...]:
        """What `SessionSums` sums, of each day in a range of columns."""
        due, is_heard = self.due[:, which], self.is_heard[:, which]
        done = np.minimum(self.numbered[:, which], due)
        extra = self.numbered[:, which] + self.beside[:, which] - done
        unheard = (due - done) * ~is_heard
        return due, done, extra, unheard, due * is_heard, done * is_heard, self.held[:, which]

    def sessions(self, days: int) -> Sequence[SessionSums]:
        """Of the last ``days``."""
        end = slice(len(self.columns) - days, None)
        columns = (of_days.sum(1).tolist() for of_days in self._sessions(end))
        return list(map(SessionSums._make, zip(*columns, strict=True)))

    def weeks(self, patient: int) -> tuple[Week, ...]:
        """Of one patient, in order; the first and last may be parts of a week."""
        row = self.place[patient]
        first = int(self.first[row])
        mondays = np.flatnonzero((first - 1 + self.columns) % 7 == 0).tolist()
        starts = sorted({0, *mondays})
        sums = [
            np.add.reduceat(of_days[row], starts).tolist()
            for of_days in self._sessions(slice(None))
        ]
        repetitions = np.add.reduceat(self.repetitions[row], starts).tolist()
        pains = self.pain_worst[row].tolist()
        return tuple(
            Week(
                date.fromordinal(first + start),
                date.fromordinal(first + end - 1),
                SessionSums(*sessions),
                told,
                tuple(score for score in pains[start:end] if score >= 0),
            )
            for start, end, told, *sessions in zip(
                starts, [*starts[1:], len(pains)], repetitions, *sums, strict=True
            )
        )

    def last_words(self) -> Sequence[date | None]:
        """The latest day heard from or told of."""
        last = self._last_word()
        return [
            date.fromordinal(first + column) if column >= 0 else None
            for first, column in zip(self.first.tolist(), last.tolist(), strict=True)
        ]

    def _last_word(self) -> Integers:
        known = self.is_heard | self.is_told
        return np.where(known, self.columns, -1).max(1, initial=-1)

    def silent_days(self) -> Sequence[int]:
        """Past days since the last word on which something was due."""
        silent = (self.due > 0) & (self._last_word()[:, None] < self.columns)
        found: list[int] = silent[:, :-1].sum(1).tolist()
        return found

    def pains(self, fewest: int) -> Sequence[tuple[float | None, float | None]]:
        """Median of the days' highest worst pain, this fortnight and the one before.

        None with fewer days than ``fewest``.
        """
        before, now = (
            _medians(self.pain_worst[:, part], fewest)
            for part in (_FORTNIGHT_BEFORE, _THIS_FORTNIGHT)
        )
        return list(zip(now, before, strict=True))

    def repetitions_told(self) -> Sequence[tuple[int, int]]:
        """Confirmed repetitions, this fortnight and the one before."""
        before = self.repetitions[:, _FORTNIGHT_BEFORE].sum(1).tolist()
        now = self.repetitions[:, _THIS_FORTNIGHT].sum(1).tolist()
        return list(zip(now, before, strict=True))

    def overdone(self, judged: Mapping[tuple[int, date], int]) -> Sequence[int]:
        """The most line days overdone in one ISO week; ``judged`` has those of unclear days."""
        beyond = self.beyond
        for (patient, day), lines in judged.items():
            row = self.place[patient]
            beyond[row, day.toordinal() - int(self.first[row])] = lines
        week = ((self.first[:, None] - 1) % 7 + self.columns) // 7
        by_week = [(beyond * (week == number)).sum(1) for number in range(int(week.max()) + 1)]
        most: list[int] = np.max(by_week, axis=0).tolist()
        return most


def _medians(scores: Integers, fewest: int) -> list[float | None]:
    """The median of each row's answers; -1 is none."""
    known = (scores >= 0).sum(1)
    ordered = np.sort(scores, axis=1)
    blanks = scores.shape[1] - known
    rows = np.arange(len(scores))
    last = scores.shape[1] - 1
    low = ordered[rows, np.minimum(blanks + (known - 1) // 2, last)]
    high = ordered[rows, np.minimum(blanks + known // 2, last)]
    medians = ((low + high) / 2).tolist()
    return [
        median if count >= fewest else None
        for median, count in zip(medians, known.tolist(), strict=True)
    ]
