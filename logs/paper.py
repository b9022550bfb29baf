"""A week of a paper diary as a grid: what may be typed where, and its sums. Pure."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import chain

from logs.paper_cells import BadCell, amounts_text, load_text, read_amounts, read_load
from plans.schedule import PauseSpan, PrescribedLine, Unit, Version, Window, occasions, version_on

LONGEST_NOTE = 500
MOST_EXTRAS = 6
SCORES = ("pain_before", "pain_worst", "pain_after", "pain_next_morning", "effort")
SCORE_WORDS = ("pain before", "worst", "after", "next morning", "effort")
WITHOUT_WEIGHT = ("band", "putty", "other_hand")


@dataclass(frozen=True)
class PaperSession:
    """What a diary says of one session: amounts by line key, scores, and a note.

    ``loads`` are weights used, in grams, where one is named; ``unconfirmed`` are the lines of which
    a phone's count was never confirmed.
    """

    amounts: Mapping[str, tuple[int, ...]]
    scores: tuple[int | None, ...] = (None,) * len(SCORES)
    note: str = ""
    loads: Mapping[str, int] = field(default_factory=dict)
    unconfirmed: frozenset[str] = frozenset()

    @property
    def is_empty(self) -> bool:
        """Whether nothing is written at all; a written 0 is something."""
        nothing = not any(self.amounts.values()) and not self.note
        return nothing and all(score is None for score in self.scores)

    def says_the_same(self, other: "PaperSession") -> bool:
        """Whether both say the same; a line without amounts says nothing."""
        return (
            {key: done for key, done in self.amounts.items() if done},
            self.scores,
            self.note,
            dict(self.loads),
        ) == (
            {key: done for key, done in other.amounts.items() if done},
            other.scores,
            other.note,
            dict(other.loads),
        )


@dataclass(frozen=True)
class ToldSession:
    """A session already told: ``is_typed`` from paper or by telephone, else by a phone."""

    entry: str
    revision: str
    day: date
    number: int | None
    version: int | None
    source: str
    is_typed: bool
    session: PaperSession


@dataclass(frozen=True)
class Place:
    """One session's place in the week: a day, and an occasion number or an extra one."""

    day: date
    number: int | None
    extra: int = 0

    @property
    def name(self) -> str:
        """How fields of this place begin."""
        return f"{self.day}/{self.number or f'e{self.extra}'}"

    @property
    def session_words(self) -> str:
        """Which session it is."""
        return f"session {self.number}" if self.number else f"extra session {self.extra}"


@dataclass(frozen=True)
class Cell:
    """One cell: a field to type in, or a word that says why there is none.

    ``others`` is what a phone told for this place. ``asked`` is in the line's unit; ``done`` is
    what is typed, else what others told; ``tick`` is what a tick alone stands for, and
    ``takes_load`` whether a weight may stand after the amounts.
    """

    name: str
    place: Place
    text: str
    closed: str
    others: str
    problem: str
    asked: int = 0
    done: int = 0
    others_done: int = 0
    tick: tuple[int, ...] = ()
    hint: str = ""
    takes_load: bool = True


@dataclass(frozen=True)
class Row:
    """One line, one pain or the notes of one session, over seven days."""

    kind: str  # amounts, score, note
    words: str
    unit: str
    cells: tuple[Cell, ...]

    @property
    def hints(self) -> tuple[str, ...]:
        """The doses of the week, each once, in order."""
        return tuple(dict.fromkeys(cell.hint for cell in self.cells if cell.hint))

    @property
    def asked(self) -> int:
        """What the week asks for."""
        return sum(cell.asked for cell in self.cells)

    @property
    def done(self) -> int:
        """What the week shows as done."""
        return sum(cell.done for cell in self.cells)


@dataclass(frozen=True)
class Group:
    """The rows of one session of each day."""

    words: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class DayTotal:
    """What one day shows as done beside what it asks for, in one unit."""

    unit: str
    done: int
    asked: int


@dataclass(frozen=True)
class PaperWeek:
    """A week to type in, filled from the ``typed`` sessions.

    ``in_force`` is the number of the version of each day; None without one.
    """

    days: tuple[date, ...]
    groups: tuple[Group, ...]
    places: tuple[Place, ...]
    typed: Mapping[Place, ToldSession]
    totals: Mapping[date, tuple[DayTotal, ...]]
    in_force: Mapping[date, int | None]
    extras: int


@dataclass(frozen=True)
class WeekPlan:
    """What holds in the week: versions, pauses, today, and what was told already."""

    first_day: date
    versions: tuple[Version, ...]
    pauses: tuple[PauseSpan, ...]
    today: date
    told: tuple[ToldSession, ...]

    @property
    def days(self) -> tuple[date, ...]:
        """Monday to Sunday."""
        return tuple(self.first_day + timedelta(days=n) for n in range(7))


def paper_week(
    plan: WeekPlan,
    *,
    extras: int = 0,
    texts: Mapping[str, str] | None = None,
    problems: Mapping[str, str] | None = None,
) -> PaperWeek:
    """Return the grid of a week, filled with what was typed before, else with ``texts``.

    ``extras`` asks for rows for extra sessions; ``problems`` are put to their cells by name.
    """
    return _Builder(plan, extras, texts, problems or {}).week()


class _Builder:
    """Puts one week's grid together."""

    def __init__(
        self,
        plan: WeekPlan,
        extras: int,
        texts: Mapping[str, str] | None,
        problems: Mapping[str, str],
    ) -> None:
        self.plan = plan
        self.texts = texts
        self.problems = problems
        self.in_force = {day: version_on(plan.versions, day) for day in plan.days}
        window = Window(plan.days[0], plan.days[-1])
        self.due = {
            (o.day, o.number): o.line_keys for o in occasions(plan.versions, plan.pauses, window)
        }
        self.by_number = {version.number: version for version in plan.versions}
        self.typed: dict[Place, ToldSession] = {}
        self.others: dict[Place, list[ToldSession]] = defaultdict(list)
        told_extras = self._place_told()
        self.extras = max(told_extras, min(extras, MOST_EXTRAS))

    def _place_told(self) -> int:
        """Give each told session its place; return how many extra ones the fullest day has."""
        extras_of: dict[tuple[date, bool], int] = defaultdict(int)
        for told in self.plan.told:
            place = Place(told.day, told.number)
            if told.number is None:
                extras_of[told.day, told.is_typed] += 1
                place = Place(told.day, None, extras_of[told.day, told.is_typed])
            if told.is_typed and place not in self.typed:
                self.typed[place] = told
            else:  # from a phone, or typed twice for one occasion: shown beside
                self.others[place].append(told)
        return max(extras_of.values(), default=0)

    def week(self) -> PaperWeek:
        numbers = {number for _, number in self.due}
        numbers |= {told.number for told in self.plan.told if told.number is not None}
        groups, places = [], []
        for number in range(1, max(numbers, default=0) + 1):
            here = [Place(day, number) for day in self.plan.days]
            groups.append(self._group(f"Session {number}", here))
            places += here
        for extra in range(1, self.extras + 1):
            here = [Place(day, None, extra) for day in self.plan.days]
            groups.append(self._group(f"Extra session {extra}", here))
            places += here
        return PaperWeek(
            days=self.plan.days,
            groups=tuple(groups),
            places=tuple(places),
            typed=self.typed,
            totals={day: _totals(day, groups) for day in self.plan.days},
            in_force={
                day: version.number if version else None for day, version in self.in_force.items()
            },
            extras=self.extras,
        )

    def _group(self, words: str, places: Sequence[Place]) -> Group:
        rows = [
            Row(
                kind="amounts",
                words=_line_words(line),
                unit=line.unit.value,
                cells=tuple(self._amounts_cell(place, key) for place in places),
            )
            for key, line in self._lines(places).items()
        ]
        for score, score_words in zip(SCORES, SCORE_WORDS, strict=True):
            cells = tuple(self._other_cell(place, f"@{score}") for place in places)
            rows.append(Row("score", score_words, "", cells))
        notes = tuple(self._other_cell(place, "@note") for place in places)
        rows.append(Row("note", "note", "", notes))
        return Group(words, tuple(rows))

    def _lines(self, places: Sequence[Place]) -> dict[str, PrescribedLine]:
        """The lines that have a row: those due and those told, as the newest version has them."""
        keys: set[str] = set()
        for place in places:
            if place.number is None:
                version = self.in_force[place.day]
                keys |= {line.key for line in version.lines} if version else set()
            else:
                keys |= set(self.due.get((place.day, place.number), ()))
            for told in self._told_at(place):
                keys |= told.session.amounts.keys()
        newest_first = sorted(self.plan.versions, key=lambda version: -version.number)
        ordered = chain.from_iterable(version.lines for version in newest_first)
        found: dict[str, PrescribedLine] = {}
        for line in ordered:
            if line.key in keys:
                found.setdefault(line.key, line)
        return found

    def _told_at(self, place: Place) -> list[ToldSession]:
        typed = self.typed.get(place)
        return [*([typed] if typed else []), *self.others[place]]

    def line_at(self, place: Place, key: str) -> PrescribedLine | None:
        """The line that a cell of that place and key is about."""
        told = self.typed.get(place)
        seen = self.by_number.get(told.version) if told and told.version else None
        in_force = self.in_force[place.day]
        for version in (seen, in_force):
            if version and (line := _line(version, key)):
                return line
        return None

    def _closed(self, place: Place, key: str) -> str:
        """Why a cell takes no typing; empty where it does."""
        if place.day > self.plan.today:
            return "to come"
        told = self.typed.get(place)
        if told and told.session.amounts.get(key):
            return ""
        version = self.in_force[place.day]
        if version is None or not version.lines:
            return "no plan"
        if place.number is None:
            return "" if _line(version, key) else "not in plan"
        if key in self.due.get((place.day, place.number), ()):
            return ""
        if any(place.day in pause for pause in self.plan.pauses):
            return "paused"
        return "not due"

    def _text(self, name: str, stored: str) -> str:
        return stored if self.texts is None else self.texts.get(name, "")

    def _amounts_cell(self, place: Place, key: str) -> Cell:
        name = f"{place.name}/{key}"
        told = self.typed.get(place)
        stored = _shown(told.session, key) if told else ""
        others = [other for other in self.others[place] if other.session.amounts.get(key)]
        line = self.line_at(place, key)
        is_due = place.number is not None and key in self.due.get((place.day, place.number), ())
        closed = self._closed(place, key)
        text = "" if closed else self._text(name, stored)
        tick = (line.amount_low,) * line.sets if line else ()
        others_done = sum(others[0].session.amounts[key]) if others else 0
        return Cell(
            name=name,
            place=place,
            text=text,
            closed=closed,
            others=" or ".join(
                _shown(other.session, key)
                + (", not confirmed" if key in other.session.unconfirmed else "")
                for other in others
            ),
            problem=self.problems.get(name, ""),
            asked=line.prescribed_per_occasion if line and is_due else 0,
            done=_sum_of(text, tick) if text.strip() else others_done,
            others_done=others_done,
            tick=tick,
            hint=_dose_words(line) if line else "",
            takes_load=line is not None and line.load_means not in WITHOUT_WEIGHT,
        )

    def _other_cell(self, place: Place, kind: str) -> Cell:
        """A cell for a pain or a note: open where the session may have happened."""
        name = f"{place.name}/{kind}"
        told = self.typed.get(place)
        stored = _stored(told.session, kind) if told else ""
        others = [_stored(other.session, kind) for other in self.others[place]]
        keys = self._lines([place])
        words = [self._closed(place, key) for key in keys] or ["no plan"]
        closed = "" if told or "" in words else words[0]
        if place.day > self.plan.today:
            closed = "to come"
        return Cell(
            name=name,
            place=place,
            text="" if closed else self._text(name, stored),
            closed=closed,
            others=" or ".join(filter(None, others)),
            problem=self.problems.get(name, ""),
        )


def _line(version: Version, key: str) -> PrescribedLine | None:
    return next((line for line in version.lines if line.key == key), None)


def _stored(session: PaperSession, kind: str) -> str:
    if kind == "@note":
        return session.note
    score = session.scores[SCORES.index(kind.removeprefix("@"))]
    return "" if score is None else str(score)


def _shown(session: PaperSession, key: str) -> str:
    """What was done of a line as a cell shows it: amounts, and the weight where one is named."""
    return amounts_text(session.amounts.get(key, ())) + load_text(session.loads.get(key))


def _sum_of(text: str, tick: Sequence[int]) -> int:
    try:
        return sum(read_amounts(read_load(text)[0], tick))
    except BadCell:
        return 0


def _totals(day: date, groups: Iterable[Group]) -> tuple[DayTotal, ...]:
    done: dict[str, int] = defaultdict(int)
    asked: dict[str, int] = defaultdict(int)
    for row in chain.from_iterable(group.rows for group in groups):
        if row.kind == "amounts":
            for cell in row.cells:
                if cell.place.day == day:
                    done[row.unit] += cell.done
                    asked[row.unit] += cell.asked
    return tuple(DayTotal(unit, done[unit], asked[unit]) for unit in done)


def _line_words(line: PrescribedLine) -> str:
    return f"{line.name}, {line.side.value}"


def _dose_words(line: PrescribedLine) -> str:
    ends = dict.fromkeys((line.amount_low, line.amount_high))
    unit = {Unit.SECONDS: " s", Unit.MINUTES: " min"}.get(line.unit, "")
    load = f" at {line.load_g / 1000:g} kg" if line.load_g else ""
    return f"{line.sets} × {'–'.join(map(str, ends))}{unit}{load}"
