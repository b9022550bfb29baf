"""What is kept ready of a day's entries, so that a report over the whole clinic reads a row a day.

Pure. Only facts of entries are kept. What was due is the plan's to say: a report brings the two
together. What the lines of a session are is kept with it as a text, so that its day is worked out
from the sessions alone: lines and versions stand once issued.

>>> text = seen_text(3, 1, [(0, 7, 3, "repetitions", 2, 10, False, 3)])
>>> text
'[1,["repetitions",60,true]]'
>>> seen_lines(text)[0]
1
"""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from json import dumps, loads

from logs.counting import Session, counted_sessions
from plans.schedule import Unit, Window, most_per_day

type SeenRow = tuple[int, int, int, str, int, int, bool, int]
"""A line as it is stored; ``SEEN_FIELDS`` names the values."""

SEEN_FIELDS = (
    "line__position",
    "line_id",
    "line__version",
    "line__unit",
    "line__sets",
    "line__amount_high",
    "line__more_if_easy",
    "line__sessions_per_day",
)


@dataclass(frozen=True, slots=True)
class SeenLine:
    """What a line is that a session was done by: its unit, and the most that a day of it allows.

    ``is_of_version``: whether it belongs to the version that the session was made against.
    """

    unit: Unit
    most_per_day: int
    is_of_version: bool


def seen_text(version: int | None, number: int | None, rows: Iterable[SeenRow]) -> str:
    """Return what a session's lines are as the text to keep; empty if it has none.

    That is one JSON array: the number of the version seen, then of each line, in the order of
    `logs.done_text`, its unit, the most that a day allows, and whether it is of that version.
    """
    lines = [
        (unit, most_per_day(sets, high, is_more, sessions), of == version)
        for _, _, of, unit, sets, high, is_more, sessions in sorted(rows)
    ]
    return dumps([number, *lines], separators=(",", ":")) if lines else ""


@lru_cache(maxsize=4096)
def seen_lines(text: str) -> tuple[int | None, tuple[SeenLine, ...]]:
    """Return the number of the version seen, and the lines; many sessions say the same of them."""
    if not text:
        return None, ()
    number, *lines = loads(text)
    return number, tuple(SeenLine(Unit(unit), most, is_own) for unit, most, is_own in lines)


@dataclass(frozen=True, slots=True)
class ToldDay:
    """What the counting entries of one day say, and the line behind each entry and line key."""

    day: date
    sessions: tuple[Session, ...]
    worst_pains: tuple[int | None, ...]
    lines: Mapping[tuple[str, str], SeenLine]
    told_apart: Collection[frozenset[str]] = ()


@dataclass(frozen=True, slots=True)
class KeptFacts:
    """The facts of one day of one patient.

    ``numbered`` and ``beside`` are the sessions done, each counted once: with an occasion's number
    and without. ``pain_worst`` is the highest answer, None without any. ``repetitions`` are the
    confirmed ones. ``beyond`` is the number of lines of which more was recorded, confirmed or not,
    than a day of the ``version`` seen allows; the version is None where there is no one version to
    judge it by.
    """

    numbered: int
    beside: int
    pain_worst: int | None
    repetitions: int
    beyond: int
    version: int | None


def kept_facts(told: ToldDay) -> KeptFacts:
    """Return what is kept of a day."""
    counted = counted_sessions(told.sessions, Window(told.day, told.day), told.told_apart)
    done: Sequence[Session] = counted[told.day].sessions if told.day in counted else ()
    recorded: Counter[str] = Counter()
    most: dict[str, int] = {}
    repetitions = 0
    versions = {session.version for session in done}
    for session in done:
        for performance in session.performances:
            key, amount = performance.line_key, performance.amount
            if not amount:
                continue
            line = told.lines[session.entry, key]
            most.setdefault(key, line.most_per_day)
            if not line.is_of_version:
                versions.add(None)
            recorded[key] += amount
            if performance.confirmed and line.unit is Unit.REPETITIONS:
                repetitions += amount
    numbered = sum(session.number is not None for session in done)
    return KeptFacts(
        numbered=numbered,
        beside=len(done) - numbered,
        pain_worst=max((pain for pain in told.worst_pains if pain is not None), default=None),
        repetitions=repetitions,
        beyond=sum(amount > most[key] for key, amount in recorded.items()),
        version=versions.pop() if len(versions) == 1 else None,
    )
