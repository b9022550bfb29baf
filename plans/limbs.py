"""The arms of a figure: the weak one, the other one, a helper's hands, and what they hold. Pure."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import cast

from plans.arm import FINGERS, Chain, Floats
from plans.body import Eye
from plans.hand import hand_points
from plans.hulls import Circle
from plans.shapes import Blob
from plans.space import Ball, Frame, Vector, cross, dot, length, minus, mix, plus, unit

UPPER_ARM_M, FOREARM_M, PALM_M = 0.3162, 0.2482, 0.088


@dataclass(frozen=True)
class Limb:
    """Where one arm is, as plain points (m, world)."""

    shoulder: Vector
    elbow: Vector
    wrist: Vector
    ahead: Vector  # from wrist to knuckles
    palm: Vector  # where the palm faces
    thumb_side: Vector
    fingers: dict[str, tuple[Vector, ...]]  # knuckle to tip
    thumb: tuple[Vector, ...]  # root to tip

    @property
    def grip(self) -> Vector:
        """The middle of what the hand holds."""
        return plus(plus(self.wrist, self.ahead, 0.075), self.palm, 0.026)

    @property
    def tip(self) -> Vector:
        """The tip of the middle finger."""
        return self.fingers["middle"][-1]


_vector = cast(Callable[[Sequence[float]], Vector], tuple)  # of three: a place


def limbs_of(coordinates: Floats, arm: Chain) -> list[Limb]:
    """The arm in every pose of a chain."""
    digits = hand_points(coordinates, arm).digits
    rows = zip(
        *(
            array.tolist()
            for array in (
                arm.shoulder,
                arm.elbow,
                arm.wrist,
                arm.hand_direction,
                arm.palm_direction,
                arm.thumb_side,
                *digits.values(),
            )
        ),
        strict=True,
    )
    limbs = []
    for shoulder, elbow, wrist, ahead, palm, side, *points in rows:
        reached = [tuple(map(_vector, each)) for each in points]
        limbs.append(
            Limb(
                shoulder=_vector(shoulder),
                elbow=_vector(elbow),
                wrist=_vector(wrist),
                ahead=_vector(ahead),
                palm=_vector(palm),
                thumb_side=_vector(side),
                fingers=dict(zip(FINGERS, reached[:4], strict=True)),
                thumb=reached[4],
            )
        )
    return limbs


def mirrored(limb: Limb, frame: Frame) -> Limb:
    """The same pose of the other arm."""

    def other(point: Vector) -> Vector:
        return plus(point, frame.right, -2 * dot(point, frame.right))

    return Limb(
        shoulder=other(limb.shoulder),
        elbow=other(limb.elbow),
        wrist=other(limb.wrist),
        ahead=other(limb.ahead),
        palm=other(limb.palm),
        thumb_side=other(limb.thumb_side),
        fingers={name: tuple(map(other, points)) for name, points in limb.fingers.items()},
        thumb=tuple(map(other, limb.thumb)),
    )


def reaching(shoulder: Vector, target: Vector, elbow_way: Vector) -> tuple[Vector, Vector]:
    """Elbow and wrist of an arm whose wrist is to be at ``target``, or as near as it gets."""
    ahead = minus(target, shoulder)
    far = min(max(length(ahead), 0.12), (UPPER_ARM_M + FOREARM_M) * 0.999)
    ahead = unit(ahead)
    cosine = (UPPER_ARM_M**2 + far**2 - FOREARM_M**2) / (2 * UPPER_ARM_M * far)
    cosine = max(-1.0, min(1.0, cosine))
    sideways = unit(plus(elbow_way, ahead, -dot(elbow_way, ahead)))
    elbow = plus(
        plus(shoulder, ahead, UPPER_ARM_M * cosine),
        sideways,
        UPPER_ARM_M * math.sqrt(1 - cosine**2),
    )
    return elbow, plus(shoulder, ahead, far)


def arm_balls(limb: Limb) -> list[list[Ball]]:
    """Upper arm, forearm and a hand with its fingers together."""
    return [
        [(limb.shoulder, 0.056), (limb.elbow, 0.043)],
        [(limb.elbow, 0.042), (limb.wrist, 0.027)],
        *hand_balls(limb),
    ]


def hand_balls(limb: Limb) -> list[list[Ball]]:
    """A hand small enough that the fingers move as one: palm, fingers, thumb."""
    index, middle, little = limb.fingers["index"], limb.fingers["middle"], limb.fingers["little"]
    palm: list[Ball] = [(limb.wrist, 0.025), (index[0], 0.019), (little[0], 0.017)]
    return [
        palm,
        [(index[0], 0.016), (little[0], 0.015), (index[1], 0.014), (little[1], 0.013)],
        [(index[1], 0.014), (little[1], 0.013), (middle[2], 0.013), (little[2], 0.011)],
        [(index[2], 0.012), (middle[3], 0.012), (little[2], 0.011)],
        [(limb.wrist, 0.020), (limb.thumb[0], 0.019), (limb.thumb[1], 0.015)],
        [(limb.thumb[1], 0.015), (limb.thumb[3], 0.011)],
    ]


def sleeve_balls(limb: Limb) -> list[Ball]:
    """A short sleeve."""
    return [(limb.shoulder, 0.064), (mix(limb.shoulder, limb.elbow, 0.42), 0.058)]


def blob(
    eye: Eye, hulls: Sequence[Sequence[Ball]], tone: str, edge: str | None = "ink", **more: float
) -> Blob:
    """Hulls of balls as one silhouette."""
    return Blob(tuple(eye.hull(hull) for hull in hulls), tone, edge, **more)


def ghost(eye: Eye, hulls: Sequence[Sequence[Ball]]) -> Blob:
    """A pale copy with a thin grey line: where the movement starts."""
    return blob(eye, hulls, "ghost", "ghost_edge", edge_m=0.005)


def hold_point(limb: Limb, helps_at: str) -> tuple[Vector, Vector, float]:
    """Where another hand holds the arm, which way the limb runs there, and its thickness."""
    along = unit(minus(limb.wrist, limb.elbow))
    upper = unit(minus(limb.elbow, limb.shoulder))
    places = {
        "wrist": (plus(limb.wrist, along, -0.035), along, 0.030),
        "forearm": (mix(limb.elbow, limb.wrist, 0.55), along, 0.034),
        "elbow": (plus(limb.elbow, upper, -0.06), upper, 0.045),
        "hand": (plus(limb.wrist, limb.ahead, 0.06), limb.ahead, 0.028),
        "finger": (limb.fingers["index"][1], limb.ahead, 0.014),
    }
    return places[helps_at]


@dataclass(frozen=True)
class Grasp:
    """A hand that holds the weak arm: its palm, behind the arm, and its fingers, before it."""

    palm: tuple[Ball, ...]
    fingers: tuple[tuple[Ball, ...], ...]


def grasp(place: Vector, along: Vector, thick_m: float, wrist: Vector, eye: Eye) -> Grasp:
    """A hand that comes from ``wrist`` and closes round a limb at ``place``.

    The palm lies on the side it comes from; four fingers cross the limb on the eye's side.
    """
    towards_eye = eye.axes[2]
    over = unit(plus(towards_eye, along, -dot(towards_eye, along)))
    come = minus(wrist, place)
    come = plus(come, along, -dot(come, along))
    side = unit(plus(come, over, -dot(come, over)))
    knuckles = plus(plus(place, side, thick_m + 0.012), over, 0.012)
    ends = (plus(knuckles, along, 0.028), plus(knuckles, along, -0.028))
    fingers = []
    for index in range(4):
        step = 0.0200 * (index - 1.5)
        start = plus(knuckles, along, step)
        top = plus(plus(place, over, thick_m + 0.006), along, step)
        end = plus(plus(top, side, -thick_m * 0.62), over, -0.008)
        fingers.append(((start, 0.0120), (top, 0.0115)))
        fingers.append(((top, 0.0115), (end, 0.0105)))
    return Grasp(palm=((wrist, 0.026), (ends[0], 0.018), (ends[1], 0.018)), fingers=tuple(fingers))


@dataclass(frozen=True)
class Pinch:
    """A hand that holds a digit: hulls painted before the weak hand, and its thumb, after."""

    behind: tuple[tuple[Ball, ...], ...]
    thumb: tuple[tuple[Ball, ...], ...]


def pinch(place: Vector, along: Vector, thick_m: float, way: Vector, eye: Eye) -> Pinch:
    """A hand that holds a digit at ``place`` between its thumb and a finger.

    It comes from the side that ``way`` points to. Of all of it only the thumb's tip lies before
    the digit, so that what moves is seen.
    """
    towards_eye = eye.axes[2]
    over = unit(plus(towards_eye, along, -dot(towards_eye, along)))
    side = unit(cross(way, towards_eye))
    if dot(side, (0.0, 0.0, 1.0)) < 0:  # the finger above, the thumb below
        side = minus((0, 0, 0), side)

    def at(out_m: float, side_m: float, over_m: float) -> Vector:
        return plus(plus(plus(place, way, out_m), side, side_m), over, over_m)

    wrist = at(0.128, 0.0, 0.0)
    finger = (at(0.070, 0.014, 0.0), at(0.030, 0.021, 0.0), at(-0.002, 0.004, -thick_m - 0.006))
    thumb = (
        at(0.090, -0.020, 0.004),
        at(0.036, -0.020, 0.014),
        at(0.002, -0.002, thick_m + 0.007),
    )
    return Pinch(
        behind=(
            ((wrist, 0.024), (at(0.066, 0.016, 0.0), 0.017), (at(0.074, -0.016, 0.0), 0.018)),
            ((finger[0], 0.013), (finger[1], 0.0115)),
            ((finger[1], 0.0115), (finger[2], 0.0095)),
        ),
        thumb=(((thumb[0], 0.015), (thumb[1], 0.012)), ((thumb[1], 0.012), (thumb[2], 0.0088))),
    )


FINGER_RADII_M: dict[str, tuple[float, ...]] = {
    "index": (0.0108, 0.0096, 0.0088, 0.0076),
    "middle": (0.0112, 0.0100, 0.0090, 0.0078),
    "ring": (0.0108, 0.0096, 0.0086, 0.0075),
    "little": (0.0096, 0.0084, 0.0076, 0.0067),
}
THUMB_RADII_M = (0.0165, 0.0130, 0.0110, 0.0088)
CLOSE_EDGE_M = 0.0019


def _chain_hulls(
    eye: Eye, points: Sequence[Vector], radii: Sequence[float]
) -> list[tuple[Circle, ...]]:
    balls = list(zip(points, radii, strict=True))
    return [eye.hull(balls[i : i + 2]) for i in range(len(balls) - 1)]


def close_hand(
    eye: Eye, limb: Limb, moving: Sequence[str], *, whole: bool, faint: bool = False
) -> dict[str, Blob]:
    """A hand seen near by: palm with forearm, each finger and the thumb, by name.

    The digits of ``moving`` have the arm's tone; with ``whole`` all of it has, and more of the
    forearm is seen. ``faint`` draws a ghost.
    """

    def tone(part: str) -> str:
        return "ghost" if faint else "arm" if whole or part in moving else "skin"

    edge = "ghost_edge" if faint else "ink"
    index, little = limb.fingers["index"], limb.fingers["little"]
    along = unit(minus(limb.wrist, limb.elbow))
    back = plus(limb.wrist, along, -0.11 if whole else -0.045)
    heel = [
        plus(plus(limb.wrist, limb.ahead, 0.014), limb.thumb_side, 0.020 * side) for side in (1, -1)
    ]
    palm: list[Ball] = [
        (heel[0], 0.0165),
        (heel[1], 0.0160),
        (plus(index[0], limb.ahead, -0.004), 0.0128),
        (plus(limb.fingers["middle"][0], limb.ahead, -0.004), 0.0130),
        (plus(little[0], limb.ahead, -0.004), 0.0115),
    ]
    thick = 0.029 if whole else 0.026
    forearm: list[Ball] = [(back, thick), (plus(limb.wrist, limb.ahead, 0.004), 0.0225)]
    cuff: list[Ball] = [
        (plus(back, along, -0.025), thick + 0.009),
        (plus(back, along, 0.012), thick + 0.006),
    ]
    parts = {
        "sleeve": Blob((eye.hull(cuff),), "ghost" if faint else "shirt", edge, CLOSE_EDGE_M),
        "palm": Blob((eye.hull(palm), eye.hull(forearm)), tone("palm"), edge, CLOSE_EDGE_M),
    }
    for name, points in limb.fingers.items():
        hulls = _chain_hulls(eye, points, FINGER_RADII_M[name])
        parts[name] = Blob(tuple(hulls), tone(name), edge, CLOSE_EDGE_M)
    hulls = _chain_hulls(eye, limb.thumb, THUMB_RADII_M)
    parts["thumb"] = Blob(tuple(hulls), tone("thumb"), edge, CLOSE_EDGE_M)
    return parts


def far_first(eye: Eye, limb: Limb) -> list[str]:
    """The parts of a hand seen near by, in the order to paint them."""
    near = {
        name: sum(eye.near(point) for point in points[1:]) / 3
        for name, points in limb.fingers.items()
    }
    near["thumb"] = sum(eye.near(point) for point in limb.thumb[1:]) / 3 + 0.006
    near["palm"] = eye.near(plus(limb.wrist, limb.ahead, 0.06))
    order = sorted(near, key=near.__getitem__)
    order.insert(order.index("palm") + 1, "sleeve")
    return order
