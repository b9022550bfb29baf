"""Reading a plan file: the shape by its JSON Schema, then what each part means.

Pure. Forgiving where someone writing by hand would expect it (what is left out is the usual),
strict where a slip could hurt. Reading goes on after a problem, so that one run names them all.
"""

import difflib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path as FilePath
from typing import Any
from zoneinfo import available_timezones

from jsonschema import Draft202012Validator, ValidationError

from plans.catalogue import Exercise, Kind
from plans.exchange import (
    EVERY_DAY,
    WEEKDAYS,
    LinePart,
    PatientPart,
    PausePart,
    PlanFile,
    Problem,
    VersionPart,
)
from plans.jsonfile import Json, Path

EARLIEST_BIRTH = date(1900, 1, 1)
EARLIEST_PLAN = date(2000, 1, 1)
FURTHEST_AHEAD = timedelta(days=366)
"""How far ahead a plan or a pause may begin before a day is taken for a slip."""

type Table = dict[str, Any]


class PlanFileRefused(ValueError):
    """A plan file that can't be read as one: every problem found."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("; ".join(problem.reason for problem in self.problems))


@dataclass(frozen=True)
class Usual:
    """What stands in for fields left out of a version, and the exercises that it can name.

    For a version that is here already these are the ones it was issued with, so that the same
    file means the same after the catalogue or the clinic's limit has changed.
    """

    pain_limit: int
    exercises: Mapping[str, Exercise]


def read_schema(path: FilePath) -> Table:
    """Return the JSON Schema of plan files; fractions as Decimals, like the files' own."""
    schema: Table = json.loads(path.read_text(encoding="utf-8"), parse_float=Decimal)
    return schema


def clinic_number_of(value: Json) -> str:
    """Return the clinic number that a document names, before anything else of it is known."""
    patient = value.get("patient") if isinstance(value, dict) else None
    number = patient.get("clinic_number") if isinstance(patient, dict) else None
    return number.strip() if isinstance(number, str) else ""


def read_plan(
    value: Json,
    *,
    schema: Table,
    today: date,
    usual: Usual,
    issued: Mapping[int, Usual],
) -> PlanFile:
    """Return what a document says. ``issued`` has the usual for versions that are here already.

    Raises PlanFileRefused with every problem.
    """
    problems = list(_shape_problems(value, schema))
    reader = _Reader(problems, today, usual, issued)
    plan = reader.plan(value) if isinstance(value, dict) else None
    if problems or plan is None:
        raise PlanFileRefused(problems)
    return plan


def _shape_problems(value: Json, schema: Table) -> Iterator[Problem]:
    validator = Draft202012Validator(schema, format_checker=Draft202012Validator.FORMAT_CHECKER)
    for error in validator.iter_errors(value):
        path = tuple(error.absolute_path)
        if error.validator == "additionalProperties":
            known = list(error.schema["properties"])
            for key in error.instance:
                if key not in known:
                    yield Problem(
                        (*path, key), f"{key}: is not known here{_hint(key, known)}", True
                    )
        elif error.validator == "required":
            for key in error.validator_value:
                if key not in error.instance and f"'{key}'" in error.message:
                    yield Problem(path, f"{key}: is missing")
        else:
            name = next((part for part in reversed(path) if isinstance(part, str)), "")
            prefix = f"{name}: " if name else ""
            yield Problem(path, prefix + _shape_reason(error))


_TYPES = {
    "object": "a table in { }",
    "array": "a list in [ ]",
    "string": "text in double quotes",
    "integer": "a whole number",
    "number": "a number",
    "null": "null",
}


def _shape_reason(error: ValidationError) -> str:
    limit, schema, given = error.validator_value, error.schema, _given(error.instance)
    match error.validator:
        case "type":
            types = [limit] if isinstance(limit, str) else limit
            return f"must be {' or '.join(_TYPES[word] for word in types)}, not {given}"
        case "enum":
            words = ["null" if word is None else word for word in limit]
            hint = _hint(error.instance, [word for word in limit if word])
            return f"must be one of {', '.join(words)}, not {given}{hint}"
        case "minimum" | "maximum":
            return f"must be from {schema['minimum']} to {schema['maximum']}, not {given}"
        case "multipleOf":
            return f"must be a whole multiple of {limit}, not {given}"
        case "maxLength":
            return f"must not be longer than {limit} characters (it has {len(error.instance)})"
        case "maxItems":
            return f"must not have more than {limit} in the list"
        case "minLength":
            return "must not be blank"
        case "uniqueItems":
            return "must not name the same twice"
        case "format" if isinstance(error.instance, str) and error.instance[4:5] == "-":
            return f"must be a day that there is, as YYYY-MM-DD, not {given}"
        case _:
            return f"must be {schema['description']}, not {given}"


def _given(value: object) -> str:
    if isinstance(value, dict | list):
        return "a table" if isinstance(value, dict) else "that list"
    if value is None or isinstance(value, bool):
        return json.dumps(value)
    return f'"{value}"' if isinstance(value, str) else str(value)


def _hint(given: object, known: Iterable[str]) -> str:
    """Return a did-you-mean, or nothing where nothing known is near."""
    near = difflib.get_close_matches(str(given).lower(), list(known), n=1, cutoff=0.6)
    return f"; did you mean {near[0]}?" if near else ""


class _Reader:
    """Reads the parts of a document that are in shape, adding to ``problems``."""

    def __init__(
        self, problems: list[Problem], today: date, usual: Usual, issued: Mapping[int, Usual]
    ) -> None:
        self.problems = problems
        self.misshapen = [problem.path for problem in problems]
        self.today = today
        self.usual = usual
        self.issued = issued
        self.keys: dict[str, tuple[str, str, str]] = {}

    def refuse(self, path: Path, reason: str) -> None:
        """Note a problem; its reason begins with the field's name."""
        self.problems.append(Problem(path, f"{path[-1]}: {reason}"))

    def in_shape(self, path: Path) -> bool:
        """Whether no problem of shape lies at or below a path."""
        return not any(bad[: len(path)] == path for bad in self.misshapen)

    def plan(self, document: Table) -> PlanFile | None:
        """Return the document's content; None where problems leave none to return."""
        patient = (
            self._patient(document["patient"])
            if "patient" in document and self.in_shape(("patient",))
            else None
        )
        versions: list[VersionPart] = []
        pauses: list[PausePart] = []
        for path, table in self._tables(document, ("versions",)):
            version = self._version(table, path, patient.affected_side if patient else "")
            if version is not None:
                if version.number in [earlier.number for earlier in versions]:
                    self.refuse((*path, "number"), f"version {version.number} is given twice")
                versions.append(version)
        for path, table in self._tables(document, ("pauses",)):
            if self.in_shape(path):
                pause = self._pause(table, path)
                if pause.days in [earlier.days for earlier in pauses]:
                    self.refuse((*path, "first_day"), "this pause is given twice")
                pauses.append(pause)
        return PlanFile(patient, tuple(versions), tuple(pauses)) if patient else None

    def _tables(self, table: Table, path: Path) -> Iterator[tuple[Path, Table]]:
        """Give the tables of a list with their paths, as far as it is one."""
        value = table.get(str(path[-1]))
        for n, inner in enumerate(value if isinstance(value, list) else []):
            if isinstance(inner, dict):
                yield (*path, n), inner

    def _text(self, table: Table, name: str, path: Path, *, blank: bool = True) -> str:
        text = str(table.get(name) or "").strip()
        if not blank and not text:
            self.refuse((*path, name), "must not be blank")
        return text

    def _day(self, table: Table, name: str, path: Path, earliest: date, latest: date) -> date:
        day = date.fromisoformat(table[name])
        if not earliest <= day <= latest:
            self.refuse(
                (*path, name), f"{day} can't be right: it is not from {earliest} to {latest}"
            )
        return day

    def _patient(self, table: Table) -> PatientPart:
        path: Path = ("patient",)
        zone = self._text(table, "time_zone", path)
        if zone and zone not in available_timezones():
            hint = _hint(zone, available_timezones())
            self.refuse((*path, "time_zone"), f'"{zone}" is not a time zone{hint}')
        mass = table.get("body_mass_kg")
        return PatientPart(
            clinic_number=self._text(table, "clinic_number", path, blank=False),
            name=self._text(table, "name", path, blank=False),
            birth_date=self._day(table, "birth_date", path, EARLIEST_BIRTH, self.today),
            affected_side=table["affected_side"],
            sex=table.get("sex", "unknown"),
            stature_cm=table.get("stature_cm"),
            body_mass_kg=None if mass is None else Decimal(mass),
            dominant_side=table.get("dominant_side") or "",
            language=table.get("language", "en"),
            text_size=table.get("text_size", "normal"),
            time_zone=zone,
            care_team=tuple(sorted(table.get("care_team", []))),
        )

    def _version(self, table: Table, path: Path, affected_side: str) -> VersionPart | None:
        number = table.get("number")
        here = self.issued.get(number) if isinstance(number, int) else None
        usual = here or self.usual
        lines: list[LinePart] = []
        for line_path, line_table in self._tables(table, (*path, "lines")):
            if self.in_shape(line_path):
                line = self._line(line_table, line_path, usual, affected_side, lines)
                if line is not None:
                    lines.append(line)
        if not self.in_shape(path):
            return None
        return VersionPart(
            number=table["number"],
            effective_day=self._plan_day(table, "effective_day", path),
            pain_limit=table.get("pain_limit", usual.pain_limit),
            change_sentence=self._text(table, "change_sentence", path),
            lines=tuple(lines),
        )

    def _plan_day(self, table: Table, name: str, path: Path) -> date:
        return self._day(table, name, path, EARLIEST_PLAN, self.today + FURTHEST_AHEAD)

    def _pause(self, table: Table, path: Path) -> PausePart:
        first_day = self._plan_day(table, "first_day", path)
        last_day = None if table["last_day"] is None else date.fromisoformat(table["last_day"])
        if last_day is not None and last_day < first_day:
            self.refuse((*path, "last_day"), f"{last_day} is before the first day, {first_day}")
        return PausePart(first_day, last_day, self._text(table, "reason", path))

    def _line(
        self, table: Table, path: Path, usual: Usual, affected_side: str, before: list[LinePart]
    ) -> LinePart | None:
        """Return a line; None where its exercise is unknown, so that no dose can be read."""
        exercise = usual.exercises.get(self._text(table, "exercise", path))
        if exercise is None:
            hint = _hint(table["exercise"], usual.exercises)
            self.refuse((*path, "exercise"), f'"{table["exercise"]}" is not in the catalogue{hint}')
            return None
        step = self._step(table, path, exercise)
        side = self._side(table, path, exercise, affected_side)
        unit = self._unit(table, path, exercise)
        low, high = self._amounts(table, path, exercise, unit)
        for name in ("hold_s", "pace_s"):
            if unit != "repetitions" and table.get(name):
                self.refuse((*path, name), f"belongs to repetitions, and this line counts {unit}")
        counted = exercise.dose if unit == "repetitions" else None
        load_g = int(Decimal(table.get("load_kg", 0)) * 1000)
        means = self._load_means(table, path, exercise, step)
        if load_g and not means:
            self.refuse((*path, "load_kg"), "needs load_means, which says what gives the load")
        line = LinePart(
            key=self._text(table, "key", path) or _usual_key(exercise.key, side, before),
            exercise=exercise.key,
            step=step,
            side=side,
            unit=unit,
            sets=table.get("sets", exercise.dose.sets),
            amount_low=low,
            amount_high=high,
            hold_s=table.get("hold_s", counted.hold_s if counted else 0),
            pace_s=Decimal(table.get("pace_s", counted.pace_s if counted else 0)),
            rest_s=table.get("rest_s", exercise.dose.rest_s),
            load_g=load_g,
            load_means=means,
            sessions_per_day=table.get("sessions_per_day", exercise.dose.sessions_per_day),
            weekdays=_weekdays(table.get("days", EVERY_DAY)),
            note_patient=self._text(table, "note_patient", path),
            note_staff=self._text(table, "note_staff", path),
            orthosis=table.get("orthosis", ""),
            stop_motion=table["stop"]["motion"] if "stop" in table else "",
            stop_deg=table["stop"]["degrees"] if "stop" in table else None,
            easier_allowed=self._easier(table, path, exercise, step),
            more_if_easy=self._more(table, path, unit),
        )
        self._check_key(line, path, before)
        return line

    def _step(self, table: Table, path: Path, exercise: Exercise) -> str:
        ladder = [step.effort.key for step in exercise.steps]
        if table.get("step") is None:
            if exercise.kind is Kind.ACTIVITY and "step" in table:
                return ""
            if len(ladder) == 1:
                return ladder[0]
            self.problems.append(
                Problem(path, f"step: is missing; {exercise.key} has {', '.join(ladder)}")
            )
        elif table["step"] not in ladder:
            self.refuse((*path, "step"), f"{exercise.key} has only {', '.join(ladder)}")
        return str(table.get("step") or "")

    def _easier(self, table: Table, path: Path, exercise: Exercise, step: str) -> bool:
        is_allowed = bool(table.get("easier_allowed", False))
        if is_allowed and exercise.below(step) is None:
            self.refuse((*path, "easier_allowed"), f"{exercise.key} has no step below this one")
        return is_allowed

    def _more(self, table: Table, path: Path, unit: str) -> bool:
        is_invited = bool(table.get("more_if_easy", False))
        if is_invited and unit != "repetitions":
            self.refuse((*path, "more_if_easy"), f"only repetitions can be two more, not {unit}")
        return is_invited

    def _side(self, table: Table, path: Path, exercise: Exercise, affected_side: str) -> str:
        if exercise.sided:
            return str(table.get("side", affected_side))
        if table.get("side", "both") != "both":
            self.refuse((*path, "side"), f"{exercise.key} is for both hands together: say both")
        return "both"

    def _unit(self, table: Table, path: Path, exercise: Exercise) -> str:
        unit = str(table.get("unit", exercise.unit.value))
        allowed = (
            ("minutes", "times") if exercise.kind is Kind.ACTIVITY else ("repetitions", "seconds")
        )
        if unit not in allowed:
            self.refuse((*path, "unit"), f"{exercise.key} is counted in {' or '.join(allowed)}")
            return exercise.unit.value  # so that the amounts are read as usual
        return unit

    def _amounts(self, table: Table, path: Path, exercise: Exercise, unit: str) -> tuple[int, int]:
        given = [table[name] for name in ("amount_low", "amount_high") if name in table]
        if not given:
            if unit != exercise.unit.value:
                self.problems.append(
                    Problem(path, f"amount_low: is missing; {exercise.key} has no usual {unit}")
                )
            return exercise.dose.amount_low, exercise.dose.amount_high
        low, high = given[0], given[-1]
        if low > high:
            self.refuse((*path, "amount_low"), f"{low} is above amount_high, {high}")
        return low, high

    def _load_means(self, table: Table, path: Path, exercise: Exercise, step: str) -> str:
        if "load_means" in table:
            return table["load_means"] or ""
        found = next((s for s in exercise.steps if s.effort.key == step), None)
        return found.load_means.value if found and found.load_means else ""

    def _check_key(self, line: LinePart, path: Path, before: list[LinePart]) -> None:
        at = (*path, "key")
        if line.key in [earlier.key for earlier in before]:
            self.refuse(at, f'"{line.key}" is given twice in this version')
        elif self.keys.setdefault(line.key, line.what_it_is) != line.what_it_is:
            self.refuse(
                at,
                f'"{line.key}" is another exercise, side or unit in another version; '
                "give this line a key of its own",
            )


def _usual_key(exercise: str, side: str, before: list[LinePart]) -> str:
    """Return the key of a line that names none: exercise and side, numbered from the second on."""
    base, taken = f"{exercise}-{side}", [line.key for line in before]
    numbered = (f"{base}-{number}" for number in range(2, len(before) + 3))
    return next(key for key in (base, *numbered) if key not in taken)


def _weekdays(days: str | list[str]) -> frozenset[int]:
    if days == EVERY_DAY:
        return frozenset(range(len(WEEKDAYS)))
    return frozenset(WEEKDAYS.index(day) for day in days)
