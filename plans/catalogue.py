"""The exercise catalogue as values: an exercise, its ladder of steps, its words and its usual dose.

Pure: standard library and ``patients.motions`` only. A file in fixtures/exercises/ holds one
exercise (fixtures/README.md describes it); the database keeps the same table as JSON. Reading is
strict and complete: it gathers every problem, then raises one :class:`CatalogueError` with all of
them, so a clinic that edits a file mends it in one go.

A step's poses are kept here as they were written; their meaning belongs to the arm model.
"""

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

from clinic.languages import FALLBACK, LANGUAGES, base_code
from patients.motions import MOTIONS, Effort, Joint
from plans.schedule import Unit
from plans.tables import Problem, TableReader

REQUIRED = tuple(code for code, language in LANGUAGES.items() if language.is_required)
"""Languages in which every exercise is complete."""

OPTIONAL = tuple(code for code in LANGUAGES if code not in REQUIRED)
"""Languages in which an exercise may have words, and then has all of them."""


class Kind(StrEnum):
    """Whether the arm model can check the exercise."""

    POSES = "poses"
    ACTIVITY = "activity"


class Position(StrEnum):
    """How the patient lies, sits or stands."""

    LYING_BACK = "lying_back"
    LYING_SIDE = "lying_side"
    SITTING = "sitting"
    SITTING_AT_TABLE = "sitting_at_table"
    STANDING = "standing"
    LEANING_FORWARD = "leaning_forward"

    @property
    def label(self) -> str:
        """The position in words."""
        return _POSITION_LABELS[self]


_POSITION_LABELS = {
    Position.LYING_BACK: "lying on the back",
    Position.LYING_SIDE: "lying on the side",
    Position.SITTING: "sitting",
    Position.SITTING_AT_TABLE: "sitting at a table",
    Position.STANDING: "standing",
    Position.LEANING_FORWARD: "leaning forward",
}


class DoneBy(StrEnum):
    """Whose effort moves the arm: the patient's (either hand), or a helper's."""

    SELF = "self"
    HELPER = "helper"


class LoadMeans(StrEnum):
    """What resists a movement. Only ``HELD`` and ``CUFF`` are weights."""

    HELD = "held"
    CUFF = "cuff"
    BAND = "band"
    PUTTY = "putty"
    OTHER_HAND = "other_hand"


class Equipment(StrEnum):
    """What has to be at hand: things found in most homes, or given by the clinic."""

    BAND = "band"
    BED = "bed"
    CARDS = "cards"
    CHAIR = "chair"
    CLOTH = "cloth"
    CREAM = "cream"
    CUFF_WEIGHT = "cuff_weight"
    CUP = "cup"
    HAND_WEIGHT = "hand_weight"
    PAPER = "paper"
    PILLOW = "pillow"
    PUTTY = "putty"
    RUBBER_BAND = "rubber_band"
    SMOOTH_BOARD = "smooth_board"
    STICK = "stick"
    TABLE = "table"
    TOWEL = "towel"
    WALL = "wall"

    @property
    def label(self) -> str:
        """The thing in words."""
        return self.value.replace("_", " ")


@dataclass(frozen=True)
class Dose:
    """The usual dose. Amounts are per set, in the exercise's unit; low and high end of a range."""

    sets: int
    amount_low: int
    amount_high: int
    hold_s: int
    pace_s: int
    rest_s: int
    sessions_per_day: int
    source: str

    def as_table(self) -> dict[str, object]:
        """Return the dose as it stands in a file."""
        return dict(vars(self))


@dataclass(frozen=True)
class Words:
    """What an exercise is called and what is always said with it, in one language."""

    name: str
    goal: str
    cautions: tuple[str, ...]
    cue: str

    def as_table(self) -> dict[str, object]:
        """Return the words as they stand in a file."""
        return vars(self) | {"cautions": list(self.cautions)}


@dataclass(frozen=True)
class StepWords:
    """What the patient (or the helper) does in a step, in order, in one language."""

    do: tuple[str, ...]

    def as_table(self) -> dict[str, object]:
        """Return the words as they stand in a file."""
        return {"do": list(self.do)}


@dataclass(frozen=True)
class Step:
    """One step of a ladder.

    ``position`` is the one that holds in this step; ``equipment`` comes on top of the exercise's.
    """

    effort: Effort
    done_by: DoneBy
    position: Position
    equipment: tuple[Equipment, ...]
    load_means: LoadMeans | None
    words_in: Mapping[str, StepWords]
    poses: tuple[Mapping[str, object], ...]

    def words(self, language: str) -> StepWords:
        """Return the step's words in ``language`` ("es", "es-mx"), else in English."""
        return self.words_in.get(base_code(language), self.words_in[FALLBACK])

    def as_table(self) -> dict[str, object]:
        """Return the step as it stands in a file."""
        table: dict[str, object] = {
            "effort": self.effort.key,
            "done_by": self.done_by.value,
            "position": self.position.value,
            "equipment": [thing.value for thing in self.equipment],
        }
        if self.load_means is not None:
            table["load_means"] = self.load_means.value
        table["words"] = {key: words.as_table() for key, words in self.words_in.items()}
        table["poses"] = [dict(pose) for pose in self.poses]
        return table


@dataclass(frozen=True)
class Exercise:
    """A taught movement, or an activity, with its ladder from lowest to highest effort.

    ``moves`` are the motions it works on; ``loads`` the joints that only carry. ``easier`` and
    ``harder`` name neighbours by key. ``view`` says from where its figure is drawn.
    """

    key: str
    kind: Kind
    position: Position
    moves: tuple[str, ...]
    loads: tuple[Joint, ...]
    unit: Unit
    sided: bool
    equipment: tuple[Equipment, ...]
    easier: str | None
    harder: str | None
    view: str | None
    source: str
    dose: Dose
    words_in: Mapping[str, Words]
    steps: tuple[Step, ...]

    def words(self, language: str) -> Words:
        """Return the exercise's words in ``language`` ("es", "es-mx"), else in English."""
        return self.words_in[self.language_for(language)]

    def language_for(self, language: str) -> str:
        """Return the code of the language in which its words stand for who reads ``language``."""
        base = base_code(language)
        return base if base in self.words_in else FALLBACK

    def step(self, effort: Effort) -> Step:
        """Return the step of that effort; KeyError where the ladder has none."""
        for step in self.steps:
            if step.effort is effort:
                return step
        raise KeyError(effort.key)

    def below(self, effort_key: str) -> Step | None:
        """Return the ladder's next lower step below the one that a key names; None at its end."""
        keys = [step.effort.key for step in self.steps]
        at = keys.index(effort_key) if effort_key in keys else 0
        return self.steps[at - 1] if at else None

    def as_table(self) -> dict[str, object]:
        """Return a table that JSON can hold and that :func:`read_exercise` reads as equal."""
        table: dict[str, object] = {
            "key": self.key,
            "kind": self.kind.value,
            "position": self.position.value,
            "moves": list(self.moves),
            "loads": [joint.value for joint in self.loads],
            "unit": self.unit.value,
            "sided": self.sided,
            "equipment": [thing.value for thing in self.equipment],
        }
        for name in ("easier", "harder", "view"):
            if (value := getattr(self, name)) is not None:
                table[name] = value
        table["source"] = self.source
        table["dose"] = self.dose.as_table()
        table["words"] = {key: words.as_table() for key, words in self.words_in.items()}
        table["steps"] = [step.as_table() for step in self.steps]
        return table


class CatalogueError(ValueError):
    """Everything that is wrong with the exercises read; one problem a line in its text."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def read_exercise(table: Mapping[str, object], *, where: str) -> Exercise:
    """Return the exercise that ``table`` (parsed TOML or JSON) describes.

    ``where`` names the file or record in messages. Raises CatalogueError with every problem found.
    """
    problems: list[Problem] = []
    exercise = _exercise(_reader(table, where, problems))
    if problems:
        raise CatalogueError(problems)
    return exercise


def read_file(path: Path) -> Exercise:
    """Return the exercise of a TOML file, whose name must be its key."""
    problems: list[Problem] = []
    exercise = _from_file(path, problems)
    if problems or exercise is None:
        raise CatalogueError(problems)
    return exercise


def read_folder(path: Path) -> list[Exercise]:
    """Return every exercise of a folder by key, its neighbours checked across the folder."""
    problems: list[Problem] = []
    read = [_from_file(file, problems) for file in sorted(path.glob("*.toml"))]
    if problems:  # a neighbour in a file that could not be read is not missing
        raise CatalogueError(problems)
    exercises = [exercise for exercise in read if exercise is not None]
    problems += neighbour_problems(exercises)
    if problems:
        raise CatalogueError(problems)
    return exercises


def neighbour_problems(exercises: Sequence[Exercise]) -> list[Problem]:
    """Return what is wrong with who is named easier and harder: none of these, or in a circle."""
    keys = {exercise.key for exercise in exercises}
    problems = []
    easier_ones: dict[str, set[str]] = {key: set() for key in keys}
    for exercise in exercises:
        for name in ("easier", "harder"):
            neighbour = getattr(exercise, name)
            if neighbour is None:
                continue
            if neighbour not in keys:
                problems.append(
                    Problem(
                        where=f"{exercise.key}.toml",
                        subject=exercise.key,
                        field=name,
                        message=f'there is no exercise "{neighbour}" in this folder',
                    )
                )
            elif name == "easier":
                easier_ones[exercise.key].add(neighbour)
            else:
                easier_ones[neighbour].add(exercise.key)
    try:
        TopologicalSorter(easier_ones).prepare()
    except CycleError as error:
        circle = error.args[1]
        problems.append(
            Problem(
                where=f"{circle[0]}.toml",
                subject=circle[0],
                field="easier, harder",
                message=f"go round in a circle: {' < '.join(circle)}",
            )
        )
    return problems


def _reader(table: Mapping[str, object], where: str, problems: list[Problem]) -> TableReader:
    key = table.get("key")
    subject = key if isinstance(key, str) else ""
    return TableReader(table, where=where, subject=subject, problems=problems)


def _from_file(path: Path, problems: list[Problem]) -> Exercise | None:
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:  # the message has line, column
        problems.append(Problem(where=path.name, subject="", field="", message=str(error)))
        return None
    reader = _reader(table, path.name, problems)
    exercise = _exercise(reader)
    if exercise.key and exercise.key != path.stem:
        reader.refuse("key", f'must be the file\'s name, "{path.stem}"')
    return exercise


def _exercise(reader: TableReader) -> Exercise:
    position = reader.choice("position", Position)
    exercise = Exercise(
        key=reader.key("key"),
        kind=reader.choice("kind", Kind),
        position=position,
        moves=tuple(reader.choices("moves", list(MOTIONS))),
        loads=tuple(reader.choices("loads", Joint, default=())),
        unit=reader.choice("unit", Unit),
        sided=reader.truth("sided"),
        equipment=tuple(reader.choices("equipment", Equipment, default=())),
        easier=reader.optional_key("easier"),
        harder=reader.optional_key("harder"),
        view=reader.optional_key("view"),
        source=reader.text("source"),
        dose=_dose(reader.table("dose")),
        words_in={
            language: Words(
                name=words.text("name"),
                goal=words.text("goal"),
                cautions=tuple(words.texts("cautions", 1, 3)),
                cue=words.text("cue"),
            )
            for language, words in reader.tables_named("words", REQUIRED, OPTIONAL)
        },
        steps=tuple(_step(step, position) for step in reader.tables("steps", 1, len(Effort))),
    )
    reader.refuse_others()
    _check(exercise, reader)
    return exercise


def _dose(reader: TableReader) -> Dose:
    dose = Dose(
        sets=reader.integer("sets", 1, 20),
        amount_low=reader.integer("amount_low", 1, 999),
        amount_high=reader.integer("amount_high", 1, 999),
        hold_s=reader.integer("hold_s", 0, 120),
        pace_s=reader.integer("pace_s", 0, 60),
        rest_s=reader.integer("rest_s", 0, 600),
        sessions_per_day=reader.integer("sessions_per_day", 1, 12),
        source=reader.text("source"),
    )
    if dose.amount_low > dose.amount_high:
        reader.refuse("amount_low", "must not be above amount_high")
    reader.refuse_others()
    return dose


def _step(reader: TableReader, position: Position) -> Step:
    step = Step(
        effort=Effort.from_key(reader.choice("effort", [effort.key for effort in Effort])),
        done_by=reader.choice("done_by", DoneBy),
        position=reader.choice("position", Position, default=position),
        equipment=tuple(reader.choices("equipment", Equipment, default=())),
        load_means=reader.optional_choice("load_means", LoadMeans),
        words_in={
            language: StepWords(do=tuple(words.texts("do", 2, 4)))
            for language, words in reader.tables_named("words", REQUIRED, OPTIONAL)
        },
        poses=tuple(reader.raw_tables("poses")),
    )
    if step.done_by is DoneBy.HELPER and step.effort is not Effort.PASSIVE:
        reader.refuse("done_by", "only a passive step is done by a helper")
    if (step.load_means is not None) != (step.effort is Effort.RESISTED):
        reader.refuse("load_means", "belongs to a resisted step, and each of those needs one")
    if not all(_plain(pose) for pose in step.poses):
        reader.refuse("poses", "may hold only text, finite numbers, true, false, lists and tables")
    reader.refuse_others()
    return step


def _plain(value: object) -> bool:
    """Say whether JSON holds the value and gives it back equal."""
    if isinstance(value, Mapping):
        return all(_plain(inner) for inner in value.values())
    if isinstance(value, list):
        return all(_plain(inner) for inner in value)
    return isinstance(value, str | int) or (isinstance(value, float) and math.isfinite(value))


def _check(exercise: Exercise, reader: TableReader) -> None:
    """Refuse what each field allows and the whole does not."""
    efforts = [step.effort for step in exercise.steps]
    if efforts != sorted(set(efforts)):
        reader.refuse("steps", "must rise in effort, each effort at most once")
    activity = exercise.kind is Kind.ACTIVITY
    if activity != (exercise.unit in (Unit.MINUTES, Unit.TIMES)):
        reader.refuse("unit", "minutes and times are for activities; poses have the others")
    if activity and any(step.poses for step in exercise.steps):
        reader.refuse("kind", "an activity has no poses")
    if exercise.kind is Kind.POSES and not exercise.moves and exercise.unit is not Unit.SECONDS:
        reader.refuse("moves", "must name a motion, unless the exercise is a hold in seconds")
    if not exercise.moves and not exercise.loads and not activity:
        reader.refuse("loads", "must name a joint where nothing moves")
    by_repetition = exercise.unit is Unit.REPETITIONS
    if exercise.dose.hold_s and not by_repetition:
        reader.refuse("dose.hold_s", "must be 0: only repetitions are held")
    if (exercise.dose.pace_s > 0) != by_repetition:
        reader.refuse("dose.pace_s", "is the time of one repetition, and 0 for anything else")
    for n, step in enumerate(exercise.steps, 1):
        for language in OPTIONAL:
            if (language in step.words_in) != (language in exercise.words_in):
                reader.refuse(
                    f"steps[{n}].words.{language}",
                    "an exercise has this language in its words and in every step, or in none",
                )
    for name in ("easier", "harder"):
        if exercise.key and getattr(exercise, name) == exercise.key:
            reader.refuse(name, "must be another exercise")
