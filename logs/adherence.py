"""Whether what was due happened, and how much of it: session and dose adherence.

Pure. Occasions and sessions in, tallies out that keep the days behind every figure, so that a
percentage and the list it opens to cannot disagree.

There is no single agreed definition of adherence to home exercise (Bailey et al. 2020, Br J Sports
Med 54:326-331), so ours is stated in full at ``session_adherence`` and ``dose_adherence``. Both
are capped: what is done beyond what was due on a day makes up for nothing missed on another.

Two sessions a day for a week, of which 2, 2, 0, 3, 1, 2 and 2 were done:

>>> from patients.motions import Effort, Side
>>> from plans.schedule import Unit, occasions
>>> week = Window(date(2026, 3, 2), date(2026, 3, 8))
>>> line = PrescribedLine(
...     key="a",
...     exercise="arm_lift",
...     name="Arm lift",
...     side=Side.LEFT,
...     step=Effort.ACTIVE,
...     unit=Unit.REPETITIONS,
...     sets=1,
...     amount_low=8,
...     amount_high=10,
...     hold_s=0,
...     pace_s=6,
...     load_g=0,
...     sessions_per_day=2,
...     weekdays=frozenset(range(7)),
...     moves=("shoulder_flexion",),
...     loads=(),
... )
>>> plan = [Version(1, date(2026, 3, 2), (line,))]
>>> sessions = [
...     Session(f"{day}/{number}", day, number, "phone", "p", number, (Performance("a", (8,)),), 1)
...     for day, done in zip(week.days(), (2, 2, 0, 3, 1, 2, 2), strict=True)
...     for number in range(1, done + 1)
... ]
>>> given = {
...     "versions": plan,
...     "occasions": occasions(plan, [], week),
...     "sessions": sessions,
...     "heard": week.days(),
...     "window": week,
...     "today": date(2026, 3, 9),
... }
>>> known = session_adherence(**given)
>>> known.done, known.due, known.extra
(11, 14, 1)
>>> f"{known.percent:.2f} % capped, {known.uncapped_percent:.2f} % uncapped"
'78.57 % capped, 85.71 % uncapped'

The same week while its last two days are unheard, one session of them having come in already:

>>> partly = session_adherence(**given | {"heard": week.days()[:5], "sessions": sessions[:-3]})
>>> partly.done, partly.due, partly.unheard
(8, 14, 3)
>>> [round(percent, 1) for percent in (partly.lower_percent, partly.upper_percent)]
[57.1, 78.6]
>>> partly.percent  # of the five heard days: 7 of 10
70.0

Where nothing heard is due there is no percentage, neither 0 nor 100:

>>> print(session_adherence(**given | {"heard": []}).percent)
None
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import chain
from typing import Any, NamedTuple

from logs.tally import DayTally, DoseAdherence, LineDay, Pair, SessionAdherence
from plans.schedule import Occasion, PrescribedLine, Version, Window, versions_by_day

_NEAREST_TO_THE_SESSION = {"phone": 0, "paper": 1, "telephone": 2}
# Of several entries for perhaps one session the one written nearest to it counts (common practice,
# no source).


class Performance(NamedTuple):
    """What was done for one line in a session: an amount for each set, in the line's unit.

    ``load_g`` is None where none was said: then it is the prescribed one. A count that the patient
    did not confirm is no dose.
    """

    line_key: str
    amounts: tuple[int, ...]
    load_g: int | None = None
    confirmed: bool = True


class Session(NamedTuple):
    """One entry as it stands after its revisions; ``number`` is None beside any occasion.

    ``source`` is phone, paper or telephone; ``device`` tells phones apart; ``order`` sorts the
    sessions of a day as they were done; ``version`` is the one the patient saw.
    """

    entry: str
    day: date
    number: int | None
    source: str
    device: str | None
    order: int | tuple[Any, ...]
    performances: tuple[Performance, ...]
    version: int | None = None

    @property
    def is_done(self) -> bool:
        """Whether at least one line has at least one repetition, second, minute or time."""
        return any(any(performance.amounts) for performance in self.performances)


@dataclass(frozen=True, slots=True)
class DaySessions:
    """The sessions of a day that count, in the order done, and those that perhaps are the same."""

    sessions: tuple[Session, ...]
    perhaps_same: tuple[Pair, ...]


def counted_sessions(
    sessions: Iterable[Session], window: Window, told_apart: Collection[frozenset[str]] = ()
) -> dict[date, DaySessions]:
    """Return the sessions done on each day of the window, each counted once.

    Entries of different sources or phones for one occasion number count once, until a person says
    of the pair that they are two sessions (``told_apart``) or strikes one. ValueError if two
    different states of one entry are given.
    """
    once: dict[str, Session] = {}
    for session in sessions:
        if session.day in window and once.setdefault(session.entry, session) != session:
            raise ValueError(f"entry {session.entry} was given in two different states")
    by_day: dict[date, list[Session]] = defaultdict(list)
    for session in once.values():
        if session.is_done:
            by_day[session.day].append(session)
    apart = frozenset(told_apart)
    return {day: _each_once(by_day[day], apart) for day in sorted(by_day)}


def session_adherence(
    *,
    versions: Sequence[Version],
    occasions: Iterable[Occasion],
    sessions: Iterable[Session],
    heard: Collection[date],
    held: Collection[tuple[date, int]] = (),
    told_apart: Collection[frozenset[str]] = (),
    window: Window,
    today: date,
) -> SessionAdherence:
    """Return Σ over days of min(done, due) ÷ Σ due, with its bounds and the days behind it.

    Days after ``today`` are left out, and today is never heard. Occasions are an order: a session
    takes the occasion of its number where that is due, else the lowest one left; what finds none
    is extra. So is a session beside any occasion, and one on a held occasion (a day and number in
    ``held``), which is not due. Give all versions that the entries were made against.
    """
    facts = DayFacts.of(versions, occasions, sessions, held, told_apart, window, today)
    heard = frozenset(heard)
    tallies = []
    for day in facts.days:
        counted = facts.counted(day)
        taken = facts.taken(day)
        wholes = [facts.is_whole(occasion, session) for occasion, session in taken]
        tallies.append(
            DayTally(
                day=day,
                version=facts.in_force[day],
                due=len(facts.due(day)),
                done=len(taken),
                extra=len(counted.sessions) - len(taken),
                held=facts.held_on(day),
                whole=wholes.count(True),
                part=wholes.count(False),
                unconfirmed=wholes.count(None),
                is_heard=day in heard and day < today,
                entries=tuple(session.entry for session in counted.sessions),
                perhaps_same=counted.perhaps_same,
            )
        )
    return SessionAdherence(tuple(tallies))


def dose_adherence(
    *,
    versions: Sequence[Version],
    occasions: Iterable[Occasion],
    sessions: Iterable[Session],
    heard: Collection[date],
    held: Collection[tuple[date, int]] = (),
    told_apart: Collection[frozenset[str]] = (),
    window: Window,
    today: date,
) -> DoseAdherence:
    """Return Σ credited ÷ Σ prescribed, by line and day.

    Prescribed for an occasion is sets × the low end of the range. What a day's sessions did for a
    line, in the order done, fills that line's due occasions of the day, each up to what is
    prescribed; the rest is performed but not credited. Counts that were not confirmed, and what
    was done on held occasions, get no credit. Days, hearing and doubles as in
    ``session_adherence``.
    """
    facts = DayFacts.of(versions, occasions, sessions, held, told_apart, window, today)
    heard = frozenset(heard)
    line_days: list[LineDay] = []
    shapes: dict[tuple[tuple[str, ...], ...], dict[str, int]] = {}
    for day in facts.days:
        in_force = facts.in_force[day]
        is_heard = day in heard and day < today
        due, done = facts.due(day), facts.done_by_line(day)
        if due:
            shape = tuple(occasion.line_keys for occasion in due)
            if shape not in shapes:
                shapes[shape] = Counter(key for keys in shape for key in keys)
            lines = facts.lines[due[0].version]
            for key, times in shapes[shape].items():
                works = done.pop(key, ())
                line_days.append(_line_day(day, lines[key], in_force, times, works, is_heard))
        for key, works in done.items():
            home = facts.home_of(key, (in_force, *(work.seen_version for work in works)))
            line = facts.lines[home][key]
            line_days.append(_line_day(day, line, in_force, 0, works, is_heard))
    return DoseAdherence(tuple(line_days))


class _Work(NamedTuple):
    """What one session did for one line."""

    amount: int
    is_confirmed: bool
    has_credit: bool
    seen_version: int | None


def _line_day(
    day: date,
    line: PrescribedLine,
    in_force: int | None,
    times_due: int,
    works: Sequence[_Work],
    is_heard: bool,
) -> LineDay:
    """Credit what was done for a line to its occasions of the day, in order."""
    each = line.sets * line.amount_low
    credited = performed = recorded = filled = 0
    for amount, is_confirmed, has_credit, _ in works:
        recorded += amount
        if is_confirmed:
            performed += amount
        if has_credit and filled < times_due:
            credited += min(amount, each)
            filled += 1
    prescribed = times_due * each
    return LineDay(day, line, in_force, prescribed, credited, performed, recorded, is_heard)


@dataclass(frozen=True, slots=True)
class DayFacts:
    """Occasions and sessions by day, held ones sorted out: what all counting starts from."""

    days: tuple[date, ...]
    in_force: dict[date, int | None]
    lines: dict[int, dict[str, PrescribedLine]]
    occasions: dict[date, list[Occasion]]
    held: frozenset[tuple[date, int]]
    sessions: dict[date, DaySessions]

    @classmethod
    def of(
        cls,
        versions: Sequence[Version],
        occasions: Iterable[Occasion],
        sessions: Iterable[Session],
        held: Collection[tuple[date, int]],
        told_apart: Collection[frozenset[str]],
        window: Window,
        today: date,
    ) -> "DayFacts":
        past = window.until(today)
        days = past.days() if past else ()
        by_day: dict[date, list[Occasion]] = defaultdict(list)
        for occasion in occasions:
            by_day[occasion.day].append(occasion)
        return cls(
            days=days,
            in_force={
                day: version.number if version else None
                for day, version in versions_by_day(versions, days)
            },
            lines={
                version.number: {line.key: line for line in version.lines}
                for version in sorted(versions, key=lambda version: version.number)
            },
            occasions={day: sorted(here) for day, here in by_day.items()},
            held=frozenset(held),
            sessions=counted_sessions(sessions, past, told_apart) if past else {},
        )

    def due(self, day: date) -> Sequence[Occasion]:
        """The occasions of a day that are not held, lowest number first."""
        here = self.occasions.get(day, [])
        if not self.held:
            return here
        return [occasion for occasion in here if (day, occasion.number) not in self.held]

    def held_on(self, day: date) -> int:
        """How many occasions of a day are held."""
        return len(self.occasions.get(day, ())) - len(self.due(day))

    def counted(self, day: date) -> DaySessions:
        """The sessions of a day that count."""
        return self.sessions.get(day, DaySessions((), ()))

    def taken(self, day: date) -> list[tuple[Occasion, Session]]:
        """Which session of the day takes which due occasion."""
        open_occasions = {occasion.number: occasion for occasion in self.due(day)}
        pairs, others = [], []
        for session in self.counted(day).sessions:
            if session.number is None or (day, session.number) in self.held:
                continue
            occasion = open_occasions.pop(session.number, None)
            if occasion:
                pairs.append((occasion, session))
            else:
                others.append(session)
        return pairs + list(zip(open_occasions.values(), others, strict=False))

    def is_whole(self, occasion: Occasion, session: Session) -> bool | None:
        """Whether each line due had a full set; None if that hangs on unconfirmed counts."""
        lines = self.lines[occasion.version]
        if _full_sets(session, lines, confirmed_only=True).issuperset(occasion.line_keys):
            return True
        perhaps = _full_sets(session, lines, confirmed_only=False).issuperset(occasion.line_keys)
        return None if perhaps else False

    def done_by_line(self, day: date) -> dict[str, list[_Work]]:
        """What the day's sessions did for each line, in the order done."""
        done: dict[str, list[_Work]] = {}
        for session in self.counted(day).sessions:
            on_held = (day, session.number) in self.held
            for key, amounts, _, confirmed in session.performances:
                if amount := sum(amounts):
                    work = _Work(amount, confirmed, confirmed and not on_held, session.version)
                    done.setdefault(key, []).append(work)
        return done

    def home_of(self, key: str, preferred: Iterable[int | None]) -> int:
        """The first preferred version that has a line of that key, else the latest that has."""
        for number in chain(preferred, reversed(self.lines)):
            if number in self.lines and key in self.lines[number]:
                return number
        raise ValueError(f"no version that was given has a line {key}")


def _full_sets(
    session: Session, lines: Mapping[str, PrescribedLine], *, confirmed_only: bool
) -> set[str]:
    """The keys of the lines of which the session has a set that reaches the low end."""
    return {
        key
        for key, amounts, _, confirmed in session.performances
        if amounts
        and (confirmed or not confirmed_only)
        and key in lines
        and max(amounts) >= lines[key].amount_low
    }


def _each_once(sessions: Sequence[Session], told_apart: frozenset[frozenset[str]]) -> DaySessions:
    """Put together the entries of a day that are perhaps one session; keep the first of each."""

    def may_be_one(one: Session, other: Session) -> bool:
        return (
            one.number is not None
            and one.number == other.number
            and (one.source, one.device) != (other.source, other.device)
            and frozenset((one.entry, other.entry)) not in told_apart
        )

    numbers = [session.number for session in sessions]
    if len(set(numbers)) == len(numbers):  # nearly every day: nothing to compare
        return DaySessions(tuple(sorted(sessions, key=_as_done)), ())
    groups: list[list[Session]] = []
    for session in sorted(sessions, key=_nearest_first):
        for group in groups:
            if all(may_be_one(session, member) for member in group):
                group.append(session)
                break
        else:
            groups.append([session])
    counted = sorted((group[0] for group in groups), key=_as_done)
    doubles = tuple((group[0].entry, other.entry) for group in groups for other in group[1:])
    return DaySessions(tuple(counted), doubles)


def _as_done(session: Session) -> tuple[Any, ...]:
    order = session.order
    return (order if isinstance(order, tuple) else (order,), session.entry)


def _nearest_first(session: Session) -> tuple[Any, ...]:
    return (_NEAREST_TO_THE_SESSION[session.source], *_as_done(session))
