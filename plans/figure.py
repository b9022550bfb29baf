"""Figures of a movement: a still picture for page and paper, and a moving one for the phone. Pure.

A still shows where the movement ends, a pale copy of where it starts, an arrow from one to the
other, and a ring on each joint that works. The weak arm is the one dark thing; another hand is
pale blue. Every figure is computed for the right arm and mirrored for the left.

A moving figure is a still background and, as JSON, the circles of each frame; ``figure_player.js``
draws the same outlines from them that ``plans.hulls`` does here.
"""

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from patients.motions import Joint, Side
from plans.exercise import Movement
from plans.hulls import covers, rounded, svg_path
from plans.limbs import Limb
from plans.scene import Scene, stage
from plans.shapes import (
    SVG_WIDTH,
    Blob,
    Box,
    Line,
    Ring,
    Scale,
    Shape,
    box_round,
    drawing,
    svg,
)
from plans.space import Vector, length, minus, mix, plus

if TYPE_CHECKING:
    from reportlab.graphics.shapes import Drawing

Point = tuple[float, float]

FRAMES = 13
"""Frames of a moving figure; the player draws smoothly between them."""


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


def moving_paths(movement: Movement, side: Side | str, frame: int) -> list[str]:
    """The path data of each moving part in one frame, from the circles that the player is sent."""
    data = json.loads(moving_data(movement, side))
    numbers = iter(data["frames"][frame])
    return [
        "".join(
            svg_path([(float(next(numbers)), float(next(numbers)), float(r)) for r in radii])
            for radii in part
        )
        for part in data["hulls"]
    ]


def compose(movement: Movement, side: Side | str, *, at_s: float | None = None) -> Still:
    """Shapes of a still picture, and their box."""
    scene = stage(movement)
    start, end, both_ways = _ends(scene)
    main, ghost = scene.limbs_at([end, start])
    background = scene.still_shapes()
    marks = _rings(scene, main)
    arrow = _arrow(scene, start, end, both_ways)
    if at_s is None:
        shapes = [*background]
        if _far(ghost, main) and not scene.goes_round:
            shapes += scene.ghost_shapes(ghost)
        shapes += scene.moving_shapes(main)
        shapes += [*marks, *arrow]
        box = box_round(shapes)
    else:
        limb = scene.limb_at(at_s)
        shapes = [*background, *scene.moving_shapes(limb, order=main), *_rings(scene, limb)]
        everything = [*background, *scene.moving_shapes(main), *scene.moving_shapes(ghost), *arrow]
        box = box_round([*everything, *shapes])
    return _turned(Still(tuple(shapes), box), side)


def _moving(movement: Movement, side: Side | str) -> tuple[Still, list[list[Blob]]]:
    scene = stage(movement)
    _, end, _ = _ends(scene)
    order = scene.limb_at(end)
    times = [movement.own_pace_s * i / (FRAMES - 1) for i in range(FRAMES)]
    frames = [scene.moving_shapes(limb, order=order) for limb in scene.limbs_at(times)]
    background = scene.still_shapes()
    box = box_round([*background, *(blob for frame in frames for blob in frame)])
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
    return replace(shape, points=tuple((-x, y) for x, y in shape.points))


# -- which moments, which marks ---------------------------------------------------------------


def _tracer(scene: Scene, limb: Limb) -> Vector:
    """The point whose way shows the movement: a fingertip, the thumb, or the shoulder."""
    joints = scene.moved_joints
    if not joints or joints[-1] is Joint.SHOULDER_BLADE:
        return limb.shoulder
    if joints == [Joint.FOREARM] or joints == [Joint.THUMB]:
        return limb.thumb[-1]
    if joints[0] in (Joint.FINGERS, Joint.THUMB):
        digits = [digit for digit in scene.moving_digits if digit != "thumb"]
        return limb.fingers[digits[0] if digits else "index"][-1]
    return limb.tip


def _pivot(scene: Scene, limb: Limb) -> Vector:
    """The joint that it turns about."""
    joint = scene.moved_joints[0] if scene.moved_joints else Joint.SHOULDER
    digits = [digit for digit in scene.moving_digits if digit != "thumb"]
    knuckle = limb.fingers[digits[0] if digits else "index"][0]
    return {
        Joint.SHOULDER_BLADE: limb.shoulder,
        Joint.SHOULDER: limb.shoulder,
        Joint.ELBOW: limb.elbow,
        Joint.FOREARM: limb.wrist,
        Joint.WRIST: limb.wrist,
        Joint.FINGERS: knuckle,
        Joint.THUMB: limb.thumb[0],
    }[joint]


def _far(one: Limb, other: Limb) -> bool:
    """Whether two poses differ enough for both to be seen."""
    points = [(one.wrist, other.wrist), (one.elbow, other.elbow), (one.tip, other.tip)]
    points += [(one.thumb[-1], other.thumb[-1]), (one.shoulder, other.shoulder)]
    points += [(one.fingers[f][-1], other.fingers[f][-1]) for f in one.fingers]
    return max(length(minus(a, b)) for a, b in points) > 0.012


def _ends(scene: Scene) -> tuple[float, float, bool]:
    """Times of the pose shown pale and the one shown whole, and whether it goes both ways.

    The whole one is the key pose farthest from the start. Where another one lies as far on the
    other side, the movement swings between the two, and that one is shown pale.
    """
    times = [pose.at_s for pose in scene.movement.poses]
    places = [_tracer(scene, limb) for limb in scene.limbs_at(times)]

    def apart(one: int, other: int) -> float:
        return length(minus(places[one], places[other]))

    end = max(range(len(times)), key=lambda i: apart(0, i))
    start = max(range(len(times)), key=lambda i: apart(end, i))
    both = apart(start, end) > 1.25 * apart(0, end) and apart(0, start) > 0.3 * apart(0, end)
    return (times[start] if both else 0.0), times[end], both


def _rings(scene: Scene, limb: Limb) -> list[Ring]:
    """A ring, dark on white, on each joint that works."""
    at = {
        Joint.SHOULDER_BLADE: limb.shoulder,
        Joint.SHOULDER: limb.shoulder,
        Joint.ELBOW: limb.elbow,
        Joint.FOREARM: mix(limb.elbow, limb.wrist, 0.6),
        Joint.WRIST: limb.wrist,
    }
    radius = 0.009 if scene.view.close else 0.026
    rings: list[Ring] = []
    for place in dict.fromkeys(at[joint] for joint in scene.moved_joints if joint in at):
        flat = scene.eye.flat(place)
        if scene.view.close and place in (limb.shoulder, limb.elbow):
            continue
        rings += [
            Ring(flat, radius, "paper", radius * 0.62),
            Ring(flat, radius, "ink", radius * 0.27),
        ]
    return rings


def _arrow(scene: Scene, start: float, end: float, both_ways: bool) -> list[Shape]:
    """The way from the pale pose to the whole one, beside the limb, with a head where it ends."""
    close = scene.view.close
    clear, width, least = (0.022, 0.0042, 0.035) if close else (0.085, 0.016, 0.13)
    if scene.movement.press:
        return _press(scene, width)
    times, all_limbs = scene.track
    low, high = min(start, end), max(start, end)
    chosen = [limb for at_s, limb in zip(times, all_limbs, strict=True) if low <= at_s <= high]
    loop = scene.goes_round
    path = [scene.eye.flat(_tracer(scene, limb)) for limb in (all_limbs if loop else chosen)]
    if start > end and not loop:
        path.reverse()
    if len(path) < 2 or _long(path) < 0.004:
        return []
    pivots = [scene.eye.flat(_pivot(scene, limb)) for limb in chosen]
    pivot = (
        sum(x for x, _ in pivots) / max(1, len(pivots)),
        sum(y for _, y in pivots) / max(1, len(pivots)),
    )
    path = _round(path, pivot, clear) if loop else _beside(path, pivot, clear)
    if not (loop or close):
        path = _outside(path, scene)
    path = _trimmed(path, 0.10 if not loop else 0.0, 3.6 * width)
    if _long(path) < least:
        path = _stretched(path, least)
    points = tuple(path)
    casing = Line(points, "paper", width * 2.0)
    return [casing, Line(points, "arm", width, head=True, tail=both_ways and not loop)]


def _press(scene: Scene, width: float) -> list[Shape]:
    """A short arrow that ends at the hand: which way it presses without moving."""
    limb = scene.limb_at(0.0)
    front, up, right = scene.movement.press or (0.0, 0.0, 0.0)
    way = minus(scene.frame.at(front, up, right), scene.frame.at(0, 0, 0))
    begins = scene.eye.flat(plus(limb.grip, way, -0.30))
    ends = scene.eye.flat(plus(limb.grip, way, -0.14))
    points = (begins, ends)
    return [Line(points, "paper", width * 2.0), Line(points, "arm", width, head=True)]


def _long(path: Sequence[Point]) -> float:
    return sum(math.dist(one, other) for one, other in pairwise(path))


def _round(path: list[Point], pivot: Point, clear: float) -> list[Point]:
    """Most of a way that closes, beyond the fingertips and at least large enough to be seen."""
    middle = (sum(x for x, _ in path) / len(path), sum(y for _, y in path) / len(path))
    reach = math.dist(middle, pivot) or 1.0
    out = ((middle[0] - pivot[0]) / reach * clear, (middle[1] - pivot[1]) / reach * clear)
    return [(x + out[0], y + out[1]) for x, y in path[: round(len(path) * 0.88)]]


def _beside(path: list[Point], pivot: Point, clear: float) -> list[Point]:
    """A way moved clear of the limb: outwards from the pivot, or all of it to one side."""
    reaches = [math.dist(point, pivot) for point in path]
    if min(reaches) > 0.6 * max(reaches):
        return [
            (
                x + (x - pivot[0]) / reach * clear,
                y + (y - pivot[1]) / reach * clear,
            )
            for (x, y), reach in zip(path, reaches, strict=True)
        ]
    (x0, y0), (x1, y1) = path[0], path[-1]
    size = math.dist(path[0], path[-1]) or 1.0
    across = (-(y1 - y0) / size, (x1 - x0) / size)
    # To the upper side; where the way is upright, to the side away from the pivot.
    if abs(across[1]) > 0.3:
        sign = 1.0 if across[1] > 0 else -1.0
    else:
        middle = ((x0 + x1) / 2 - pivot[0]) * across[0] + ((y0 + y1) / 2 - pivot[1]) * across[1]
        sign = 1.0 if middle >= 0 else -1.0
    return [(x + across[0] * sign * clear, y + across[1] * sign * clear) for x, y in path]


def _outside(path: list[Point], scene: Scene) -> list[Point]:
    """The last stretch of a way that is clear of the person, if it is most of it."""
    hulls = [
        hull
        for layer in scene.person_layers
        for shape in layer.shapes
        if isinstance(shape, Blob)
        for hull in shape.hulls
    ]
    begins = 0
    for index, point in enumerate(path):
        if any(covers(hull, point) for hull in hulls):
            begins = index + 1
    rest = path[begins:]
    return rest if len(rest) > 2 and _long(rest) > 0.45 * _long(path) else path


def _trimmed(path: list[Point], share: float, off_end: float) -> list[Point]:
    """A way without its beginning (a share of it) and with room for the arrow's head."""
    whole = _long(path)
    return _part(path, whole * share, max(whole - off_end, whole * 0.55))


def _part(path: list[Point], begins: float, ends: float) -> list[Point]:
    gone, result = 0.0, []
    for one, other in pairwise(path):
        step = math.dist(one, other)
        for mark in (begins, ends):
            if gone <= mark < gone + step:
                share = (mark - gone) / step
                result.append(
                    (one[0] + (other[0] - one[0]) * share, one[1] + (other[1] - one[1]) * share)
                )
        gone += step
        if begins < gone < ends:
            result.append(other)
    return result if len(result) > 1 else [path[0], path[-1]]


def _stretched(path: list[Point], least: float) -> list[Point]:
    """A short way drawn longer about its middle, so that it can be seen."""
    middle = ((path[0][0] + path[-1][0]) / 2, (path[0][1] + path[-1][1]) / 2)
    times = least / max(_long(path), 1e-6)
    return [
        (middle[0] + (x - middle[0]) * times, middle[1] + (y - middle[1]) * times) for x, y in path
    ]
