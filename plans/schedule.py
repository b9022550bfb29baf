"""Which sessions a plan makes due on which local day.

Pure. Days are local dates in the patient's place; occasions are an order within a day, not times,
so clock changes cannot touch them.

>>> from datetime import date
>>> def line(key, weekdays, sessions_per_day):
...     return PrescribedLine(
...         key=key,
...         exercise="arm_lift",
...         name="Arm lift",
...         side=Side.LEFT,
...         step=Effort.ACTIVE,
...         unit=Unit.REPETITIONS,
...         sets=1,
...         amount_low=8,
...         amount_high=10,
...         hold_s=0,
...         pace_s=6,
...         load_g=0,
...         sessions_per_day=sessions_per_day,
...         weekdays=frozenset(weekdays),
...         moves=("shoulder_flexion",),
...         loads=(),
...     )
>>> monday = date(2026, 3, 2)
>>> plan = Version(1, monday, (line("a", range(7), 2), line("b", {0, 2}, 1)))
>>> for occasion in occasions([plan], [], Window(monday, date(2026, 3, 3))):
...     print(occasion.day, occasion.number, occasion.line_keys)
2026-03-02 1 ('a', 'b')
2026-03-02 2 ('a',)
2026-03-03 1 ('a',)
2026-03-03 2 ('a',)
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import cached_property, lru_cache
from typing import NamedTuple

from patients.motions import MOTIONS, Effort, Joint, Side


class Unit(StrEnum):
    """What an amount counts. No sum and no percentage mixes two of them."""

    REPETITIONS = "repetitions"
    SECONDS = "seconds"
    MINUTES = "minutes"
    TIMES = "times"


MORE_IF_EASY = 2
"""How many more than the top of the range a patient may be invited to do in a set. Two above the
goal is what the 2-for-2 rule counts as ready for more (Baechle and Earle, Essentials of Strength
Training and Conditioning)."""


def most_per_day(sets: int, amount_high: int, more_if_easy: bool, sessions_per_day: int) -> int:
    """Return the most that a day of a line allows: sets × the top of the range × sessions a day.

    The top is ``MORE_IF_EASY`` higher where the patient is invited to that.
    """
    return sets * (amount_high + (MORE_IF_EASY if more_if_easy else 0)) * sessions_per_day


@dataclass(frozen=True, slots=True)
class Window:
    """A span of local days, both ends included. ValueError if it ends before it begins."""

    first_day: date
    last_day: date

    def __post_init__(self) -> None:
        if self.last_day < self.first_day:
            raise ValueError(f"a window from {self.first_day} cannot end on {self.last_day}")

    def __contains__(self, day: date) -> bool:
        return self.first_day <= day <= self.last_day

    def days(self) -> tuple[date, ...]:
        """Every day of it, in order."""
        first = self.first_day.toordinal()
        return tuple(map(date.fromordinal, range(first, self.last_day.toordinal() + 1)))

    def until(self, last_day: date) -> "Window | None":
        """The part of it up to ``last_day``; None where there is none."""
        if last_day < self.first_day:
            return None
        return self if self.last_day <= last_day else Window(self.first_day, last_day)


@dataclass(frozen=True)
class PrescribedLine:
    """One exercise, step, side and dose of an issued version.

    ``amount_low`` to ``amount_high`` is for one set, in ``unit``. ``hold_s`` is held in each
    repetition and is not in ``pace_s``, the seconds of one repetition. ``load_g`` is a weight; a
    band or putty has none. ``moves`` are motion keys, ``loads`` joint keys loaded without being
    moved. The ``key`` passes on to the next version while exercise, side and unit stay.
    ``revision`` is the hash that names the exercise's table as it was prescribed, ``load_means``
    what gives the load; both may be empty. The movement turns back where ``stop_motion`` comes to
    ``stop_deg``, if that is given. ``easier`` is the lower step that the patient may do instead,
    if one is allowed. ``more_if_easy`` invites to ``MORE_IF_EASY`` more in a set that was easy.
    """

    key: str
    exercise: str
    name: str
    side: Side
    step: Effort | None
    unit: Unit
    sets: int
    amount_low: int
    amount_high: int
    hold_s: int
    pace_s: float
    load_g: int
    sessions_per_day: int
    weekdays: frozenset[int]
    moves: tuple[str, ...]
    loads: tuple[str, ...]
    revision: str = ""
    load_means: str = ""
    stop_motion: str = ""
    stop_deg: int | None = None
    easier: Effort | None = None
    more_if_easy: bool = False

    @cached_property
    def stop(self) -> tuple[str, int] | None:
        """The motion and the angle at which it turns back, if it does."""
        return (self.stop_motion, self.stop_deg) if self.stop_deg is not None else None

    @cached_property
    def prescribed_per_occasion(self) -> int:
        """The least that one occasion asks for: sets × the low end of the range."""
        return self.sets * self.amount_low

    @cached_property
    def most_per_day(self) -> int:
        """The most that a day allows."""
        return most_per_day(self.sets, self.amount_high, self.more_if_easy, self.sessions_per_day)

    @cached_property
    def joints_moved(self) -> tuple[Joint, ...]:
        """The joints that its motions move, each once."""
        return tuple(dict.fromkeys(MOTIONS[motion].joint for motion in self.moves))

    @cached_property
    def joints_only_loaded(self) -> tuple[Joint, ...]:
        """The joints that it loads without moving them."""
        moved = self.joints_moved
        return tuple(joint for joint in map(Joint, self.loads) if joint not in moved)


@dataclass(frozen=True, slots=True)
class Version:
    """An issued version of a plan; one without lines ends or withdraws the plan.

    ``in_force_from`` is the day of a signature that it had to wait for, if it had to: it takes
    effect no earlier than that. Pain above its ``pain_limit`` stops the exercises; None where it
    was not asked for.
    """

    number: int
    effective_day: date
    lines: tuple[PrescribedLine, ...]
    in_force_from: date | None = None
    pain_limit: int | None = None

    @property
    def first_day(self) -> date:
        """The first day on which it may be in force."""
        return max(self.effective_day, self.in_force_from or self.effective_day)


@dataclass(frozen=True, slots=True)
class PauseSpan:
    """Days on which nothing is due, both ends included; open-ended without a last day."""

    first_day: date
    last_day: date | None = None
    recorded_day: date | None = None

    def __contains__(self, day: date) -> bool:
        return self.first_day <= day and (self.last_day is None or day <= self.last_day)

    @property
    def is_back_dated(self) -> bool:
        """Whether it was recorded after it had begun, so that it changed days already gone."""
        return self.recorded_day is not None and self.first_day < self.recorded_day


class Occasion(NamedTuple):
    """One session that a version makes due on a local day, with the lines due on it."""

    # Occasions, sessions and performances are made by the hundred for one page; a named tuple
    # takes less than half the time of a frozen dataclass.
    day: date
    number: int
    version: int
    line_keys: tuple[str, ...]


def version_on(versions: Iterable[Version], day: date) -> Version | None:
    """Return the version in force on a day: the highest-numbered one that has taken effect.

    A later version that takes effect earlier than its forerunner hides the forerunner.
    """
    in_effect = (version for version in versions if version.first_day <= day)
    return max(in_effect, key=lambda version: version.number, default=None)


def versions_by_day(
    versions: Sequence[Version], window: Window
) -> Iterator[tuple[date, Version | None]]:
    """Yield each day of the window with the version in force on it."""
    changes = {window.first_day, *(version.first_day for version in versions)}
    in_force = None
    for day in window.days():
        if day in changes:
            in_force = version_on(versions, day)
        yield day, in_force


def occasions(
    versions: Sequence[Version], pauses: Sequence[PauseSpan], window: Window
) -> tuple[Occasion, ...]:
    """Return what is due in the window, by day and number.

    A day has as many occasions as the largest sessions-a-day among the lines due on it, and a
    line is due on the first so many of them. Days of the future are as good as any here; whoever
    counts adherence leaves them out.
    """
    found: list[Occasion] = []
    known: dict[tuple[int, int], tuple[tuple[str, ...], ...]] = {}
    for day, version in versions_by_day(versions, window):
        if version is None or any(day in pause for pause in pauses):
            continue
        shape = (version.number, day.weekday())
        if shape not in known:
            known[shape] = _day_shape(version, day.weekday())
        for number, keys in enumerate(known[shape], start=1):
            found.append(Occasion(day, number, version.number, keys))
    return tuple(found)


def _day_shape(version: Version, weekday: int) -> tuple[tuple[str, ...], ...]:
    """The line keys of each occasion of such a weekday, lowest number first."""
    due = [line for line in version.lines if weekday in line.weekdays]
    most = max((line.sessions_per_day for line in due), default=0)
    return tuple(
        tuple(line.key for line in due if number <= line.sessions_per_day)
        for number in range(1, most + 1)
    )


@lru_cache(maxsize=8192)
def iso_week(day: date) -> str:
    """Return the ISO 8601 week of a day, as ``2026-W01``.

    >>> iso_week(date(2025, 12, 29))
    '2026-W01'
    """
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02}"
