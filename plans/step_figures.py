"""Pictures of steps for pages, still and moving: each drawn once a process."""

from dataclasses import dataclass

from django.utils.safestring import mark_safe

from plans import catalogue
from plans.exercise import movement_of
from plans.figure import moving_data, moving_svg, still_svg


@dataclass(frozen=True)
class MovingFigure:
    """A picture that the player moves, and its frames as JSON."""

    svg: str
    data: str


# Drawn once a process: a step's picture follows from its table and the side alone.
_drawn: dict[tuple[str, str], str] = {}


def step_figure(exercise: catalogue.Exercise, step: catalogue.Step, side: str) -> str:
    """Return a step's picture as SVG for that side; empty where it has no poses to draw."""
    if not step.poses:
        return ""
    key = (repr((exercise.key, exercise.equipment, exercise.view, step)), side)
    if key not in _drawn:
        title = f"{exercise.words('en').name}, {step.effort.label}"
        drawn = still_svg(movement_of(exercise, step), side, title=title)
        _drawn[key] = mark_safe(drawn)  # noqa: S308 - drawn by us, its title escaped
    return _drawn[key]


_moving: dict[tuple[str, str], MovingFigure] = {}


def moving_figure(
    exercise: catalogue.Exercise, step: catalogue.Step, side: str
) -> MovingFigure | None:
    """Return a step's moving picture for that side; None where nothing is seen to move."""
    if len(step.poses) < 2:  # an activity, or a hold
        return None
    key = (repr((exercise.key, exercise.equipment, exercise.view, step)), side)
    if key not in _moving:
        movement = movement_of(exercise, step)
        title = f"{exercise.words('en').name}, {step.effort.label}, moving"
        _moving[key] = MovingFigure(
            mark_safe(moving_svg(movement, side, title=title)),  # noqa: S308 - drawn by us, title escaped
            mark_safe(moving_data(movement, side)),  # noqa: S308 - numbers only
        )
    return _moving[key]
