"""What counts on each day: occasions that are due, and sessions that were done, each once.

Pure. Adherence and volume start from the same ``DayFacts``, so that they cannot count differently.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import chain
from typing import Any, NamedTuple, NotRequired, TypedDict

from logs.tally import Pair
from plans.schedule import Occasion, PrescribedLine, Version, Window, versions_by_day

_NEAREST_TO_THE_SESSION = {"phone": 0, "paper": 1, "telephone": 2}
# Of several entries for perhaps one session the one written nearest to it counts (common practice,
# no source).


@dataclass(frozen=True, slots=True)
class Performance:
    """What was done for one line in a session: an amount for each set, in the line's unit.

    ``load_g`` is None where none was said: then it is the prescribed one. A count that the patient
    did not confirm is no dose. ``step`` is the key of an easier step done instead of the
    prescribed one. ``amount`` is that of all sets, ``most`` that of the fullest.
    """

    line_key: str
    amounts: tuple[int, ...]
    load_g: int | None = None
    confirmed: bool = True
    step: str | None = None
    amount: int = field(init=False, compare=False)
    most: int = field(init=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "amount", sum(self.amounts))
        object.__setattr__(self, "most", max(self.amounts, default=0))


class Session(NamedTuple):
    """One entry as it stands after its revisions; ``number`` is None beside any occasion.

    ``source`` is phone, paper or telephone; ``device`` tells phones apart; ``order`` sorts the
    sessions of a day as they were done, by numbers or by tuples but not by both; ``version`` is
    the one the patient saw.
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
        return any(performance.amount for performance in self.performances)


@dataclass(frozen=True, slots=True)
class DaySessions:
    """The sessions of a day that count, in the order done, and those that perhaps are the same."""

    sessions: tuple[Session, ...]
    perhaps_same: tuple[Pair, ...]


NO_SESSIONS = DaySessions((), ())


def counted_sessions(
    sessions: Iterable[Session], window: Window, told_apart: Collection[frozenset[str]] = ()
) -> dict[date, DaySessions]:
    """Return the sessions done on each day of the window, each counted once.

    Entries of different sources or phones for one occasion number count once, until a person says
    of the pair that they are two sessions (``told_apart``) or strikes one. ValueError if two
    different states of one entry are given.
    """
    once: dict[str, Session] = {}
    first_day, last_day = window.first_day, window.last_day
    for session in sessions:
        if (
            first_day <= session.day <= last_day
            and once.setdefault(session.entry, session) != session
        ):
            raise ValueError(f"entry {session.entry} was given in two different states")
    by_day: dict[date, list[Session]] = defaultdict(list)
    for session in once.values():
        if session.is_done:
            by_day[session.day].append(session)
    apart = frozenset(told_apart)
    return {day: _each_once(by_day[day], apart) for day in sorted(by_day)}


type Work = tuple[int, bool, bool, int | None]
"""What one session did for a line: amount, confirmed or not, credit or not, version seen."""


class Given(TypedDict):
    """What is counted.

    ``versions`` are all that the entries were made against. ``held`` are the day and number of
    occasions held after a stop sign. ``told_apart`` are pairs of entries that a person has said
    are two sessions. Days of the ``window`` after ``today`` do not count.
    """

    versions: Sequence[Version]
    occasions: Iterable[Occasion]
    sessions: Iterable[Session]
    held: NotRequired[Collection[tuple[date, int]]]
    told_apart: NotRequired[Collection[frozenset[str]]]
    window: Window
    today: date


@dataclass(frozen=True, slots=True)
class DayFacts:
    """Occasions and sessions by day.

    ``due`` leaves out what is held, of which ``held_due`` has the number; ``in_force`` and
    ``lines`` are by the numbers of versions.
    """

    days: tuple[date, ...]
    today: date
    in_force: dict[date, int | None]
    lines: dict[int, dict[str, PrescribedLine]]
    due: dict[date, list[Occasion]]
    held: frozenset[tuple[date, int]]
    held_due: dict[date, int]
    sessions: dict[date, DaySessions]

    @classmethod
    def of(
        cls,
        *,
        versions: Sequence[Version],
        occasions: Iterable[Occasion],
        sessions: Iterable[Session],
        held: Collection[tuple[date, int]] = (),
        told_apart: Collection[frozenset[str]] = (),
        window: Window,
        today: date,
    ) -> "DayFacts":
        """Sort what is given by day; see ``Given``."""
        past = window.until(today)
        in_force = [
            (day, version.number if version else None)
            for day, version in (versions_by_day(versions, past) if past else ())
        ]
        held = frozenset(held)
        due: dict[date, list[Occasion]] = defaultdict(list)
        held_due: dict[date, int] = defaultdict(int)
        for occasion in sorted(occasions):
            if (occasion.day, occasion.number) in held:
                held_due[occasion.day] += 1
            else:
                due[occasion.day].append(occasion)
        return cls(
            days=tuple(day for day, _ in in_force),
            today=today,
            in_force=dict(in_force),
            lines={
                version.number: {line.key: line for line in version.lines}
                for version in sorted(versions, key=lambda version: version.number)
            },
            due=dict(due),
            held=held,
            held_due=dict(held_due),
            sessions=counted_sessions(sessions, past, told_apart) if past else {},
        )

    def counted(self, day: date) -> DaySessions:
        """The sessions of a day that count."""
        return self.sessions.get(day, NO_SESSIONS)

    def taken(self, day: date) -> list[tuple[Occasion, Session]]:
        """Which session of the day takes which due occasion."""
        open_occasions = {occasion.number: occasion for occasion in self.due.get(day, ())}
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
        reached = [
            each
            for each in session.performances
            if (line := lines.get(each.line_key)) and each.most >= line.amount_low
        ]
        if {each.line_key for each in reached if each.confirmed}.issuperset(occasion.line_keys):
            return True
        is_perhaps = {each.line_key for each in reached}.issuperset(occasion.line_keys)
        return None if is_perhaps else False

    def done_by_line(self, day: date) -> dict[str, list[Work]]:
        """What the day's sessions did for each line, in the order done."""
        done: dict[str, list[Work]] = {}
        for session in self.counted(day).sessions:
            version, has_credit = session.version, (day, session.number) not in self.held
            for each in session.performances:
                if each.amount:
                    key, confirmed = each.line_key, each.confirmed
                    work = (each.amount, confirmed, confirmed and has_credit, version)
                    if key in done:
                        done[key].append(work)
                    else:
                        done[key] = [work]
        return done

    def home_of(self, key: str, preferred: Iterable[int | None]) -> int:
        """The first preferred version that has a line of that key, else the latest that has."""
        for number in chain(preferred, reversed(self.lines)):
            if number in self.lines and key in self.lines[number]:
                return number
        raise ValueError(f"no version that was given has a line {key}")


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
    return session.order, session.entry


def _nearest_first(session: Session) -> tuple[Any, ...]:
    return (_NEAREST_TO_THE_SESSION[session.source], *_as_done(session))
