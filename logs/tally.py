"""Adherence as counted: tallies of days, their sums, percentages and bounds.

Pure. Each sum keeps the days it is made of, and each figure is worked out from them, once.
"""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import NamedTuple

from patients.motions import Joint
from plans.schedule import PrescribedLine, Unit, iso_week

type Pair = tuple[str, str]
"""Two entries: the one that counts, and the one that is perhaps the same session."""


class DayTally(NamedTuple):
    """One day of session adherence.

    ``due`` leaves out what is ``held``; ``done`` is the part of due that was done; ``extra`` is
    what was done beside it. Of those done, ``whole`` had a full set of each line due, ``part`` had
    not, and the ``unconfirmed`` are whole only if counts that the patient did not confirm are
    right. ``version`` was in force; ``entries`` were counted.
    """

    day: date
    version: int | None
    due: int
    done: int
    extra: int
    held: int
    whole: int
    part: int
    unconfirmed: int
    is_heard: bool
    entries: tuple[str, ...]
    perhaps_same: tuple[Pair, ...]

    @property
    def unheard(self) -> int:
        """Due, not done, and not known to be missed."""
        return 0 if self.is_heard else self.due - self.done


@dataclass(frozen=True)
class SessionAdherence:
    """Session adherence over days. Percentages are None where there is nothing to divide by.

    The bounds hold what the percentage over all days will be once all is heard; the percentage
    over the heard days alone may lie below the lower one.
    """

    days: tuple[DayTally, ...]

    @cached_property
    def due(self) -> int:
        """Occasions due on all days."""
        return sum(day.due for day in self.days)

    @cached_property
    def done(self) -> int:
        """Occasions done on all days, on each at most as many as were due."""
        return sum(day.done for day in self.days)

    @cached_property
    def extra(self) -> int:
        """Sessions done beside what was due, on all days."""
        return sum(day.extra for day in self.days)

    @cached_property
    def held(self) -> int:
        """Occasions held after a stop sign: neither due nor missed."""
        return sum(day.held for day in self.days)

    @cached_property
    def unheard(self) -> int:
        """Occasions due and not done on days not heard."""
        return sum(day.unheard for day in self.days)

    @cached_property
    def heard(self) -> "SessionAdherence":
        """Of the heard days only."""
        return SessionAdherence(tuple(day for day in self.days if day.is_heard))

    @cached_property
    def percent(self) -> float | None:
        """Done ÷ due over the heard days."""
        heard = self.heard
        return percent_of(heard.done, heard.due)

    @cached_property
    def uncapped_percent(self) -> float | None:
        """Done and extra ÷ due over the heard days: to be shown beside the percentage only."""
        heard = self.heard
        return percent_of(heard.done + heard.extra, heard.due)

    @cached_property
    def lower_percent(self) -> float | None:
        """Done ÷ due over all days: as if all that is unheard had been missed."""
        return percent_of(self.done, self.due)

    @cached_property
    def upper_percent(self) -> float | None:
        """As if all that is unheard had been done."""
        return percent_of(self.done + self.unheard, self.due)

    @cached_property
    def unconfirmed(self) -> int:
        """Sessions done that are whole only if counts that nobody confirmed are right."""
        return sum(day.unconfirmed for day in self.days)

    @cached_property
    def whole_percent(self) -> float | None:
        """The share of whole sessions among the done ones of which it is known."""
        whole = sum(day.whole for day in self.days)
        return percent_of(whole, whole + sum(day.part for day in self.days))

    @cached_property
    def perhaps_same(self) -> tuple[Pair, ...]:
        """Pairs of entries that counted once and wait for a person's word."""
        return tuple(pair for day in self.days for pair in day.perhaps_same)

    def by_week(self) -> dict[str, "SessionAdherence"]:
        """By ISO week, in order."""
        return self._grouped(lambda day: iso_week(day.day))

    def by_version(self) -> dict[int | None, "SessionAdherence"]:
        """By the version in force; None before the first."""
        return self._grouped(lambda day: day.version)

    def _grouped[Key: Hashable](
        self, key: Callable[[DayTally], Key]
    ) -> dict[Key, "SessionAdherence"]:
        return {k: SessionAdherence(days) for k, days in _groups(self.days, key).items()}


class LineDay(NamedTuple):
    """One line on one day of dose adherence, in the line's unit.

    ``prescribed`` is for the occasions due and not held, ``credited`` the part of it that was
    done, ``performed`` all that was confirmed, ``recorded`` that and the unconfirmed.
    """

    day: date
    line: PrescribedLine
    version: int | None
    prescribed: int
    credited: int
    performed: int
    recorded: int
    is_heard: bool

    @property
    def unheard(self) -> int:
        """Prescribed, not credited, and not known to be missed."""
        return 0 if self.is_heard else self.prescribed - self.credited

    @property
    def is_overdone(self) -> bool:
        """Whether more was recorded than the line allows on a day, confirmed or not."""
        return self.recorded > self.line.most_per_day


class DoseSums(NamedTuple):
    """What line days of one unit come to."""

    prescribed: int
    credited: int
    performed: int


@dataclass(frozen=True)
class DoseTally:
    """Dose adherence of lines of one unit. Percentages as in ``SessionAdherence``."""

    unit: Unit
    lines: tuple[PrescribedLine, ...]
    of: "DoseAdherence"

    @cached_property
    def days(self) -> tuple[LineDay, ...]:
        """The line days that it is made of, in order."""
        lines = set(map(id, self.lines))
        return tuple([day for day in self.of.days if id(day.line) in lines])

    @cached_property
    def heard(self) -> DoseSums:
        """Of the heard days only."""
        return self._sums(is_heard=True)

    @cached_property
    def _not_heard(self) -> DoseSums:
        return self._sums(is_heard=False)

    def _sums(self, *, is_heard: bool) -> DoseSums:
        there = [self.of.sums[id(line), is_heard] for line in self.lines]
        return DoseSums(*map(sum, zip(*there, strict=True)))

    @property
    def prescribed(self) -> int:
        """Prescribed on all days."""
        return self.heard.prescribed + self._not_heard.prescribed

    @property
    def credited(self) -> int:
        """Credited on all days."""
        return self.heard.credited + self._not_heard.credited

    @property
    def performed(self) -> int:
        """Done and confirmed on all days, credited or not."""
        return self.heard.performed + self._not_heard.performed

    @property
    def unheard(self) -> int:
        """Prescribed and not credited on days not heard."""
        return self._not_heard.prescribed - self._not_heard.credited

    @property
    def percent(self) -> float | None:
        """Credited ÷ prescribed over the heard days."""
        return percent_of(self.heard.credited, self.heard.prescribed)

    @property
    def uncapped_percent(self) -> float | None:
        """Performed ÷ prescribed over the heard days: to be shown beside the percentage only."""
        return percent_of(self.heard.performed, self.heard.prescribed)

    @property
    def lower_percent(self) -> float | None:
        """Credited ÷ prescribed over all days."""
        return percent_of(self.credited, self.prescribed)

    @property
    def upper_percent(self) -> float | None:
        """As if all that is unheard had been done."""
        return percent_of(self.credited + self.unheard, self.prescribed)


@dataclass(frozen=True)
class DoseAdherence:
    """Dose adherence by whatever is asked; sums of different units are never added."""

    days: tuple[LineDay, ...]

    @cached_property
    def lines(self) -> tuple[PrescribedLine, ...]:
        """Each line that has a day, in order; of a key each version has its own."""
        return tuple({id(day.line): day.line for day in self.days}.values())

    @cached_property
    def sums(self) -> Mapping[tuple[int, bool], DoseSums]:
        """Of each line, by its ``id``, the heard days and the others.

        All tallies add these up, as a year has many line days.
        """
        found: dict[tuple[int, bool], list[int]] = {
            (id(line), is_heard): [0, 0, 0] for line in self.lines for is_heard in (True, False)
        }
        for _, line, _, prescribed, credited, performed, _, is_heard in self.days:
            sums = found[id(line), is_heard]
            sums[0] += prescribed
            sums[1] += credited
            sums[2] += performed
        return {which: DoseSums(*sums) for which, sums in found.items()}

    def by_plan(self) -> dict[Unit, DoseTally]:
        """Of the whole plan, a tally for each unit."""
        return {unit: tally for (_, unit), tally in self._by(lambda _: (None,)).items()}

    def by_line(self) -> dict[tuple[str, Unit], DoseTally]:
        """By line key."""
        return self._by(lambda line: (line.key,))

    def by_joint(self) -> dict[tuple[Joint, Unit], DoseTally]:
        """By joint moved: a line counts once for each joint that it moves."""
        return self._by(lambda line: line.joints_moved)

    def by_version(self) -> dict[tuple[int | None, Unit], DoseTally]:
        """By the version in force; None before the first."""
        return self._parted(lambda day: day.version)

    def by_week(self) -> dict[tuple[str, Unit], DoseTally]:
        """By ISO week."""
        return self._parted(lambda day: iso_week(day.day))

    @cached_property
    def overdone(self) -> tuple[LineDay, ...]:
        """The days on which a line was done more than its most."""
        return tuple(day for day in self.days if day.is_overdone)

    def _by[Key: Hashable](
        self, keys: Callable[[PrescribedLine], Iterable[Key]]
    ) -> dict[tuple[Key, Unit], DoseTally]:
        found: dict[tuple[Key, Unit], list[PrescribedLine]] = defaultdict(list)
        for line in self.lines:
            for key in keys(line):
                found[key, line.unit].append(line)
        return {
            (key, unit): DoseTally(unit, tuple(lines), self) for (key, unit), lines in found.items()
        }

    def _parted[Key: Hashable](
        self, key: Callable[[LineDay], Key]
    ) -> dict[tuple[Key, Unit], DoseTally]:
        return {
            (part, unit): tally
            for part, days in _groups(self.days, key).items()
            for unit, tally in DoseAdherence(days).by_plan().items()
        }


def percent_of(part: int, whole: int) -> float | None:
    """Return 100 × part ÷ whole; None where there is no whole to speak of."""
    return 100 * part / whole if whole else None


def _groups[Item, Key: Hashable](
    items: Iterable[Item], key: Callable[[Item], Key]
) -> dict[Key, tuple[Item, ...]]:
    found: dict[Key, list[Item]] = defaultdict(list)
    for item in items:
        found[key(item)].append(item)
    return {name: tuple(members) for name, members in found.items()}
