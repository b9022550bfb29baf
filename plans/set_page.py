"""What pages say of starting sets: their exercises in words, and how one fits a patient."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from patients.motions import Joint
from plans.catalogue import Exercise
from plans.dose import weekday_words
from plans.set_fit import Fitted
from plans.set_queries import FittedSet
from plans.starting_sets import SetLine, StartingSet


@dataclass(frozen=True)
class ShownSetLine:
    """A line in words; without a ``name`` its exercise is no longer in the catalogue."""

    line: SetLine
    name: str

    @property
    def words(self) -> str:
        """What differs from the usual dose, and the highest step that is meant."""
        said = self.line.dose
        low, high = said.get("amount_low"), said.get("amount_high")
        ends = "–".join(map(str, dict.fromkeys(end for end in (low, high) if end)))
        parts = (
            f"no higher than {self.line.most.label}" if self.line.most else "",
            f"{said['sets']} set{'s' if said['sets'] > 1 else ''}" if "sets" in said else "",
            f"of {ends}" if ends else "",
            f"hold {said['hold_s']} s" if said.get("hold_s") else "",
            f"{said['sessions_per_day']} a day" if "sessions_per_day" in said else "",
            weekday_words(self.line.weekdays) if self.line.weekdays else "",
        )
        return ", ".join(part for part in parts if part)


@dataclass(frozen=True)
class ShownSet:
    """A set with its lines in words."""

    one: StartingSet
    lines: tuple[ShownSetLine, ...]


def shown_sets(sets: Iterable[StartingSet], exercises: Iterable[Exercise]) -> list[ShownSet]:
    """Return sets in words."""
    names = {exercise.key: exercise.words("en").name for exercise in exercises}
    return [
        ShownSet(one, tuple(ShownSetLine(ln, names.get(ln.exercise, "")) for ln in one.lines))
        for one in sets
    ]


def fitted_words(fits: FittedSet) -> dict[str, Sequence[object]]:
    """Return how a set fitted, as JSON can hold it.

    Name, step and reason; name and why not; what is not graded, by name and by joint.
    """
    return {
        "put_in": [
            (_name(each), each.step.effort.label if each.step else "", _why(each))
            for each, _ in fits.put_in
        ],
        "ungraded": [
            _name(each) for each, _ in fits.put_in if each.ungraded and each.exercise.moves
        ],
        "ungraded_joints": [joint.value for joint in _ungraded(fits)],
        "left_out": [
            *((_name(each), each.reason) for each in fits.left_out),
            *((key, "It is not in the catalogue any more.") for key in fits.missing),
        ],
    }


def _ungraded(fits: FittedSet) -> list[Joint]:
    """The joints of which an assessment would tell more, from the trunk outwards."""
    there = (*(each for each, _ in fits.put_in), *fits.left_out)
    return sorted({joint for each in there for joint in each.ungraded}, key=list(Joint).index)


def _name(each: Fitted) -> str:
    return each.exercise.words("en").name


def _why(each: Fitted) -> str:
    return " ".join((each.reason, *each.notes))
