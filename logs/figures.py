"""The caseload's figures of many patients at once, from what is kept ready. Pure.

A row a patient and a column a day, of which the last is the patient's own present day. Every figure
means what `logs.adherence` says; what is different is that they are worked out for all patients
in one go.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from logs.holds import Hold, held_numbers
from plans.spans import BITS_A_WEEKDAY

FORTNIGHT_DAYS = 14
READ_DAYS = 2 * FORTNIGHT_DAYS
"""How far back the caseload looks: two fortnights, one against the other."""

type Integers = npt.NDArray[np.int64]
type Truths = npt.NDArray[np.bool_]

_DAYS = np.arange(READ_DAYS)
_WEEKS = READ_DAYS // 7 + 1
_ALL_DAYS = (1 << READ_DAYS) - 1
_FOREVER = date.max.toordinal()


class SpanRow(NamedTuple):
    """A span of what is due, its days counted from some day."""

    patient: int
    first: int
    last: int | None
    version: int
    since: int
    is_paused: bool
    occasions: int


class PhoneDays(NamedTuple):
    """A phone by ordinals: enrolled from the first to before the end, None if it still is.

    Each of its ``stores`` speaks for the days from one ordinal to before another.
    """

    first: int
    end: int | None
    stores: list[tuple[int, int]]


@dataclass(frozen=True, slots=True)
class KeptColumns:
    """Kept days, patient by patient, and how many each has; then a column a fact.

    ``day`` is an ordinal; ``pain_worst`` is -1 without an answer, and ``version`` 0 without one to
    judge by.
    """

    patients: list[int]
    counts: list[int]
    day: Integers
    numbered: Integers
    beside: Integers
    pain_worst: Integers
    beyond: Integers
    repetitions: Integers
    version: Integers


class PlanNow(NamedTuple):
    """The version in force today: its first day, if it has lines, and whether it is paused."""

    since: date | None
    is_paused: bool


NO_PLAN = PlanNow(None, False)


@dataclass(frozen=True, slots=True)
class Unclear:
    """A day on which a session was done by another version than was in force.

    What was overdone on it needs the lines: see ``Figures.overdone``.
    """

    patient: int
    day: date
    in_force: int


class Figures:
    """Counts of all days, by patient; ``days`` columns at the end are the window of adherence."""

    def __init__(self, today_of: Mapping[int, date]) -> None:
        self.patients = tuple(today_of)
        self.place = {patient: row for row, patient in enumerate(self.patients)}
        shape = (len(self.patients), READ_DAYS)
        self.first = np.array(
            [today.toordinal() - READ_DAYS + 1 for today in today_of.values()], np.int64
        )
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
        self.plans = [NO_PLAN] * len(self.patients)
        self.unclear: tuple[Unclear, ...] = ()

    def add_spans(self, spans: Iterable[SpanRow], origin: date) -> None:
        """Fill in what was due; the spans' days are counted from ``origin``."""
        start_of_all = origin.toordinal()
        there = [span for span in spans if span.patient in self.place]
        if not there:
            return
        patients, starts, ends, versions, _, pauses, week = zip(*there, strict=True)
        rows = np.array([self.place[patient] for patient in patients], np.int64)
        began = self.first[rows] - start_of_all
        start = np.array(starts, np.int64) - began
        last = np.array([_FOREVER if end is None else end for end in ends], np.int64) - began
        span, column = np.nonzero((start[:, None] <= _DAYS) & (last[:, None] >= _DAYS))
        row = rows[span]
        version = np.array(versions, np.int64)[span]
        occasions = np.array(week, np.int64)[span]
        is_paused = np.array(pauses, np.bool_)[span]
        # Ordinal 1, 1 January of year 1, was a Monday.
        weekday = (self.first[row] - 1 + column) % 7
        due = occasions >> (BITS_A_WEEKDAY * weekday) & ((1 << BITS_A_WEEKDAY) - 1)
        self.in_force[row, column] = version
        self.due[row, column] = np.where(is_paused, 0, due)
        for at in set(span[column == READ_DAYS - 1].tolist()):
            now = there[at]
            since = date.fromordinal(now.since + start_of_all) if now.occasions else None
            self.plans[self.place[now.patient]] = PlanNow(since, bool(now.is_paused))

    def add_kept(self, kept: KeptColumns) -> None:
        """Fill in what was told; days outside are left out."""
        if not kept.patients:
            return
        row = np.repeat([self.place.get(patient, -1) for patient in kept.patients], kept.counts)
        column = kept.day - self.first[row]
        there = (row >= 0) & (column >= 0) & (column < READ_DAYS)
        at = row[there], column[there]
        self.numbered[at] = kept.numbered[there]
        self.beside[at] = kept.beside[there]
        self.pain_worst[at] = kept.pain_worst[there]
        self.beyond[at] = kept.beyond[there]
        self.repetitions[at] = kept.repetitions[there]
        self.is_told[at] = True
        seen = np.zeros_like(self.in_force)
        seen[at] = kept.version[there]
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
        for patient, held in holds.items():
            row = self.place.get(patient)
            if row is None:
                continue
            first = int(self.first[row])
            in_part: set[date] = set()
            for hold in held:
                start = hold.first_day.toordinal() - first + (hold.first_number > 1)
                end = hold.end_day.toordinal() - first if hold.end_day else READ_DAYS
                whole = row, slice(max(0, start), max(0, end))
                self._hold(whole, self.due[whole], self.numbered[whole])
                in_part |= {day for day in (hold.first_day, hold.end_day) if day is not None}
            for day in in_part:
                at = row, day.toordinal() - first
                if 0 <= at[1] < READ_DAYS:
                    due = held_numbers(held, ((day, 1 + n) for n in range(int(self.due[at]))))
                    done = [
                        number
                        for number in numbers.get((patient, day), ())
                        if any(hold.covers(day, number) for hold in held)
                    ]
                    self._hold(at, len(due), min(len(done), int(self.numbered[at])))

    def _hold(self, at: tuple[int, int | slice], due: Integers | int, done: Integers | int) -> None:
        self.held[at] += due
        self.beside[at] += done
        self.due[at] -= due
        self.numbered[at] -= done

    def add_heard(
        self,
        marked: Mapping[int, Iterable[int]],
        phones: Mapping[int, Iterable[PhoneDays]],
    ) -> None:
        """Fill in which days are heard: marked ones, as ordinals, and those phones answer for.

        A patient's own present day is never heard.
        """
        masks = [0] * len(self.patients)
        firsts = self.first.tolist()
        for patient, words in phones.items():
            row = self.place.get(patient)
            if row is not None:
                masks[row] = heard_mask(words, firsts[row])
        for patient, days in marked.items():
            row = self.place.get(patient)
            if row is not None:
                first = firsts[row]
                for day in days:
                    if 0 <= day - first < READ_DAYS:
                        masks[row] |= 1 << (day - first)
        bits = np.array(masks, np.int64)
        self.is_heard = (bits[:, None] >> _DAYS & 1).astype(np.bool_)
        self.is_heard[:, -1] = False

    def sessions(self, days: int) -> Sequence[tuple[int, int, int, int, int, int, int]]:
        """Due, done, extra, unheard, due and done on heard days, held, over the last ``days``."""
        end = slice(READ_DAYS - days, READ_DAYS)
        due, heard = self.due[:, end], self.is_heard[:, end]
        done = np.minimum(self.numbered[:, end], due)
        extra = self.numbered[:, end] + self.beside[:, end] - done
        columns = (
            due.sum(1),
            done.sum(1),
            extra.sum(1),
            ((due - done) * ~heard).sum(1),
            (due * heard).sum(1),
            (done * heard).sum(1),
            self.held[:, end].sum(1),
        )
        return list(zip(*(column.tolist() for column in columns), strict=True))

    def last_words(self) -> Sequence[date | None]:
        """The latest day heard from or told of."""
        last = self._last_word()
        return [
            date.fromordinal(first + column) if column >= 0 else None
            for first, column in zip(self.first.tolist(), last.tolist(), strict=True)
        ]

    def _last_word(self) -> Integers:
        known = self.is_heard | self.is_told
        return np.where(known, _DAYS, -1).max(1, initial=-1)

    def silent_days(self) -> Sequence[int]:
        """Past days since the last word on which something was due."""
        silent = (self.due > 0) & (self._last_word()[:, None] < _DAYS)
        found: list[int] = silent[:, :-1].sum(1).tolist()
        return found

    def pains(self, fewest: int) -> Sequence[tuple[float | None, float | None]]:
        """Median of the days' highest worst pain, this fortnight and the one before.

        None with fewer days than ``fewest``.
        """
        before, now = (
            _medians(self.pain_worst[:, part], fewest)
            for part in (slice(0, FORTNIGHT_DAYS), slice(FORTNIGHT_DAYS, READ_DAYS))
        )
        return list(zip(now, before, strict=True))

    def repetitions_told(self) -> Sequence[tuple[int, int]]:
        """Confirmed repetitions, this fortnight and the one before."""
        before = self.repetitions[:, :FORTNIGHT_DAYS].sum(1).tolist()
        now = self.repetitions[:, FORTNIGHT_DAYS:].sum(1).tolist()
        return list(zip(now, before, strict=True))

    def overdone(self, judged: Mapping[tuple[int, date], int]) -> Sequence[int]:
        """The most line days overdone in one ISO week; ``judged`` has those of unclear days."""
        beyond = self.beyond
        for (patient, day), lines in judged.items():
            row = self.place[patient]
            beyond[row, day.toordinal() - int(self.first[row])] = lines
        week = ((self.first[:, None] - 1) % 7 + _DAYS) // 7
        by_week = [(beyond * (week == number)).sum(1) for number in range(_WEEKS)]
        most: list[int] = np.max(by_week, axis=0).tolist()
        return most


def heard_mask(phones: Iterable[PhoneDays], first: int) -> int:
    """The days that phones answer for, a bit a day from the ordinal ``first`` on.

    As `logs.heard.heard_days` has them, without marks.
    """
    enrolled_any, answered_all = 0, _ALL_DAYS
    for start, end, stores in phones:
        enrolled = _bits(start, end, first)
        answers = 0
        for made, empty in stores:
            answers |= _bits(made, empty, first)
        enrolled_any |= enrolled
        answered_all &= ~enrolled | answers
    return enrolled_any & answered_all


def _bits(start: int, end: int | None, first: int) -> int:
    """Bits of the days from the ordinal ``start`` to before ``end``."""
    low = min(max(0, start - first), READ_DAYS)
    high = READ_DAYS if end is None else min(max(0, end - first), READ_DAYS)
    return ((1 << high) - 1) & ~((1 << low) - 1)


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
