"""A diary in a CSV file, as sessions: what it says, and every problem with its line and column.

Pure. Forgiving in how a spreadsheet writes (byte order mark, ``;`` or tab between cells, any line
ends, spaces around cells, whole numbers as ``3.0``, columns in any order), strict about what is
meant. The columns are described in fixtures/diary_columns.md.

>>> diary = read_diary(
...     "clinic_number;day;occasion;line_key;sets_done;amounts;pain_worst\\r\\n"
...     "H-100;2026-03-02;1;lift;2;8 + 7;4\\r\\n"
... )
>>> session = diary.sessions[0]
>>> session.day, session.occasion, session.rows[0].amounts, session.scores["pain_worst"]
(datetime.date(2026, 3, 2), 1, (8, 7), 4)
>>> read_diary("clinic_number,day,occasion,line_key,sets_done,amounts\\nH-100,2026-03-02,1,a,3,8 8")
Traceback (most recent call last):
logs.cells.FileRefused: 2:24: 3 sets done, but amounts of 2: give one amount a set
"""

import re
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import NamedTuple
from uuid import UUID, uuid5

from logs.cells import Cell, FileRefused, Problem, cells_of
from logs.obstacles import Ended, Obstacle
from patients.motions import Effort

REQUIRED = ("clinic_number", "day", "occasion", "line_key", "sets_done", "amounts")
SCORES = ("pain_before", "pain_worst", "pain_after", "pain_next_morning", "effort")
OPTIONAL = ("load_kg", "hurt", "ended", "why", "step_done", *SCORES, "note", "source", "entry_uuid")
EASIER_STEPS = tuple(effort.key for effort in Effort if effort is not Effort.RESISTED)
SOURCES = ("phone", "paper", "telephone")

ENTRIES = UUID("7b0b3f0e-52a4-5c0e-9a5e-2f6f0a1f4d11")
"""The name space of the UUIDs of entries that a file names no UUID for."""

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.A)
_WHOLE = re.compile(r"(\d{1,6})(?:\.0*)?", re.A)
_LOAD = re.compile(r"\d{1,3}(?:[.,]\d{1,3})?", re.A)
_BETWEEN_AMOUNTS = re.compile(r"[\s/,;+]+")
_UNKEEPABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")


@dataclass(frozen=True, slots=True)
class DiaryRow:
    """One line's amounts in one session; ``line_key`` is empty where nothing was done.

    ``hurt``: whether the pain was named with this line; None where nothing was said.
    """

    line_key: str
    amounts: tuple[int, ...]
    load_g: int | None
    hurt: bool | None
    cells: dict[str, Cell]
    ended: str | None = None
    why: str | None = None
    step_done: str | None = None

    @property
    def says_something(self) -> bool:
        """Whether anything is said of the line, an amount or a word."""
        words = (self.hurt, self.ended, self.why, self.step_done)
        return bool(self.amounts) or any(word is not None for word in words)

    def problem(self, column: str, reason: str) -> Problem:
        """Return a problem with one of its cells."""
        return self.cells[column].problem(reason)


@dataclass(frozen=True, slots=True)
class DiarySession:
    """One entry: the rows of the same number, day, occasion and source, or of the same UUID."""

    clinic_number: str
    day: date
    occasion: int | None
    source: str
    entry: UUID
    scores: dict[str, int | None]
    note: str
    rows: tuple[DiaryRow, ...]

    @property
    def says_nothing(self) -> bool:
        """Whether it has no set, no score and no note: it only says that the day was heard."""
        return (
            not self.note
            and all(value is None for value in self.scores.values())
            and not any(row.says_something for row in self.rows)
        )


@dataclass(frozen=True, slots=True)
class Diary:
    """All sessions of a file, in its order."""

    sessions: tuple[DiarySession, ...]


def entry_uuid(clinic_number: str, day: date, occasion: int | None, source: str) -> UUID:
    """Return the UUID of an entry that came without one: the same for the same four facts."""
    return uuid5(ENTRIES, f"{clinic_number}|{day.isoformat()}|{occasion or 'extra'}|{source}")


def read_diary(text: str) -> Diary:
    """Return what a diary file says. FileRefused lists all that is wrong with it."""
    rows = cells_of(text.removeprefix("\ufeff"))
    header = next(rows, None)
    if header is None:
        raise FileRefused(
            [Problem(1, 1, f"the file is empty: begin it with {', '.join(REQUIRED)}")]
        )
    reader = _Reader(_columns(header))
    for cells in rows:
        reader.read(cells)
    sessions = reader.sessions()
    if reader.problems:
        raise FileRefused(reader.problems)
    return Diary(sessions)


def _columns(header: list[Cell]) -> dict[str, int]:
    """Where each column stands."""
    columns: dict[str, int] = {}
    problems = []
    for place, cell in enumerate(header):
        name = re.sub(r"[\s-]+", "_", cell.text.lower())
        if not name:
            continue  # a spreadsheet's empty column; text under it is a problem of its own
        if name in columns:
            problems.append(cell.problem(f"the column {name} comes twice"))
        elif name not in REQUIRED + OPTIONAL:
            known = ", ".join(REQUIRED + OPTIONAL)
            problems.append(
                cell.problem(f"no column is called {cell.text!r}: the columns are {known}")
            )
        else:
            columns[name] = place
    if missing := [name for name in REQUIRED if name not in columns]:
        word = "column is" if len(missing) == 1 else "columns are"
        problems.append(header[0].problem(f"the {word} missing: {', '.join(missing)}"))
    if problems:
        raise FileRefused(problems)
    return columns


class _Facts(NamedTuple):
    """What rows of one entry share."""

    clinic_number: str
    day: date
    occasion: int | None
    source: str


class _Read(NamedTuple):
    """A row that was read without a problem."""

    facts: _Facts
    uuid: UUID | None
    scores: dict[str, int | None]
    note: str
    row: DiaryRow


class _Refused(Exception):
    """A cell does not say what its column needs."""


class _Reader:
    def __init__(self, columns: dict[str, int]) -> None:
        self.columns = columns
        self.problems: list[Problem] = []
        self.found: list[_Read] = []

    def read(self, cells: list[Cell]) -> None:
        """Take one row in, or note what is wrong with it."""
        before = len(self.problems)
        known = set(self.columns.values())
        self.problems += [
            cell.problem("no column has its name above this cell")
            for place, cell in enumerate(cells)
            if cell.text and place not in known
        ]
        # A short row ends in empty cells, all of which stand where it ends.
        last = cells[-1]
        end = Cell("", last.line, last.column)
        here = {
            name: cells[place] if place < len(cells) else end
            for name, place in self.columns.items()
        }

        def value[Value](name: str, parse: Callable[[str], Value], empty: Value) -> Value:
            cell = here.get(name)
            if cell is None:
                return empty
            try:
                return parse(cell.text)
            except _Refused as refusal:
                self.problems.append(cell.problem(str(refusal)))
                return empty

        facts = _Facts(
            clinic_number=value("clinic_number", _number, ""),
            day=value("day", _day, date.min),
            occasion=value("occasion", _occasion, None),
            source=value("source", _source, "paper"),
        )
        sets_done = value("sets_done", _sets, -1)
        no_amounts: tuple[int, ...] = ()
        amounts = value("amounts", _amounts, no_amounts)
        read = _Read(
            facts=facts,
            uuid=value("entry_uuid", _uuid, None),
            scores={name: value(name, _score, None) for name in SCORES},
            note=value("note", _text, ""),
            row=DiaryRow(
                line_key=value("line_key", _text, ""),
                amounts=amounts,
                load_g=value("load_kg", _load, None),
                hurt=value("hurt", _yes_or_no, None),
                cells=here,
                ended=value("ended", _word_of("way to end", Ended), None),
                why=value("why", _word_of("reason", Obstacle), None),
                step_done=value("step_done", _word_of("easier step", EASIER_STEPS), None),
            ),
        )
        if len(self.problems) == before:
            self._check(read, sets_done)
        if len(self.problems) == before:
            self.found.append(read)

    def _check(self, read: _Read, sets_done: int) -> None:
        """Note where the cells of one row do not agree."""
        row = read.row
        if sets_done != len(row.amounts):
            said = f"{sets_done} set{'s'[: sets_done != 1]} done"
            self.problems.append(
                row.problem(
                    "amounts", f"{said}, but amounts of {len(row.amounts)}: give one amount a set"
                )
            )
        if sets_done and not row.line_key:
            self.problems.append(
                row.problem("line_key", "sets were done, but of no line: give the line's key")
            )
        elif row.hurt is not None and not row.line_key:
            self.problems.append(
                row.problem("line_key", "pain was named with no line: give the line's key")
            )
        elif row.says_something and not row.line_key:
            self.problems.append(
                row.problem("line_key", "something was said of no line: give the line's key")
            )
        if row.ended == Ended.SKIPPED and any(row.amounts):
            self.problems.append(
                row.problem("ended", "a line that was skipped has no amounts: say stopped")
            )

    def sessions(self) -> tuple[DiarySession, ...]:
        """Put the rows together that are one entry."""
        uuids: dict[_Facts, set[UUID]] = defaultdict(set)
        for read in self.found:
            if read.uuid:
                uuids[read.facts].add(read.uuid)
        groups: dict[tuple[_Facts, UUID], list[_Read]] = defaultdict(list)
        facts_of: dict[UUID, _Facts] = {}
        for read in self.found:
            given = uuids[read.facts]
            if read.uuid is None and len(given) > 1:
                self.problems.append(
                    read.row.problem(
                        "entry_uuid",
                        "several entries have this number, day, occasion and source: say which",
                    )
                )
                continue
            uuid = read.uuid or (next(iter(given)) if given else entry_uuid(*read.facts))
            if facts_of.setdefault(uuid, read.facts) != read.facts:
                self.problems.append(
                    read.row.problem(
                        "entry_uuid",
                        "this UUID names an entry of another number, day, occasion or source",
                    )
                )
                continue
            groups[read.facts, uuid].append(read)
        return tuple(self._session(facts, uuid, group) for (facts, uuid), group in groups.items())

    def _session(self, facts: _Facts, uuid: UUID, group: list[_Read]) -> DiarySession:
        scores: dict[str, int | None] = dict.fromkeys(SCORES)
        seen_lines: dict[str, int] = {}
        for read in group:
            for name, score in read.scores.items():
                if scores[name] is None:
                    scores[name] = score
                elif score is not None and score != scores[name]:
                    self.problems.append(
                        read.row.problem(
                            name, f"is {score} here and {scores[name]} above, in the same entry"
                        )
                    )
            key = read.row.line_key
            first = seen_lines.setdefault(key, read.row.cells["line_key"].line)
            if key and first != read.row.cells["line_key"].line:
                self.problems.append(
                    read.row.problem(
                        "line_key",
                        f"{key} comes twice in this entry (line {first}): give all its sets in one "
                        "row, or tell two sessions apart by entry_uuid",
                    )
                )
        notes = dict.fromkeys(read.note for read in group if read.note)
        session = DiarySession(
            *facts,
            entry=uuid,
            scores=scores,
            note="; ".join(notes),
            rows=tuple(read.row for read in group),
        )
        if len(session.note) > 500:
            self.problems.append(
                group[0].row.problem(
                    "note", "the notes of this entry are longer than 500 characters"
                )
            )
        if session.says_nothing and session.source == "phone":
            self.problems.append(
                group[0].row.problem(
                    "sets_done",
                    "0 sets mark a day heard from paper or by telephone; a phone says so itself",
                )
            )
        return session


def _number(text: str) -> str:
    if not text:
        raise _Refused("give the patient's clinic number")
    return _text(text)


def _day(text: str) -> date:
    if not _DAY.fullmatch(text):
        raise _Refused(f"{text!r} is no day: write it as year-month-day, like 2026-03-02")
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise _Refused(f"the calendar has no {text}") from None


def _whole(text: str, lowest: int, highest: int, what: str) -> int:
    number = _WHOLE.fullmatch(text)
    if not number or not lowest <= int(number[1]) <= highest:
        raise _Refused(f"{text!r} is no {what}: give a whole number from {lowest} to {highest}")
    return int(number[1])


def _occasion(text: str) -> int | None:
    if text.lower() in ("", "extra"):
        return None
    return _whole(text, 1, 12, "occasion")


def _sets(text: str) -> int:
    return _whole(text, 0, 20, "number of sets")


def _amounts(text: str) -> tuple[int, ...]:
    parts = [part for part in _BETWEEN_AMOUNTS.split(text) if part]
    if len(parts) > 20:
        raise _Refused("a line has at most 20 sets in one session")
    return tuple(_whole(part, 0, 9999, "amount of a set") for part in parts)


def _load(text: str) -> int | None:
    if not text:
        return None
    if not _LOAD.fullmatch(text):
        raise _Refused(f"{text!r} is no load: give kilograms with at most three decimals")
    load_g = int(Decimal(text.replace(",", ".")) * 1000)
    if load_g > 50_000:
        raise _Refused(f"{text} kg is more than 50 kg")
    return load_g


def _yes_or_no(text: str) -> bool | None:
    if text.lower() not in ("", "yes", "no"):
        raise _Refused(f"{text!r} is neither yes nor no")
    return text.lower() == "yes" if text else None


def _word_of(what: str, known: Iterable[str]) -> Callable[[str], str | None]:
    """Read one of the words that a column knows; empty says nothing."""
    words = [str(word) for word in known]

    def read(text: str) -> str | None:
        word = text.lower().replace(" ", "_")
        if word and word not in words:
            raise _Refused(f"{text!r} is no {what}: write {', '.join(words)}")
        return word or None

    return read


def _score(text: str) -> int | None:
    return _whole(text, 0, 10, "score") if text else None


def _text(text: str) -> str:
    if _UNKEEPABLE.search(text):
        raise _Refused("this text has a character that can't be kept")
    return text


def _source(text: str) -> str:
    if not text:
        return "paper"
    if text.lower() not in SOURCES:
        raise _Refused(f"{text!r} is no source: write {', '.join(SOURCES)}")
    return text.lower()


def _uuid(text: str) -> UUID | None:
    if not text:
        return None
    if not re.fullmatch(r"[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}", text):
        raise _Refused(f"{text!r} is no UUID")
    return UUID(text)
