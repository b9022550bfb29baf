"""Pictures of steps for pages, still and moving: each drawn once a process."""

from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe

from plans import catalogue
from plans.figure import moving_data, moving_svg, still_svg
from plans.stopped import Stop, line_movement


@dataclass(frozen=True)
class StepFigure:
    """A step's picture as SVG; where it is seen to move, the one to move and its frames (JSON)."""

    still: SafeString
    moving: SafeString
    frames: str


# A step's pictures follow from its table, the side, the title and the stop alone.
_drawn: dict[tuple[str, str, str, Stop | None], StepFigure] = {}


def step_figure(
    exercise: catalogue.Exercise,
    step: catalogue.Step,
    side: str,
    title: str = "",
    stop: Stop | None = None,
) -> StepFigure | None:
    """Return a step's pictures for that side, up to a stop; None where it has no poses to draw.

    ``title`` says what they show, in the reader's language; staff read the exercise and the step.
    """
    if not step.poses:
        return None
    title = title or f"{exercise.words('en').name}, {step.effort.label}"
    key = (repr((exercise.key, exercise.equipment, exercise.view, step)), side, title, stop)
    if key not in _drawn:
        movement = line_movement(exercise, step, stop)
        moves = len(step.poses) > 1  # a hold stands
        _drawn[key] = StepFigure(
            still=mark_safe(still_svg(movement, side, title=title)),  # noqa: S308 - drawn by us, its title escaped
            moving=mark_safe(moving_svg(movement, side, title=title) if moves else ""),  # noqa: S308 - the same
            frames=moving_data(movement, side) if moves else "",
        )
    return _drawn[key]
