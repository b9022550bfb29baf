"""Reads of starting sets: the clinic's own, and the shipped examples that none of them replaced."""

from collections.abc import Collection
from dataclasses import dataclass
from functools import cache

from django.conf import settings

from patients.models import Patient
from patients.motions import Side
from plans.models import ExerciseRevision, PlanVersion
from plans.queries import current_revisions, exercise_of
from plans.set_fit import Fitted, fitted
from plans.set_models import StartingSet as StartingSetRow
from plans.start_queries import Known
from plans.starting_sets import (
    SetError,
    SetLine,
    Stage,
    StartingSet,
    in_order,
    line_problems,
    read_set,
    read_sets,
)


@cache
def shipped_sets() -> tuple[tuple[StartingSet, ...], tuple[str, ...]]:
    """Return the shipped examples, and what is wrong with files left out; read once a process."""
    return read_sets(settings.BASE_DIR / "fixtures" / "sets")


@dataclass(frozen=True)
class KnownSets:
    """All sets: those in use and those retired, by stage and name, and what can't be read."""

    in_use: tuple[StartingSet, ...]
    retired: tuple[StartingSet, ...]
    problems: tuple[str, ...]

    def of(self, key: str) -> StartingSet | None:
        """Return the set of that key, in use or retired."""
        return next((one for one in (*self.in_use, *self.retired) if one.key == key), None)


def starting_sets() -> KnownSets:
    """Return every set; one of the clinic's own stands in the place of its example (one query)."""
    shipped, problems = shipped_sets()
    in_use: list[StartingSet] = []
    retired: list[StartingSet] = []
    wrong = list(problems)
    own = set()
    for row in StartingSetRow.objects.order_by("key"):
        own.add(row.key)
        try:
            (retired if row.is_retired else in_use).append(_of_row(row))
        except SetError as error:
            wrong.append(str(error))
    in_use += [one for one in shipped if one.key not in own]
    return KnownSets(in_order(in_use), in_order(retired), tuple(wrong))


def _of_row(row: StartingSetRow) -> StartingSet:
    table = {
        "name": row.name,
        "stage": row.stage,
        "purpose": row.purpose,
        "source": row.source,
        "lines": row.lines,
    }
    return read_set(table, key=row.key, where="starting set")


def edits_of(key: str) -> int:
    """Return how often the clinic has changed a set; 0 for an example as it was shipped."""
    row = StartingSetRow.objects.filter(key=key).values_list("edits", flat=True).first()
    return row or 0


def revisions_of(keys: Collection[str]) -> dict[str, ExerciseRevision]:
    """Return the exercises in use of those keys, by key (one query)."""
    return {row.exercise.key: row for row in current_revisions().filter(exercise__key__in=keys)}


def set_of_version(version: PlanVersion) -> StartingSet:
    """Return what a version, read with its lines, is as a set: no patient's words go along.

    Its steps become the highest that the set means; what is as usual is left out.
    """
    lines = []
    for line in version.lines.all():
        exercise = exercise_of(line.revision)
        if line.unit != exercise.unit:
            continue
        usual = exercise.dose
        said = {
            name: getattr(line, name)
            for name in ("sets", "amount_low", "amount_high", "hold_s", "sessions_per_day")
            if getattr(line, name) != getattr(usual, name)
        }
        step = next((s for s in exercise.steps if s.effort.key == line.step), None)
        lines.append(
            SetLine(
                exercise=exercise.key,
                most=step.effort if step else None,
                weekdays=frozenset() if len(line.weekday_set) == 7 else line.weekday_set,
                **said,
            )
        )
    return StartingSet(
        key="",
        name="",
        stage=Stage.EARLY,
        purpose="",
        source="common practice, no source",
        lines=tuple(lines),
    )


def problems_of(lines: Collection[SetLine]) -> list[str]:
    """Return what of a set's lines does not go with the catalogue (one query)."""
    exercises = {
        key: exercise_of(row) for key, row in revisions_of([ln.exercise for ln in lines]).items()
    }
    return [
        problem for line in lines for problem in line_problems(line, exercises.get(line.exercise))
    ]


@dataclass(frozen=True)
class FittedSet:
    """A set as it fits one patient: what goes in, what stays out, and what is not there."""

    put_in: tuple[tuple[Fitted, ExerciseRevision], ...]
    left_out: tuple[Fitted, ...]
    missing: tuple[str, ...]


def fit(one: StartingSet, patient: Patient, known: Known) -> FittedSet:
    """Return a set fitted to what is known of a patient (one query)."""
    revisions = revisions_of([line.exercise for line in one.lines])
    put_in: list[tuple[Fitted, ExerciseRevision]] = []
    left_out: list[Fitted] = []
    missing: list[str] = []
    for line in one.lines:
        revision = revisions.get(line.exercise)
        if revision is None:
            missing.append(line.exercise)
            continue
        exercise = exercise_of(revision)
        side = Side(patient.affected_side) if exercise.sided else Side.BOTH
        each = fitted(line, exercise, side, known.proposal(exercise, side), known.limits)
        if each.step is None:
            left_out.append(each)
        else:
            put_in.append((each, revision))
    return FittedSet(tuple(put_in), tuple(left_out), tuple(missing))
