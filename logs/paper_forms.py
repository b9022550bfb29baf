"""What was typed into a week of the paper diary, read whole: every impossible cell is named."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from logs.models import Source, Why
from logs.paper import LONGEST_NOTE, SCORES, Cell, PaperSession, PaperWeek, Place
from logs.paper_cells import BadCell, read_amounts, read_load, read_score

SOURCES = (Source.PAPER, Source.TELEPHONE)


@dataclass(frozen=True)
class TypedWeek:
    """A form as it came: sessions by place, ticks, and what is wrong, by field name.

    ``was`` is the revision that a place's fields were filled from; ``token`` names this form, so
    that sending it twice stores nothing twice. ``reasons`` say of days why sessions were missed.
    """

    token: uuid.UUID
    source: str
    sessions: Mapping[Place, PaperSession]
    was: Mapping[Place, str]
    ticked: frozenset[date]
    ticks_follow_typing: bool
    problems: Mapping[str, str]
    reasons: Mapping[date, str]


def read_typed(post: Mapping[str, str], week: PaperWeek) -> TypedWeek:
    """Read a form against the grid that it was made from; a field not in the grid is left out."""
    problems: dict[str, str] = {}
    amounts: dict[Place, dict[str, tuple[int, ...]]] = {place: {} for place in week.places}
    loads: dict[Place, dict[str, int]] = {place: {} for place in week.places}
    scores: dict[Place, dict[str, int | None]] = {place: {} for place in week.places}
    notes: dict[Place, str] = {}
    for row in (row for group in week.groups for row in group.rows):
        for cell in row.cells:
            kind = cell.name.rpartition("/")[2]
            text = "" if cell.closed else post.get(cell.name, "")
            try:
                if row.kind == "amounts":
                    text, load_g = read_load(text)
                    amounts[cell.place][kind] = read_amounts(text, cell.tick)
                    if load_g is not None:
                        loads[cell.place][kind] = _weight(cell, load_g)
                elif row.kind == "score":
                    scores[cell.place][kind.removeprefix("@")] = read_score(text)
                else:
                    notes[cell.place] = _note(text)
            except BadCell as bad:
                problems[cell.name] = str(bad)
    return TypedWeek(
        token=_token(post.get("token", "")),
        source=post["source"] if post.get("source") in SOURCES else Source.PAPER,
        sessions={
            place: PaperSession(
                amounts=amounts[place],
                scores=tuple(scores[place].get(score) for score in SCORES),
                note=notes.get(place, ""),
                loads=loads[place],
            )
            for place in week.places
        },
        was={place: post.get(f"{place.name}/@was", "") for place in week.places},
        ticked=frozenset(day for day in week.days if post.get(f"heard/{day}")),
        ticks_follow_typing=not post.get("scripted"),
        problems=problems,
        reasons={
            day: reason
            for day in week.days
            if (reason := post.get(f"why/{day}")) is not None and reason in ("", *Why.values)
        },
    )


def _weight(cell: Cell, load_g: int) -> int:
    if not cell.takes_load:
        raise BadCell("this line's load is no weight: leave the kilograms out")
    return load_g


def _note(text: str) -> str:
    note = text.strip()
    if len(note) > LONGEST_NOTE or "\0" in note:
        raise BadCell(f"a note has at most {LONGEST_NOTE} characters")
    return note


def _token(text: str) -> uuid.UUID:
    try:
        return uuid.UUID(text)
    except ValueError:
        return uuid.uuid4()


@dataclass(frozen=True)
class WrongCell:
    """A cell that can't be read, as the list above the grid names it."""

    words: str
    session: str
    day: date
    problem: str
    name: str


def wrong_cells(week: PaperWeek) -> tuple[WrongCell, ...]:
    """Return every cell with a problem, in the grid's order."""
    return tuple(
        WrongCell(row.words, cell.place.session_words, cell.place.day, cell.problem, cell.name)
        for group in week.groups
        for row in group.rows
        for cell in row.cells
        if cell.problem
    )


def first_cell(week: PaperWeek, place: Place) -> Cell | None:
    """Return the first open cell of a place: where a problem of the whole session is shown."""
    return next(
        (
            cell
            for group in week.groups
            for row in group.rows
            for cell in row.cells
            if cell.place == place and not cell.closed
        ),
        None,
    )
