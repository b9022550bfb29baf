"""An exercise as a person types it into a screen: its table as text fields, and back. Pure.

A field's name is its path (``words.en.name``, ``steps.0.poses.1.elbow``). What is no number stays
the text that it is, so that the strict readers of a table refuse it and nothing typed is lost.

>>> sent = {"steps.0.effort": "active", "steps.0.poses.0.at": "0", "steps.0.poses.0.elbow": "2O"}
>>> from_fields(sent).steps[0].table()["poses"]
[{'at': 0, 'elbow': '2O'}]
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from clinic.languages import LANGUAGES
from patients.motions import MOTIONS, Effort
from plans.catalogue import REQUIRED, Position
from plans.exercise import Movement, MovementError, read_movement
from plans.poses import SETTINGS
from plans.typed_angles import ANGLES

MOST_POSES = 16
WHOLE = ("sets", "amount_low", "amount_high", "hold_s", "pace_s", "rest_s", "sessions_per_day")
LISTS = ("moves", "loads", "equipment")
PLAIN = ("kind", "position", "unit", "easier", "harder", "view", "source")
EFFORTS = {effort.key: effort for effort in Effort}
NOTHING = "nothing"
"""How a hand that holds nothing, whatever the equipment says, is typed."""

_NUMBER = re.compile(r"-?\d{1,4}(\.\d{1,4})?", re.ASCII)
_POSE = re.compile(r"pose (\d+)")


@dataclass(frozen=True)
class Cell:
    """One value of a pose on the screen: its angle, its field's name, what stands in it."""

    name: str
    path: str
    text: str


@dataclass(frozen=True)
class PoseRow:
    """One pose on the screen: its number from 1, its time, its hold and its angles."""

    number: int
    at: Cell
    hold: Cell
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class TypedStep:
    """One step as text: ``said`` by field, ``settings`` of its first pose, and its poses."""

    number: int
    said: Mapping[str, str]
    settings: Mapping[str, str] = field(default_factory=dict)
    poses: tuple[Mapping[str, str], ...] = ()

    @property
    def effort(self) -> Effort | None:
        """The step's effort, where it names one."""
        return EFFORTS.get(self.said.get("effort", ""))

    @property
    def angles(self) -> tuple[str, ...]:
        """The angles that any of its poses gives or may give: the columns of the grid."""
        named = {name for pose in self.poses for name in pose} - {"at", "hold"}
        known = [angle.name for angle in ANGLES if angle.name in named]
        return (*known, *sorted(named - set(known)))

    @property
    def grid(self) -> tuple[PoseRow, ...]:
        """Its poses in order."""
        return tuple(
            PoseRow(
                number,
                self._cell(number, "at", pose),
                self._cell(number, "hold", pose),
                tuple(self._cell(number, name, pose) for name in self.angles),
            )
            for number, pose in enumerate(self.poses, 1)
        )

    def _cell(self, number: int, name: str, pose: Mapping[str, str]) -> Cell:
        path = f"steps.{self.number}.poses.{number - 1}.{name}"
        return Cell(name, path, pose.get(name, ""))

    def table(self) -> dict[str, object]:
        """The step as a file writes it."""
        said = self.said
        table: dict[str, object] = {
            name: said[name] for name in ("effort", "done_by", "position") if name in said
        }
        table["equipment"] = _names(said.get("equipment", ""))
        if said.get("load_means"):
            table["load_means"] = said["load_means"]
        table["words"] = {
            language: {"do": do}
            for language in LANGUAGES
            if (do := _lines(said.get(f"do.{language}", ""))) or language in REQUIRED
        }
        if self.poses:
            poses = [_pose_table(pose) for pose in self.poses]
            for name, text in self.settings.items():
                if text.strip():
                    poses[0][name] = _setting(name, text.strip())
            table["poses"] = poses
        return table


@dataclass(frozen=True)
class TypedExercise:
    """An exercise as text, with its steps."""

    said: Mapping[str, str]
    steps: tuple[TypedStep, ...]

    @property
    def efforts_left(self) -> tuple[Effort, ...]:
        """The efforts that its ladder has no step of."""
        taken = {step.effort for step in self.steps}
        return tuple(effort for effort in Effort if effort not in taken)

    def table(self) -> dict[str, object]:
        """The exercise as a file writes it, for ``plans.catalogue.read_exercise``."""
        said = self.said
        table: dict[str, object] = {"key": said.get("key", "").strip()}
        table |= {name: said[name].strip() for name in PLAIN if said.get(name, "").strip()}
        table |= {name: _names(said.get(name, "")) for name in LISTS}
        table["sided"] = said.get("sided") == "true"
        table["dose"] = {name: _value(said.get(f"dose.{name}", "")) for name in WHOLE} | {
            "source": said.get("dose.source", "").strip()
        }
        table["words"] = {
            language: {
                name: said.get(f"words.{language}.{name}", "").strip()
                for name in ("name", "goal", "cue")
            }
            | {"cautions": _lines(said.get(f"words.{language}.cautions", ""))}
            for language in LANGUAGES
            if language in REQUIRED or _is_said(said, f"words.{language}.")
        }
        table["steps"] = [step.table() for step in self.steps]
        return table

    def with_pose(self, at: int) -> "TypedExercise":
        """With a pose more in a step, before its last one, halfway in time."""
        step = self.steps[at]
        if len(step.poses) >= MOST_POSES or not step.poses:
            return self
        times = [_value(pose.get("at", "")) for pose in step.poses[-2:]]
        numbers = [time for time in times if isinstance(time, int | float)]
        middle = f"{sum(numbers) / 2:g}" if len(numbers) == 2 else ""
        new = {"at": middle} | dict.fromkeys(step.angles, "")
        return self._with(replace(step, poses=(*step.poses[:-1], new, step.poses[-1])))

    def without_pose(self, at: int, pose: int) -> "TypedExercise":
        """Without one pose (from 0) of a step; the first one stays."""
        step = self.steps[at]
        if pose < 1:
            return self
        return self._with(replace(step, poses=(*step.poses[:pose], *step.poses[pose + 1 :])))

    def with_angle(self, at: int, name: str) -> "TypedExercise":
        """With a column for an angle that a step's poses don't give yet."""
        step = self.steps[at]
        if name not in {angle.name for angle in ANGLES}:
            return self
        poses = tuple({name: ""} | dict(pose) for pose in step.poses)
        return self._with(replace(step, poses=poses))

    def with_step(self, effort: Effort) -> "TypedExercise":
        """With a step of another effort, begun as a copy of the nearest below it, or the first."""
        if effort not in self.efforts_left or not self.steps:
            return self
        below = [step for step in self.steps if step.effort is not None and step.effort < effort]
        near = below[-1] if below else self.steps[0]
        said = dict(near.said) | {
            "effort": effort.key,
            "load_means": "held" if effort is Effort.RESISTED else "",
        }
        if effort is not Effort.PASSIVE:
            said["done_by"] = "self"
        place = len(below)
        new = replace(near, said=said)
        return replace(self, steps=_numbered([*self.steps[:place], new, *self.steps[place:]]))

    def without_step(self, at: int) -> "TypedExercise":
        """Without one step; the last one left stays."""
        if len(self.steps) < 2:
            return self
        return replace(self, steps=_numbered([*self.steps[:at], *self.steps[at + 1 :]]))

    def _with(self, step: TypedStep) -> "TypedExercise":
        steps = [step if each.number == step.number else each for each in self.steps]
        return replace(self, steps=tuple(steps))

    def movement(self, step: TypedStep) -> Movement:
        """The movement of a step as typed, whatever else is still wrong; MovementError if not."""
        where = self.said.get("key", "").strip() or "exercise"
        table = step.table()
        wrong = []
        if step.effort is None:
            wrong.append(f"{where}: effort {step.said.get('effort')!r} is not known")
        if table.get("position") not in set(Position):
            wrong.append(f"{where}: position {table.get('position')!r} is not known")
        moves = _names(self.said.get("moves", ""))
        wrong += [f"{where}: moves: {each!r} is not known" for each in moves if each not in MOTIONS]
        if wrong:
            raise MovementError(wrong)
        things = [*_names(self.said.get("equipment", "")), *_names(step.said.get("equipment", ""))]
        view = self.said.get("view", "").strip() or None
        return read_movement(
            table | {"moves": moves, "equipment": things, "view": view}, where=where
        )


def from_table(table: Mapping[str, object]) -> TypedExercise:
    """The text fields of an exercise's table, as ``Exercise.as_table`` gives it."""
    said = {name: str(table.get(name, "")) for name in ("key", *PLAIN)}
    said |= {name: ", ".join(_texts(table.get(name))) for name in LISTS}
    said["sided"] = "true" if table["sided"] else ""
    said |= {f"dose.{name}": str(value) for name, value in _mapping(table["dose"]).items()}
    for language, words in _mapping(table["words"]).items():
        for name, value in _mapping(words).items():
            text = "\n".join(_texts(value)) if isinstance(value, list) else str(value)
            said[f"words.{language}.{name}"] = text
    steps = table["steps"]
    if not isinstance(steps, Sequence):
        raise TypeError("steps must be a list of tables")
    return TypedExercise(said, _numbered([_step_from(_mapping(step)) for step in steps]))


def _step_from(table: Mapping[str, object]) -> TypedStep:
    said = {name: str(table.get(name, "")) for name in ("effort", "done_by", "position")}
    said["equipment"] = ", ".join(_texts(table.get("equipment")))
    said["load_means"] = str(table.get("load_means", ""))
    for language, words in _mapping(table["words"]).items():
        said[f"do.{language}"] = "\n".join(_texts(_mapping(words)["do"]))
    written = table.get("poses")
    poses = [_mapping(pose) for pose in written] if isinstance(written, Sequence) else []
    settings = {
        name: (NOTHING if value == "" else _text(value))
        for name, value in (poses[0].items() if poses else ())
        if name in SETTINGS
    }
    typed = tuple({n: _text(v) for n, v in pose.items() if n not in SETTINGS} for pose in poses)
    return TypedStep(0, said, settings, typed)


def from_fields(fields: Mapping[str, str]) -> TypedExercise:
    """What was typed, from the fields of a form."""
    said: dict[str, str] = {}
    steps: dict[int, dict[str, str]] = {}
    for path, text in fields.items():
        found = re.fullmatch(r"steps\.([0-9])\.(.+)", path)
        if found:
            steps.setdefault(int(found[1]), {})[found[2]] = text
        elif not path.startswith("steps."):
            said[path] = text
    return TypedExercise(said, _numbered([_step_typed(steps[at]) for at in sorted(steps)]))


def _step_typed(fields: Mapping[str, str]) -> TypedStep:
    said: dict[str, str] = {}
    settings: dict[str, str] = {}
    poses: dict[int, dict[str, str]] = {}
    for path, text in fields.items():
        pose = re.fullmatch(r"poses\.([0-9]{1,2})\.(\w+)", path)
        if pose:
            if pose[2] not in SETTINGS:
                poses.setdefault(int(pose[1]), {})[pose[2]] = text
        elif path.startswith("first."):
            if path[6:] in SETTINGS:
                settings[path[6:]] = text
        else:
            said[path] = text
    typed = tuple(poses[at] for at in sorted(poses))[:MOST_POSES]
    return TypedStep(0, said, settings, typed)


def problems_by_pose(problems: Sequence[str]) -> dict[int, list[str]]:
    """Problems of one movement by the number of their pose; 0 for what belongs to none."""
    found: dict[int, list[str]] = {}
    for problem in problems:
        pose = _POSE.search(problem)
        found.setdefault(int(pose[1]) if pose else 0, []).append(problem)
    return found


def _numbered(steps: Sequence[TypedStep]) -> tuple[TypedStep, ...]:
    return tuple(replace(step, number=number) for number, step in enumerate(steps))


def _mapping(value: object) -> Mapping[str, object]:
    if not isinstance(value, Mapping):
        raise TypeError(f"{value!r} must be a table")
    return value


def _texts(value: object) -> list[str]:
    return [str(each) for each in value] if isinstance(value, list | tuple) else []


def _text(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else ""
    if isinstance(value, int | float):
        return f"{value:.10g}"
    return " ".join(_text(each) for each in value) if isinstance(value, list) else str(value)


def _value(text: str) -> object:
    """A number where the text is one, else the text itself, for a reader to refuse."""
    text = text.strip()
    if not _NUMBER.fullmatch(text):
        return text
    return float(text) if "." in text else int(text)


def _pose_table(pose: Mapping[str, str]) -> dict[str, object]:
    table: dict[str, object] = {}
    for name, text in pose.items():
        parts = text.split()
        if name == "hold":
            table |= {"hold": True} if text else {}
        elif name == "at" or len(parts) == 1:
            table[name] = _value(text)
        elif parts:
            table[name] = [_value(part) for part in parts]
    return table


def _setting(name: str, text: str) -> object:
    if name == "holds" and text == NOTHING:
        return ""
    if name in ("anchor", "press"):
        return [_value(part) for part in text.split()]
    return _value(text)


def _is_said(said: Mapping[str, str], start: str) -> bool:
    return any(text.strip() for name, text in said.items() if name.startswith(start))


def _names(text: str) -> list[str]:
    parts = (part.strip() for part in text.split(","))
    return [re.sub(r"[ -]+", "_", part.lower()) for part in parts if part]


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]
