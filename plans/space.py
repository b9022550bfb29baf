"""Points and directions in space, and the camera that flattens them. Pure.

World: metres, x and y level, z up, origin midway between the hips.
"""

import math
from dataclasses import dataclass

Vector = tuple[float, float, float]
Ball = tuple[Vector, float]
"""A point and a radius (m)."""


def plus(point: Vector, direction: Vector, times: float = 1.0) -> Vector:
    """A point moved along a direction."""
    return (
        point[0] + times * direction[0],
        point[1] + times * direction[1],
        point[2] + times * direction[2],
    )


def minus(one: Vector, other: Vector) -> Vector:
    """From ``other`` to ``one``."""
    return (one[0] - other[0], one[1] - other[1], one[2] - other[2])


def mix(one: Vector, other: Vector, share: float) -> Vector:
    """The point that lies ``share`` of the way from one to the other."""
    return plus(one, minus(other, one), share)


def dot(one: Vector, other: Vector) -> float:
    """Inner product."""
    return one[0] * other[0] + one[1] * other[1] + one[2] * other[2]


def cross(one: Vector, other: Vector) -> Vector:
    """Outer product."""
    return (
        one[1] * other[2] - one[2] * other[1],
        one[2] * other[0] - one[0] * other[2],
        one[0] * other[1] - one[1] * other[0],
    )


def length(direction: Vector) -> float:
    """Length (m)."""
    return math.sqrt(dot(direction, direction))


def unit(direction: Vector) -> Vector:
    """The same direction, one metre long; nothing has the direction up."""
    size = length(direction)
    if size < 1e-9:
        return (0.0, 0.0, 1.0)
    return (direction[0] / size, direction[1] / size, direction[2] / size)


@dataclass(frozen=True)
class Camera:
    """A look from far away, so that nothing grows with nearness.

    ``yaw_deg`` 0 looks at the right side of somebody who sits facing the picture's right; 90 looks
    into the face. ``pitch_deg`` raises the eye: 90 looks straight down.
    """

    yaw_deg: float
    pitch_deg: float

    def axes(self) -> tuple[Vector, Vector, Vector]:
        """Unit vectors across the picture, up it, and towards the eye."""
        yaw, pitch = math.radians(self.yaw_deg), math.radians(self.pitch_deg)
        across = (math.cos(yaw), math.sin(yaw), 0.0)
        ahead = (-math.sin(yaw), math.cos(yaw), 0.0)
        up = (ahead[0] * math.sin(pitch), ahead[1] * math.sin(pitch), math.cos(pitch))
        return across, up, cross(across, up)


@dataclass(frozen=True)
class Frame:
    """The trunk's directions in the world: where things on a body are told from."""

    front: Vector
    up: Vector
    right: Vector

    def at(self, front: float, up: float, right: float) -> Vector:
        """The point so far to the front, head and right of the hips' middle (m)."""
        start = plus((0.0, 0.0, 0.0), self.front, front)
        return plus(plus(start, self.up, up), self.right, right)
