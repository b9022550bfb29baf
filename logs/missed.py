"""Why sessions were missed, as far as anyone said: counts by reason, with the days behind them.

Pure. Only days heard from can have missed sessions. A reason for one occasion counts once; one for
the whole day counts for whatever else was missed on it. What nobody gave a reason for is told too.

>>> from logs.tally import DayTally
>>> day = date(2026, 3, 2)
>>> tally = DayTally(day, 1, 3, 0, 0, 0, 0, 0, 0, True, (), ())
>>> found = missed_sessions([tally], [ToldReason(day, 2, "pain"), ToldReason(day, None, "tired")])
>>> [(reason, row.sessions) for reason, row in found.by_reason.items()], found.without_reason
([('tired', 2), ('pain', 1)], 0)
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from logs.tally import DayTally


@dataclass(frozen=True, slots=True)
class ToldReason:
    """Why a session of a day was missed; without an ``occasion``, why all of them were."""

    day: date
    occasion: int | None
    reason: str


@dataclass(frozen=True, slots=True)
class ReasonRow:
    """How many sessions were missed for one reason, and on which days."""

    sessions: int
    days: tuple[date, ...]


@dataclass(frozen=True, slots=True)
class MissedDay:
    """A heard day with sessions missed; ``reason`` is the one given for the whole day, if any."""

    day: date
    sessions: int
    reason: str


@dataclass(frozen=True, slots=True)
class MissedSessions:
    """The missed sessions of the heard days, most frequent reason first."""

    days: tuple[MissedDay, ...]
    by_reason: Mapping[str, ReasonRow]
    without_reason: int

    @property
    def sessions(self) -> int:
        """All that were missed."""
        return sum(day.sessions for day in self.days)


def missed_sessions(days: Iterable[DayTally], told: Iterable[ToldReason]) -> MissedSessions:
    """Return what was missed and why; a reason for a day on which nothing was missed counts not."""
    whole: dict[date, str] = {}
    single: dict[date, dict[int, str]] = defaultdict(dict)
    for each in told:
        if each.occasion is None:
            whole[each.day] = each.reason
        else:
            single[each.day][each.occasion] = each.reason
    missed: list[MissedDay] = []
    counts: dict[str, int] = defaultdict(int)
    behind: dict[str, list[date]] = defaultdict(list)
    without = 0
    for tally in days:
        left = tally.due - tally.done if tally.is_heard else 0
        if left <= 0:
            continue
        missed.append(MissedDay(tally.day, left, whole.get(tally.day, "")))
        reasons = [reason for _, reason in sorted(single[tally.day].items())][:left]
        rest = left - len(reasons)
        if tally.day in whole:
            reasons += [whole[tally.day]] * rest
        else:
            without += rest
        for reason in reasons:
            counts[reason] += 1
            if tally.day not in behind[reason]:
                behind[reason].append(tally.day)
    order = sorted(counts, key=lambda reason: (-counts[reason], reason))
    return MissedSessions(
        tuple(missed),
        {reason: ReasonRow(counts[reason], tuple(behind[reason])) for reason in order},
        without,
    )
