"""The person of a figure without the arms, and what they lie or sit on. Pure.

Built from balls on the trunk's frame and flattened by an ``Eye``; parts come as layers with their
nearness, so that a scene is painted from far to near whatever the position and the view.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from plans.arm import LEAN_DEG, POSITIONS
from plans.hulls import Circle
from plans.shapes import Blob, Line, Poly, Shape
from plans.space import Ball, Camera, Frame, Vector, dot, minus, plus, unit

SHOULDER_UP_M, SHOULDER_OUT_M = 0.49, 0.219
THIGH_M, SHANK_M = 0.41, 0.41
SEAT_DOWN_M = 0.085
FLOOR_SITTING_M = -0.53
FLOOR_STANDING_M = -0.90


@dataclass(frozen=True)
class Eye:
    """A camera that flattens points and balls."""

    camera: Camera
    axes: tuple[Vector, Vector, Vector] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "axes", self.camera.axes())

    def flat(self, point: Vector) -> tuple[float, float]:
        """Where a point is in the picture (m across, m up)."""
        return dot(point, self.axes[0]), dot(point, self.axes[1])

    def near(self, point: Vector) -> float:
        """How near a point is to the eye (m, from any zero)."""
        return dot(point, self.axes[2])

    def faces(self, direction: Vector) -> float:
        """How much a surface with that outward direction faces the eye, -1 to 1."""
        return dot(direction, self.axes[2])

    def circle(self, ball: Ball) -> Circle:
        """A ball in the picture."""
        (point, radius) = ball
        return (*self.flat(point), radius)

    def hull(self, balls: Iterable[Ball]) -> tuple[Circle, ...]:
        """The circles of one hull."""
        return tuple(self.circle(ball) for ball in balls)


@dataclass(frozen=True)
class Layer:
    """Shapes that belong together, and how near they are."""

    near: float
    shapes: tuple[Shape, ...]


def frame_of(position: str) -> Frame:
    """The trunk's directions in a position, as plain numbers."""
    front, up, right = POSITIONS[position].T
    return Frame(
        front=(float(front[0]), float(front[1]), float(front[2])),
        up=(float(up[0]), float(up[1]), float(up[2])),
        right=(float(right[0]), float(right[1]), float(right[2])),
    )


# Bend of hip and knee, and how far the thighs part, for each leg (right, left).
LEGS_DEG: dict[str, tuple[tuple[float, float], tuple[float, float]]] = {
    "sitting": ((86, 86), (86, 86)),
    "sitting_at_table": ((86, 86), (86, 86)),
    "standing": ((2, 2), (2, 2)),
    "lying_back": ((40, 80), (44, 84)),
    "lying_side": ((48, 78), (30, 62)),
    "leaning_forward": ((LEAN_DEG + 10, 10), (LEAN_DEG - 14, 12)),
}


def _leg(frame: Frame, position: str, right: int) -> tuple[list[list[Ball]], list[list[Ball]]]:
    """Trousers and shoe of one leg (``right`` is 1, or -1 for the left)."""
    hip_deg, knee_deg = LEGS_DEG[position][0 if right > 0 else 1]
    hip, knee = math.radians(hip_deg), math.radians(knee_deg)
    root = frame.at(0.0, 0.0, 0.09 * right)
    down = unit(plus(_times(frame.up, -math.cos(hip)), frame.front, math.sin(hip)))
    back = unit(plus(_times(frame.up, -math.sin(hip)), frame.front, -math.cos(hip)))
    knee_at = plus(root, down, THIGH_M)
    shank = plus(_times(down, math.cos(knee)), back, math.sin(knee))
    ankle = plus(knee_at, shank, SHANK_M)
    toes = plus(_times(back, -math.cos(knee)), down, math.sin(knee))
    heel, tip = (
        plus(plus(ankle, shank, 0.035), toes, -0.025),
        plus(plus(ankle, shank, 0.05), toes, 0.15),
    )
    hips = [(frame.at(-0.005, 0.0, 0.085 * side), 0.096) for side in (1, -1)]
    trousers = [hips, [(root, 0.092), (knee_at, 0.060)], [(knee_at, 0.059), (ankle, 0.043)]]
    shoe = [[(heel, 0.035), (tip, 0.026)], [(ankle, 0.034), (heel, 0.034)]]
    return trousers, shoe


def _times(direction: Vector, times: float) -> Vector:
    return (direction[0] * times, direction[1] * times, direction[2] * times)


def _blob(eye: Eye, hulls: Sequence[Sequence[Ball]], tone: str, edge: str | None = "ink") -> Blob:
    return Blob(tuple(eye.hull(hull) for hull in hulls), tone, edge)


def _legs(frame: Frame, eye: Eye, position: str) -> list[Layer]:
    layers = []
    for right in (1, -1):
        trousers, shoe = _leg(frame, position, right)
        middle = trousers[1][1][0]
        near = eye.near(_times(middle, 0.6))
        layers.append(Layer(near, (_blob(eye, shoe, "shoe"), _blob(eye, trousers, "trousers"))))
    return layers


def _trunk(frame: Frame, eye: Eye) -> list[Layer]:
    chest: list[Ball] = [(frame.at(0.0, 0.425, side * 0.150), 0.066) for side in (1, -1)] + [
        (frame.at(0.012, 0.34, side * 0.085), 0.088) for side in (1, -1)
    ]
    waist: list[Ball] = [(frame.at(0.0, 0.10, side * 0.082), 0.090) for side in (1, -1)]
    neck: list[Ball] = [(frame.at(-0.01, 0.44, 0.0), 0.052), (frame.at(0.0, 0.58, 0.0), 0.047)]
    middle = eye.near(frame.at(0.0, 0.25, 0.0))
    return [
        Layer(middle - 0.03, (_blob(eye, [neck], "skin"),)),
        Layer(
            middle,
            (_blob(eye, [chest, waist + chest[2:]], "shirt"),),
        ),
    ]


HEAD_UP_M = 0.70


def _head(frame: Frame, eye: Eye) -> Layer:
    at = frame.at
    skull: Ball = (at(0.012, HEAD_UP_M, 0.0), 0.088)
    jaw: Ball = (at(0.044, HEAD_UP_M - 0.062, 0.0), 0.052)
    nose: list[Ball] = [
        (at(0.085, HEAD_UP_M - 0.002, 0.0), 0.010),
        (at(0.112, HEAD_UP_M - 0.022, 0.0), 0.011),
    ]
    behind, before = _hair(frame, eye)
    shapes: list[Shape] = [*behind]
    shapes.append(_blob(eye, [[skull, jaw], nose], "skin"))
    if eye.faces(frame.front) > 0.7:  # seen from the front the nose makes no outline of its own
        near = 1.0 if eye.faces(frame.right) >= 0 else -1.0
        bridge, tip, base = (
            eye.flat(at(*place))
            for place in (
                (0.092, HEAD_UP_M + 0.006, -0.004 * near),
                (0.116, HEAD_UP_M - 0.026, -0.010 * near),
                (0.100, HEAD_UP_M - 0.034, 0.002 * near),
            )
        )
        shapes.append(Line((bridge, tip, base), "ink", 0.006))
    shapes += before
    shapes += _features(frame, eye)
    return Layer(eye.near(at(0.0, 0.45, 0.0)) + 0.06, tuple(shapes))


def _hair(frame: Frame, eye: Eye) -> tuple[list[Blob], list[Blob]]:
    """Short hair: a cap over the crown and the back of the head, as far as each is seen."""
    centre, size, tuft = (0.006, HEAD_UP_M + 0.004), 0.071, 0.027
    crown: list[tuple[float, float, float]] = []
    back: list[tuple[float, float, float]] = []
    for tilt_deg in (0, 30, 52):
        turns = (0,) if tilt_deg == 0 else range(0, 360, 30)
        for turn_deg in turns:
            tilt, turn = math.radians(tilt_deg), math.radians(turn_deg)
            crown.append(
                (
                    math.sin(tilt) * math.cos(turn),
                    math.cos(tilt),
                    math.sin(tilt) * math.sin(turn),
                )
            )
    for up_deg in (-28, 5, 38):
        for turn_deg in (98, 125, 155, 180, 205, 235, 262):
            lift, turn = math.radians(up_deg), math.radians(turn_deg)
            back.append(
                (
                    math.cos(lift) * math.cos(turn),
                    math.sin(lift),
                    math.cos(lift) * math.sin(turn),
                )
            )

    def tufts(directions: list[tuple[float, float, float]], seen: bool) -> list[Ball]:
        balls: list[Ball] = []
        for front, up, right in directions:
            outwards = minus(frame.at(front, up, right), frame.at(0, 0, 0))
            if (eye.faces(outwards) > -0.15) == seen:
                place = frame.at(
                    centre[0] + front * size, centre[1] + up * size * 1.04, right * size
                )
                balls.append((place, tuft))
        return balls

    before = [
        _blob(eye, [balls], "hair")
        for balls in (tufts(back, True), tufts(crown, True))
        if len(balls) > 1
    ]
    hidden = tufts(back, False)
    behind = [_blob(eye, [hidden], "hair")] if len(hidden) > 1 else []
    return behind, before


def _features(frame: Frame, eye: Eye) -> list[Shape]:
    """Eyes, ears and mouth: those that the view shows."""
    at = frame.at
    shapes: list[Shape] = []
    for side in (1, -1):
        outwards = unit(minus(at(0.80, 0.0, 0.45 * side), at(0, 0, 0)))
        if eye.faces(outwards) > 0.12:
            top = at(0.086, HEAD_UP_M + 0.010, 0.034 * side)
            low = at(0.087, HEAD_UP_M - 0.002, 0.034 * side)
            shapes.append(_blob(eye, [[(top, 0.0085), (low, 0.0085)]], "ink", None))
        ear_way = minus(at(0.1, 0.0, float(side)), at(0, 0, 0))
        if eye.faces(ear_way) > 0.05:
            ear: list[Ball] = [
                (at(-0.004, HEAD_UP_M + 0.006, 0.086 * side), 0.017),
                (at(0.0, HEAD_UP_M - 0.020, 0.083 * side), 0.012),
            ]
            shapes.append(Blob((eye.hull(ear),), "skin", "ink", 0.005))
    if eye.faces(frame.front) > -0.1:
        # A smile; from the side only its near half is seen.
        near = 1.0 if eye.faces(frame.right) >= 0 else -1.0
        reach = (-1.0, 0.0, 1.0) if eye.faces(frame.front) > 0.55 else (0.35, 0.7, 1.0)
        bend = {-1.0: 0.008, 0.0: 0.0, 0.35: 0.0, 0.7: 0.001, 1.0: 0.008}
        corners = [
            eye.flat(at(0.094 - 0.014 * abs(r), HEAD_UP_M - 0.068 + bend[r], near * 0.024 * r))
            for r in reach
        ]
        shapes.append(Line(tuple(corners), "ink", 0.0075))
    return shapes


@lru_cache(maxsize=64)  # there are few views, and the same person in each
def person(frame: Frame, eye: Eye, position: str) -> tuple[Layer, ...]:
    """Legs, trunk and head."""
    return (*_legs(frame, eye, position), *_trunk(frame, eye), _head(frame, eye))


@dataclass(frozen=True)
class Block:
    """A box that stands square to the world: from its lowest to its highest corner (m)."""

    low: Vector
    high: Vector
    tone: str

    def shapes(self, eye: Eye) -> list[Shape]:
        """The faces that the eye sees: sides first, then the top."""
        (x0, y0, z0), (x1, y1, z1) = self.low, self.high
        towards = eye.axes[2]
        faces: list[tuple[Vector, ...]] = []
        x = x1 if towards[0] > 0 else x0
        y = y1 if towards[1] > 0 else y0
        if abs(towards[0]) > 1e-6:
            faces.append(((x, y0, z0), (x, y1, z0), (x, y1, z1), (x, y0, z1)))
        if abs(towards[1]) > 1e-6:
            faces.append(((x0, y, z0), (x1, y, z0), (x1, y, z1), (x0, y, z1)))
        top = ((x0, y0, z1), (x1, y0, z1), (x1, y1, z1), (x0, y1, z1))
        result: list[Shape] = [
            Poly(tuple(eye.flat(corner) for corner in face), f"{self.tone}_front") for face in faces
        ]
        if towards[2] > 0.01:
            result.append(Poly(tuple(eye.flat(corner) for corner in top), self.tone))
        return result


def _rod(eye: Eye, one: Vector, other: Vector, radius: float, tone: str) -> Blob:
    return _blob(eye, [[(one, radius), (other, radius)]], tone)


def bed(eye: Eye, top_m: float, head_x: float, edge: float) -> list[Shape]:
    """A bed with its pillow, under somebody whose head is at ``head_x`` (m).

    ``edge`` is how far it reaches towards the eye: wide enough for an arm that slides on it.
    """
    towards_feet = 1.0 if head_x < 0 else -1.0
    ends = sorted((head_x - 0.24 * towards_feet, head_x + 1.50 * towards_feet))
    feet = [
        (x, y, top_m - 0.32) for x in (ends[0] + 0.06, ends[1] - 0.06) for y in (0.36, edge + 0.05)
    ]
    shapes: list[Shape] = [
        _rod(eye, plus(foot, (0, 0, 1), 0.14), foot, 0.022, "wood_front") for foot in feet
    ]
    shapes += Block((ends[0], edge, top_m - 0.17), (ends[1], 0.41, top_m), "bed").shapes(eye)
    head_height = max(0.03, -top_m - 0.105)
    corners: list[Ball] = [
        ((head_x + 0.11 * a, 0.21 * b, top_m + head_height * c + 0.028), 0.032)
        for a in (1, -1)
        for b in (1, -1)
        for c in (0, 1)
    ]
    shapes.append(_blob(eye, [corners], "cloth"))
    return shapes


def chair(eye: Eye) -> list[Shape]:
    """A plain chair with a back, under somebody who sits at the origin."""
    top = -SEAT_DOWN_M
    feet = [(x, y) for x in (-0.20, 0.22) for y in (0.20, -0.20)]
    legs = [_rod(eye, (x, y, top - 0.03), (x, y, FLOOR_SITTING_M), 0.017, "wood") for x, y in feet]
    posts = [_rod(eye, (-0.22, y, top), (-0.26, y, 0.44), 0.017, "wood") for y in (0.20, -0.20)]
    rest: list[Ball] = [
        ((-0.235 - 0.02 * i, y, 0.20 + 0.20 * i), 0.022) for i in (0, 1) for y in (0.20, -0.20)
    ]
    far_first = sorted(legs, key=lambda leg: leg.hulls[0][0][1], reverse=True)
    seat = Block((-0.24, -0.22, top - 0.035), (0.25, 0.22, top), "wood").shapes(eye)
    return [*far_first, *posts, _blob(eye, [rest], "wood"), *seat]


def chair_back(eye: Eye, top: Vector) -> list[Shape]:
    """A chair seen from behind by somebody who stands and holds its back at ``top``."""
    x, y, z = top
    down = FLOOR_STANDING_M
    posts = [
        _rod(eye, (x, y + side * 0.20, z - 0.02), (x - 0.02, y + side * 0.20, down), 0.018, "wood")
        for side in (1, -1)
    ]
    front = [
        _rod(
            eye,
            (x + 0.42, y + side * 0.20, down + 0.42),
            (x + 0.42, y + side * 0.20, down),
            0.017,
            "wood",
        )
        for side in (1, -1)
    ]
    seat = Block((x, y - 0.22, down + 0.42), (x + 0.45, y + 0.22, down + 0.455), "wood").shapes(eye)
    rest: list[Ball] = [
        ((x, y + side * 0.20, z - 0.03 - 0.18 * i), 0.022) for i in (0, 1) for side in (1, -1)
    ]
    return [*front, *seat, *posts, _blob(eye, [rest], "wood")]


def table(eye: Eye, low: Vector, high: Vector, floor_m: float) -> list[Shape]:
    """A table whose top reaches from ``low`` to ``high`` (its upper side at ``high``'s height)."""
    corners = [
        (x, y) for x in (low[0] + 0.05, high[0] - 0.05) for y in (low[1] + 0.05, high[1] - 0.05)
    ]
    legs = [_rod(eye, (x, y, high[2] - 0.03), (x, y, floor_m), 0.017, "wood") for x, y in corners]
    legs.sort(key=lambda leg: leg.hulls[0][0][1], reverse=True)
    top = Block((low[0], low[1], high[2] - 0.035), high, "wood").shapes(eye)
    return [*legs, *top]


def wall(eye: Eye, x: float, floor_m: float) -> list[Shape]:
    """A strip of wall square to the front, with its skirting."""
    top = 1.0
    face = [(x, -0.55, floor_m), (x, 0.55, floor_m), (x, 0.55, top), (x, -0.55, top)]
    edge = [
        (x, -0.55, floor_m),
        (x, 0.55, floor_m),
        (x, 0.55, floor_m + 0.08),
        (x, -0.55, floor_m + 0.08),
    ]
    return [
        Poly(tuple(eye.flat(corner) for corner in face), "bed"),
        Poly(tuple(eye.flat(corner) for corner in edge), "bed_front"),
    ]
