"""Figures of a movement: a still picture for page and paper, and a moving one for the phone. Pure.

A still shows where the movement ends, a pale copy of where it starts, an arrow from one to the
other, and a ring on each joint that works. The weak arm is the one dark thing; another hand is
pale blue. Every figure is computed for the right arm and mirrored for the left.

A moving figure is a still background and, as JSON, the circles of each frame; ``figure_player.js``
draws the same outlines from them that ``plans.hulls`` does here.
"""

import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from patients.motions import Side
from plans.arrows import arrow, ends, far, numerals, rings
from plans.exercise import Movement
from plans.hulls import rounded, svg_path
from plans.room import Room
from plans.scene import stage
from plans.shapes import (
    SVG_WIDTH,
    Blob,
    Box,
    Line,
    Ring,
    Scale,
    Shape,
    drawing,
    svg,
)

if TYPE_CHECKING:
    from reportlab.graphics.shapes import Drawing

Point = tuple[float, float]

FRAMES = (12, 13, 14, 15, 16, 18, 20)
"""How many parts a moving figure's repetition may be cut into; the player draws smoothly between
its frames."""


def frame_times(movement: Movement) -> list[float]:
    """Times (s) of a moving figure's frames: even, and as near as can be to every key pose."""
    whole = movement.own_pace_s
    keys = [pose.at_s / whole for pose in movement.poses] if whole else []

    def missed(parts: int) -> float:
        return max((abs(key * parts - round(key * parts)) / parts for key in keys), default=0.0)

    parts = next((parts for parts in FRAMES if missed(parts) < 0.004), None)
    parts = parts or min(FRAMES, key=missed)
    return [whole * i / parts for i in range(parts + 1)]


@dataclass(frozen=True)
class Still:
    """Shapes of one picture and the part of the plane that it shows."""

    shapes: tuple[Shape, ...]
    box: Box


def still_svg(
    movement: Movement, side: Side | str, *, title: str = "", at_s: float | None = None
) -> str:
    """A still picture as SVG; ``title`` says in words what it shows.

    With ``at_s`` (seconds of a repetition at its own pace) it shows that moment alone, in a box
    that is the same for all moments.
    """
    still = compose(movement, side, at_s=at_s)
    return svg(still.shapes, still.box, title)


def still_drawing(
    movement: Movement, side: Side | str, width_pt: float, *, at_s: float | None = None
) -> "Drawing":
    """The same picture as a reportlab drawing, ``width_pt`` points wide."""
    still = compose(movement, side, at_s=at_s)
    return drawing(still.shapes, still.box, width_pt)


def moving_svg(movement: Movement, side: Side | str, *, title: str = "") -> str:
    """A picture that ``figure_player.js`` can move; without it, the still of its first frame.

    The parts that move are paths in a group of their own; ``moving_data`` has their frames.
    """
    still, moving = _moving(movement, side)
    first = svg([*still.shapes, *moving[0]], still.box, title)
    # The moving parts are the last paths: the player finds them by counting from the end.
    return first.replace("<svg ", f'<svg data-moving="{len(moving[0])}" ', 1)


def moving_data(movement: Movement, side: Side | str) -> str:
    """Frames for the player, as JSON.

    ``hulls``: for each moving path, the radii of each of its hulls. ``frames``: for each moment
    every circle's place (across, down, across, down...). Whole numbers in the units of the
    picture. ``seconds``: the time of one repetition.
    """
    still, moving = _moving(movement, side)
    scale = Scale(still.box, SVG_WIDTH / still.box.width)
    hulls = [
        [[rounded(scale.circle(circle)[2]) for circle in hull] for hull in blob.hulls]
        for blob in moving[0]
    ]
    frames = [
        [
            number
            for blob in frame
            for hull in blob.hulls
            for circle in hull
            for number in (rounded(scale.circle(circle)[0]), rounded(scale.circle(circle)[1]))
        ]
        for frame in moving
    ]
    data = {"seconds": movement.own_pace_s, "hulls": hulls, "frames": frames}
    return json.dumps(data, separators=(",", ":"))


def moving_paths(data: str, frame: int) -> list[str]:
    """The path data of each moving part in one frame of ``moving_data``, as the player draws it."""
    sent = json.loads(data)
    numbers = iter(sent["frames"][frame])
    return [
        "".join(
            svg_path([(float(next(numbers)), float(next(numbers)), float(r)) for r in radii])
            for radii in part
        )
        for part in sent["hulls"]
    ]


def compose(movement: Movement, side: Side | str, *, at_s: float | None = None) -> Still:
    """Shapes of a still picture, and their box."""
    scene = stage(movement)
    start, end, both_ways = ends(scene)
    main, ghost = scene.limb_at(end), scene.limb_at(start)
    background = scene.still_shapes()
    # Where fingers move in turn, the first is shown, and the order of all of them in figures.
    turn = [scene.in_turn[0][1], "thumb"] if scene.in_turn else scene.moving_digits
    turn = [digit for digit in turn if digit in scene.moving_digits]
    pale, on_palm = scene.ghost_shapes(ghost, turn)
    if not far(ghost, main) or scene.goes_round:
        pale, on_palm = [], []
    whole = scene.moving_shapes(main, digits=turn, on_palm=on_palm)
    drawn = [*background, *pale, *whole]
    picture = scene.picture(drawn)
    order = numerals(scene, ghost, picture.width)
    room = Room((*drawn, *order.places))
    way = arrow(scene, start, end, both_ways, room=room, wide_m=picture.width)
    if at_s is None:
        shapes = [*drawn, *rings(scene, main), *order.strokes, *way]
        box = scene.picture([*drawn, *order.strokes, *way])
    else:
        limb = scene.limb_at(at_s)
        shapes = [*background, *scene.moving_shapes(limb, order=main), *rings(scene, limb)]
        box = scene.picture([*drawn, *scene.moving_shapes(ghost), *way, *shapes])
    return _turned(Still(tuple(shapes), box), side)


def _moving(movement: Movement, side: Side | str) -> tuple[Still, list[list[Blob]]]:
    scene = stage(movement)
    _, end, _ = ends(scene)
    order = scene.limb_at(end)
    limbs = scene.limbs_at(frame_times(movement))
    frames = [scene.moving_shapes(limb, order=order) for limb in limbs]
    background = scene.still_shapes()
    box = scene.picture([*background, *(blob for frame in frames for blob in frame)])
    still = _turned(Still(tuple(background), box), side)
    if Side(side) is Side.LEFT:
        frames = [[_flipped_blob(blob) for blob in frame] for frame in frames]
    return still, frames


# -- left and right ---------------------------------------------------------------------------


def _turned(still: Still, side: Side | str) -> Still:
    if Side(side) is not Side.LEFT:
        return still
    box = still.box
    return Still(
        tuple(_flipped(shape) for shape in still.shapes),
        Box(-box.right, box.bottom, -box.left, box.top),
    )


def _flipped_blob(blob: Blob) -> Blob:
    return replace(blob, hulls=tuple(tuple((-x, y, r) for x, y, r in h) for h in blob.hulls))


def _flipped(shape: Shape) -> Shape:
    if isinstance(shape, Blob):
        return _flipped_blob(shape)
    if isinstance(shape, Ring):
        return replace(shape, at=(-shape.at[0], shape.at[1]))
    if isinstance(shape, Line) and shape.is_written:  # carried over, and still to be read
        middle = (min(x for x, _ in shape.points) + max(x for x, _ in shape.points)) / 2
        return replace(shape, points=tuple((x - 2 * middle, y) for x, y in shape.points))
    return replace(shape, points=tuple((-x, y) for x, y in shape.points))
