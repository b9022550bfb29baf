"""Starting sets: a programme for a stage of recovery, to be fitted to a patient. Pure.

fixtures/sets/<key>.toml holds one set a file; those that come with Handrail are examples until the
clinic makes them its own. Reading is strict: a file with a mistake is named with every mistake, and
the others stay in use.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from patients.motions import Effort
from plans.catalogue import Exercise
from plans.tables import Problem, TableReader

MOST_LINES = 20
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


class Stage(StrEnum):
    """How far recovery has come, as the clinic sorts its sets."""

    EARLY = "early"
    MIDDLE = "middle"
    LATE = "late"

    @property
    def order(self) -> int:
        """Its place, early first."""
        return list(Stage).index(self)


@dataclass(frozen=True)
class SetLine:
    """One exercise of a set. ``None``: the exercise's usual dose; no ``weekdays``: every day.

    ``most`` is the highest step that the set means, whatever the patient could do.
    """

    exercise: str
    most: Effort | None = None
    sets: int | None = None
    amount_low: int | None = None
    amount_high: int | None = None
    hold_s: int | None = None
    sessions_per_day: int | None = None
    weekdays: frozenset[int] = frozenset()

    @property
    def dose(self) -> dict[str, int]:
        """What differs from the usual dose, by the name of the field."""
        said = {name: getattr(self, name) for name in DOSE}
        return {name: value for name, value in said.items() if value is not None}

    def as_table(self) -> dict[str, object]:
        """Return the line as it stands in a file, without what is usual."""
        table: dict[str, object] = {"exercise": self.exercise}
        if self.most is not None:
            table["most"] = self.most.key
        if self.weekdays:
            table["days"] = [WEEKDAYS[day] for day in sorted(self.weekdays)]
        return table | self.dose


DOSE = {
    "sets": (1, 20),
    "amount_low": (1, 999),
    "amount_high": (1, 999),
    "hold_s": (0, 300),
    "sessions_per_day": (1, 12),
}
"""The fields of a line's dose with their least and most."""


@dataclass(frozen=True)
class StartingSet:
    """A set with its lines in order. ``is_example`` until the clinic has made it its own."""

    key: str
    name: str
    stage: Stage
    purpose: str
    source: str
    lines: tuple[SetLine, ...]
    is_example: bool = False


class SetError(ValueError):
    """A set that can't be used; every mistake is named with its file and line."""


def read_sets(folder: Path) -> tuple[tuple[StartingSet, ...], tuple[str, ...]]:
    """Return the sets of a folder by stage and name, and what is wrong with files left out."""
    read, problems = [], []
    for path in sorted(folder.glob("*.toml")):
        try:
            table = tomllib.loads(path.read_text(encoding="utf-8"))
            read.append(read_set(table, key=path.stem, where=path.name, is_example=True))
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            problems.append(f"{path.name}: {error}")
        except SetError as error:
            problems.append(str(error))
    return in_order(read), tuple(problems)


def in_order(sets: list[StartingSet]) -> tuple[StartingSet, ...]:
    """Return sets early ones first, then by name."""
    return tuple(sorted(sets, key=lambda one: (one.stage.order, one.name)))


def read_set(
    table: Mapping[str, object], *, key: str, where: str, is_example: bool = False
) -> StartingSet:
    """Return the set of a table; SetError names everything wrong with it."""
    problems: list[Problem] = []
    reader = TableReader(table, where=where, subject=key, problems=problems)
    found = StartingSet(
        key=key,
        name=reader.text("name"),
        stage=Stage(reader.choice("stage", [stage.value for stage in Stage])),
        purpose=reader.text("purpose"),
        source=reader.text("source"),
        lines=tuple(_line(row) for row in reader.tables("lines", 1, MOST_LINES)),
        is_example=is_example,
    )
    reader.refuse_others()
    if problems:
        raise SetError("\n".join(map(str, problems)))
    return found


def _line(reader: TableReader) -> SetLine:
    given = {name: reader.optional_integer(name, low, high) for name, (low, high) in DOSE.items()}
    most = reader.optional_choice("most", [effort.key for effort in Effort])
    days = reader.choices("days", WEEKDAYS, default=())
    line = SetLine(
        exercise=reader.key("exercise"),
        most=Effort.from_key(most) if most else None,
        weekdays=frozenset(WEEKDAYS.index(day) for day in days),
        **given,
    )
    if line.amount_low and line.amount_high and line.amount_low > line.amount_high:
        reader.refuse("amount_low", "must not be above amount_high")
    reader.refuse_others()
    return line


def line_problems(line: SetLine, exercise: Exercise | None) -> list[str]:
    """Return what of a line does not go with its exercise, in words."""
    if exercise is None:
        return [f"{line.exercise} is not in the catalogue"]
    name = exercise.words("en").name
    wrong = []
    if line.most is not None and line.most not in [step.effort for step in exercise.steps]:
        wrong.append(f"{name} has no {line.most.label} step")
    if line.hold_s and exercise.unit != "repetitions":
        wrong.append(f"{name} is counted in {exercise.unit.value}: it has no hold")
    low = line.amount_low or exercise.dose.amount_low
    high = line.amount_high or exercise.dose.amount_high
    if low > high and line.amount_low and line.amount_high is None:
        wrong.append(f"{name}: say both ends of the range, since {low} is above the usual {high}")
    elif low > high:
        wrong.append(f"{name}: {low} to {high} ends below its beginning")
    return wrong
