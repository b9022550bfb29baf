"""How much each joint and motion was given to do, and did, week by week.

Pure. Five measures that are never added to one another: repetitions, load volume (kg × repetitions:
0 without a weight), time under tension, and, where the arm model knows the exercise, work against
gravity and load and the peak moment. The last two are estimates.

Amounts in minutes or times are activities, not volume. A hold counts its seconds as tension and no
repetition. Counts that the patient did not confirm are left out.

>>> from datetime import date
>>> from logs.counting import Performance, Session
>>> from patients.motions import Effort
>>> from plans.schedule import Version, Window, occasions
>>> week = Window(date(2026, 3, 2), date(2026, 3, 8))
>>> line = PrescribedLine(
...     key="a",
...     exercise="curl",
...     name="Elbow bend",
...     side=Side.BOTH,
...     step=Effort.RESISTED,
...     unit=Unit.REPETITIONS,
...     sets=2,
...     amount_low=8,
...     amount_high=10,
...     hold_s=1,
...     pace_s=4,
...     load_g=1500,
...     sessions_per_day=1,
...     weekdays=frozenset({0, 2, 4}),
...     moves=("elbow_flexion",),
...     loads=("wrist",),
... )
>>> plan = [Version(1, date(2026, 3, 2), (line,))]
>>> performances = (Performance("a", (10, 8), 1000),)
>>> found = volume(
...     versions=plan,
...     occasions=occasions(plan, [], week),
...     sessions=[Session("x", date(2026, 3, 2), 1, "paper", None, 1, performances, 1)],
...     window=week,
...     today=date(2026, 3, 9),
... )
>>> for row in found.rows:
...     print(row.week, row.side, row.motion or row.joint, row.is_moved, row.performed.repetitions)
2026-W10 left elbow_flexion True 18
2026-W10 right elbow_flexion True 18
2026-W10 left wrist False 18
2026-W10 right wrist False 18
>>> row = found.rows[0]
>>> row.prescribed.repetitions, row.prescribed.load_volume_kg, row.prescribed.tension_s
(48, 72.0, 240.0)
>>> row.performed.repetitions, row.performed.load_volume_kg, row.performed.tension_s
(18, 18.0, 90.0)
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property
from typing import NamedTuple, Unpack

from logs.counting import DayFacts, Given
from patients.motions import Effort, Joint, Side
from plans.asked import Place, change_percent, places
from plans.schedule import PrescribedLine, Unit, iso_week

_COUNTED = (Unit.REPETITIONS, Unit.SECONDS)


@dataclass(frozen=True, slots=True)
class Demand:
    """What a line asks of one joint or muscle group: work of one repetition, and peak moment.

    Both are estimates. A muscle group goes by the motion that it makes.
    """

    work_j: float
    peak_moment_nm: float


type DemandOf = Callable[[PrescribedLine, int], Mapping[str, Demand]]
"""Gives what a line done with a load in grams asks, by joint and by motion that the model knows."""


class Amounts(NamedTuple):
    """Volume in a week, prescribed or performed.

    ``work_j`` and ``peak_moment_nm`` are None where the model knows none of it;
    ``unmodelled_repetitions`` are not in the work.
    """

    repetitions: int = 0
    load_volume_g: int = 0
    tension_s: float = 0.0
    work_j: float | None = None
    peak_moment_nm: float | None = None
    unmodelled_repetitions: int = 0

    @property
    def load_volume_kg(self) -> float:
        """Load volume in kg × repetitions."""
        return self.load_volume_g / 1000


class VolumeRow(NamedTuple):
    """One joint or motion of one side in one ISO week.

    ``motion`` is None where the row is about the joint as a whole; ``is_moved`` is False where
    the joint was loaded without being moved.
    """

    joint: Joint
    motion: str | None
    side: Side
    is_moved: bool
    week: str
    prescribed: Amounts
    performed: Amounts


class _Weeks(dict[str, VolumeRow]):
    """The rows of one place by week; each is summed when it is first asked for."""

    def __init__(self, place: Place) -> None:
        super().__init__()
        self.place = place
        self.parts: dict[str, tuple[list[_Part], list[_Part]]] = {}

    def __missing__(self, week: str) -> VolumeRow:
        prescribed, performed = self.parts[week]
        row = self[week] = VolumeRow(*self.place, week, _amounts(prescribed), _amounts(performed))
        return row


@dataclass(frozen=True)
class Volume:
    """Volume by motion, and by joint, from the trunk outwards.

    ``whole_weeks`` are those of which all seven days count.
    """

    places: Mapping[Place, _Weeks]
    whole_weeks: frozenset[str]

    @cached_property
    def weeks(self) -> tuple[str, ...]:
        """The weeks in which anything was prescribed or done."""
        return tuple(sorted({week for weeks in self.places.values() for week in weeks.parts}))

    @cached_property
    def rows(self) -> tuple[VolumeRow, ...]:
        """Each motion moved, and each joint merely loaded."""
        return self._rows(lambda place: bool(place.motion) or not place.is_moved, self.weeks)

    @cached_property
    def joints(self) -> tuple[VolumeRow, ...]:
        """Each joint as a whole, moved or merely loaded.

        A line that moves it in two motions counts once: do not add up ``rows``.
        """
        return self._rows(lambda place: place.motion is None, self.weeks)

    def motions_in(self, weeks: Iterable[str]) -> tuple[VolumeRow, ...]:
        """Each motion moved in some of the weeks."""
        return self._rows(lambda place: place.motion is not None, sorted(weeks))

    def _rows(self, wanted: Callable[[Place], bool], weeks: Iterable[str]) -> tuple[VolumeRow, ...]:
        there = [rows for place, rows in self.places.items() if wanted(place)]
        return tuple(rows[week] for week in weeks for rows in there if week in rows.parts)

    def change_percent(self, row: VolumeRow) -> float | None:
        """How much more or less was done than in the week before, per cent.

        In repetitions; in seconds where neither week has any. None unless both weeks are whole,
        and from nothing.
        """
        week = iso_week(date.fromisoformat(f"{row.week}-1") - timedelta(days=7))
        rows = self.places[Place(*row[:4])]
        if week not in rows.parts or not {row.week, week} <= self.whole_weeks:
            return None
        was, now = rows[week].performed, row.performed
        if was.repetitions or now.repetitions:
            return change_percent(was.repetitions, now.repetitions)
        return change_percent(was.tension_s, now.tension_s)


def volume(*, demand_of: DemandOf | None = None, **given: Unpack[Given]) -> Volume:
    """Return the volume of each ISO week, as far as it lies in the window and not after today.

    Prescribed is what the occasions due ask for at the low end of the range, held ones left out.
    Performed is all that was confirmed, credited or not, with the load that was said, else the
    prescribed one, by the line as the patient saw it, in the step that was done: an easier step
    carries no prescribed load. A line of both sides counts once on each.
    """
    return volume_of(DayFacts.of(**given), demand_of=demand_of)


def volume_of(facts: DayFacts, *, demand_of: DemandOf | None = None) -> Volume:
    """Return the volume of facts that are counted already."""
    found: dict[Place, _Weeks] = {}
    for which, doses in enumerate((_prescribed(facts), _performed(facts))):
        for (version, key, load_g, step), amounts in sorted(doses.items()):
            line = _as_done(facts.lines[version][key], step)
            demands = demand_of(line, load_g) if demand_of else {}
            for place in places(line):
                each = _each(line, load_g, demands.get(place.motion or place.joint))
                if place not in found:
                    found[place] = _Weeks(place)
                parts = found[place].parts
                for week, amount in amounts.items():
                    parts.setdefault(week, ([], []))[which].append((each, amount))
    return Volume(
        places=dict(sorted(found.items(), key=lambda item: item[0].order)),
        whole_weeks=frozenset(
            week for week, days in Counter(map(iso_week, facts.days)).items() if days == 7
        ),
    )


class _Lift(NamedTuple):
    """What an amount belongs to: one line, as one version has it, with one load."""

    version: int
    key: str
    load_g: int
    step: str = ""


class _Each(NamedTuple):
    """What one repetition or second of a line is at one place; ``work_j`` is None if not known."""

    is_repetition: bool
    load_g: int
    tension_s: float
    work_j: float | None
    peak_moment_nm: float | None


def _each(line: PrescribedLine, load_g: int, demand: Demand | None) -> _Each:
    peak_moment_nm = demand.peak_moment_nm if demand else None
    if line.unit is Unit.SECONDS:
        return _Each(False, 0, 1.0, None, peak_moment_nm)
    tension_s = line.pace_s + line.hold_s
    return _Each(True, load_g, tension_s, demand.work_j if demand else None, peak_moment_nm)


type _Part = tuple[_Each, int]
"""What one line adds to a row, and how many times."""

type _Doses = dict[_Lift, dict[str, int]]
"""Amounts by ISO week."""


def _prescribed(facts: DayFacts) -> _Doses:
    alike: dict[tuple[str, int, tuple[str, ...]], int] = defaultdict(int)
    for day in facts.days:
        week = iso_week(day)
        for occasion in facts.due.get(day, ()):
            alike[week, occasion.version, occasion.line_keys] += 1
    doses: _Doses = defaultdict(lambda: defaultdict(int))
    for (week, version, keys), times in alike.items():
        for key in keys:
            line = facts.lines[version][key]
            if line.unit in _COUNTED:
                lift = _Lift(version, key, line.load_g)
                doses[lift][week] += times * line.prescribed_per_occasion
    return doses


def _performed(facts: DayFacts) -> _Doses:
    alike: dict[
        tuple[str, int | None, int | None], dict[tuple[str, int | None, str | None], int]
    ] = {}
    for day, counted in facts.sessions.items():
        week, in_force = iso_week(day), facts.in_force[day]
        for session in counted.sessions:
            amount_of = alike.setdefault((week, session.version, in_force), defaultdict(int))
            for done in session.performances:
                if done.confirmed and done.amount:
                    amount_of[done.line_key, done.load_g, done.step] += done.amount
    doses: _Doses = defaultdict(lambda: defaultdict(int))
    for (week, seen, in_force), amount_of in alike.items():
        for (key, load_g, step), amount in amount_of.items():
            version = facts.home_of(key, (seen, in_force))
            line = facts.lines[version][key]
            if line.unit in _COUNTED:
                asked_g = 0 if step else line.load_g
                lift = _Lift(version, key, asked_g if load_g is None else load_g, step or "")
                doses[lift][week] += amount
    return doses


def _as_done(line: PrescribedLine, step: str) -> PrescribedLine:
    """A line as it was done: in an easier step, without what gives the load, if one is named."""
    return replace(line, step=Effort.from_key(step), load_means="") if step else line


def _amounts(parts: Sequence[_Part]) -> Amounts:
    repetitions = load_volume_g = unmodelled_repetitions = 0
    tension_s = 0.0
    work_j = peak_moment_nm = None
    for (is_repetition, load_g, each_s, each_j, peak_nm), amount in parts:
        tension_s += amount * each_s
        if peak_nm is not None and (peak_moment_nm is None or peak_nm > peak_moment_nm):
            peak_moment_nm = peak_nm
        if is_repetition:
            repetitions += amount
            load_volume_g += amount * load_g
            if each_j is None:
                unmodelled_repetitions += amount
            else:
                work_j = (work_j or 0.0) + amount * each_j
    return Amounts(
        repetitions, load_volume_g, tension_s, work_j, peak_moment_nm, unmodelled_repetitions
    )
