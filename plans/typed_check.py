"""What is wrong with an exercise as typed, field by field, and where two exercises differ. Pure."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from plans.catalogue import CatalogueError, Exercise, Kind, neighbour_problems, read_exercise
from plans.exercise import MovementError
from plans.typed import TypedExercise, TypedStep, from_table

SCREEN = "exercise"


@dataclass(frozen=True)
class Checked:
    """An exercise as read from the screen, or all that is wrong, by field where one has it."""

    exercise: Exercise | None
    problems: tuple[str, ...] = ()
    by_field: Mapping[str, str] = field(default_factory=dict)


def checked(text: TypedExercise, others: Sequence[Exercise] = ()) -> Checked:
    """Read what was typed: words, dose, every step's movement and the neighbours.

    ``others`` are the exercises in use besides this one.
    """
    problems: list[str] = []
    by_field: dict[str, str] = {}
    exercise = None
    try:
        exercise = read_exercise(text.table(), where=SCREEN)
    except CatalogueError as error:
        for each in error.problems:
            problems.append(str(each).removeprefix(f"{SCREEN}: "))
            by_field.setdefault(_path(each.field), each.message)
    if text.said.get("kind") == Kind.POSES:
        for step in text.steps:
            try:
                text.movement(step)
            except MovementError as error:
                problems += error.problems
    if exercise and not problems:
        own = exercise.words("en").name.casefold()
        for other in others:
            if other.words("en").name.casefold() == own:
                problems.append(f"{exercise.key}: words.en.name: {other.key} has this name too")
                by_field["words.en.name"] = "another exercise has this name"
        for each in neighbour_problems([*others, exercise]):
            # Others may name what was retired; a circle can only come through this one.
            if each.subject == exercise.key or each.field == "easier, harder":
                problems.append(str(each))
                by_field.setdefault(each.field.partition(",")[0], each.message)
    return Checked(None if problems else exercise, tuple(problems), by_field)


def _path(named: str) -> str:
    """The field on the screen of a field in a table: steps[1].words.en.do[2] is steps.0.do.en."""
    step = re.match(r"steps\[(\d+)\]\.", named)
    start = f"steps.{int(step[1]) - 1}." if step else ""
    rest = re.sub(r"\[\d+\]", "", named[step.end() :] if step else named)
    return start + re.sub(r"^words\.(\w+)\.do$", r"do.\1", rest)


@dataclass(frozen=True)
class Difference:
    """One thing that two exercises say differently: what, and each one's text."""

    what: str
    ours: str
    theirs: str


def differences(ours: Exercise, theirs: Exercise) -> tuple[Difference, ...]:
    """Every field in which two exercises differ; a step or pose that only one has, as a whole."""
    own, other = from_table(ours.as_table()), from_table(theirs.as_table())
    found = _differing("", own.said, other.said)
    own_steps = {step.effort: step for step in own.steps}
    other_steps = {step.effort: step for step in other.steps}
    for effort in sorted(own_steps.keys() | other_steps.keys(), key=lambda each: each or 0):
        label = effort.label if effort is not None else "step"
        one, two = own_steps.get(effort), other_steps.get(effort)
        if one is None or two is None:
            there = ("there", "–") if one else ("–", "there")
            found.append(Difference(f"{label}, the whole step", *there))
        else:
            found += _step_differences(label, one, two)
    return tuple(found)


def _step_differences(label: str, one: TypedStep, two: TypedStep) -> list[Difference]:
    found = _differing(f"{label}, ", one.said, two.said)
    found += _differing(f"{label}, first pose, ", one.settings, two.settings)
    for number in range(max(len(one.poses), len(two.poses))):
        mine = one.poses[number] if number < len(one.poses) else {}
        yours = two.poses[number] if number < len(two.poses) else {}
        found += _differing(f"{label}, pose {number + 1}, ", mine, yours)
    return found


def _differing(start: str, ours: Mapping[str, str], theirs: Mapping[str, str]) -> list[Difference]:
    names = dict.fromkeys([*ours, *theirs])
    return [
        Difference(start + _spoken(name), ours.get(name) or "–", theirs.get(name) or "–")
        for name in names
        if (ours.get(name) or "") != (theirs.get(name) or "")
    ]


def _spoken(name: str) -> str:
    return name.replace("words.", "words, ").replace(".", ", ").replace("_", " ")
