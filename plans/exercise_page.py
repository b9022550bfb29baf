"""What pages of the catalogue and the builder's search show of an exercise."""

from collections.abc import Iterable
from dataclasses import dataclass

from patients.motions import MOTIONS, Effort
from plans import catalogue
from plans.load_curve import load_of
from plans.plan_page import ShownStep, usual_dose
from plans.segments import body_taken
from plans.step_figures import step_figure


@dataclass(frozen=True)
class ShownExercise:
    """An exercise of the catalogue, as its page and the search show it."""

    exercise: catalogue.Exercise
    effort: Effort
    drawn_for: str = ""

    @property
    def words(self) -> catalogue.Words:
        """Its words for staff."""
        return self.exercise.words("en")

    @property
    def steps(self) -> tuple[ShownStep, ...]:
        """Its ladder, from the lowest step, with pictures for the side that is asked for."""
        return tuple(
            ShownStep(
                step,
                step_figure(self.exercise, step, self.drawn_for) if self.drawn_for else None,
                load_of(self.exercise, step, body_taken(None, None)) if self.drawn_for else None,
            )
            for step in self.exercise.steps
        )

    @property
    def motions(self) -> str:
        """The motions that it works on, in words."""
        return ", ".join(MOTIONS[key].label for key in self.exercise.moves)

    @property
    def carries(self) -> str:
        """The joints that only carry, in words."""
        return ", ".join(joint.label for joint in self.exercise.loads)

    @property
    def equipment(self) -> str:
        """What has to be at hand for all its steps."""
        return ", ".join(thing.label for thing in self.exercise.equipment)

    @property
    def dose(self) -> str:
        """The usual dose in words."""
        return usual_dose(self.exercise).words


def shown_exercises(exercises: Iterable[catalogue.Exercise]) -> list[ShownExercise]:
    """Return exercises by name, each at the lowest step of its ladder."""
    return sorted(
        (ShownExercise(exercise, exercise.steps[0].effort) for exercise in exercises),
        key=lambda shown: shown.words.name,
    )
