"""Where a picture has room for an arrow: clear of the arm, the helper and the person. Pure.

Lengths are metres across the picture.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from plans.arm import Floats
from plans.shapes import Blob, Shape

Point = tuple[float, float]

WEIGHTS: dict[str, float] = {
    "arm": 10.0,
    "help": 8.0,
    "thing": 8.0,
    "ghost": 5.0,
    "sleeve": 6.0,
    "hair": 6.0,
    "shirt": 5.0,
    "skin": 4.0,
    "cloth": 2.0,
    "trousers": 0.7,
    "shoe": 0.7,
}
"""How ill an arrow is placed on each tone; on furniture it does no harm."""

_WAYS = np.array([(math.cos(i * math.pi / 6), math.sin(i * math.pi / 6)) for i in range(12)])


@dataclass(frozen=True)
class Room:
    """What a picture shows already, to be kept clear of."""

    shapes: tuple[Shape, ...]

    @cached_property
    def _blobs(self) -> list[Blob]:
        return [s for s in self.shapes if isinstance(s, Blob) and s.tone in WEIGHTS]

    @cached_property
    def _reaches(self) -> tuple[Floats, Floats]:
        """How far each hull reaches in twelve directions, and the weight of its tone."""
        hulls = [(hull, WEIGHTS[blob.tone]) for blob in self._blobs for hull in blob.hulls]
        circles = np.array([circle for hull, _ in hulls for circle in hull])
        starts = np.cumsum([0, *(len(hull) for hull, _ in hulls)])[:-1]
        reach = circles[:, :2] @ _WAYS.T + circles[:, 2:]
        return np.maximum.reduceat(reach, starts, axis=0), np.array([w for _, w in hulls])

    def placed(
        self, ways: Sequence[Sequence[Point]], *, need_m: float, head_m: float, step_m: float
    ) -> list[Point]:
        """The way of some, moved where need be, that lies best; an earlier one is preferred.

        It lies best with ``need_m`` of room all round, its head of that length too, moved no
        farther than it must be, up to some steps of ``step_m``.
        """
        if not self._blobs:
            return list(ways[0])
        best, placed = math.inf, list(ways[0])
        for number, way in enumerate(ways):
            (x, y), (px, py) = way[-1], way[-2]
            on = head_m / (math.dist(way[-1], way[-2]) or 1.0)
            evenly = _evenly([*way, (x + (x - px) * on, y + (y - py) * on)], 10)
            reach, weights = self._reaches
            apart = distances(evenly, reach).min(axis=0)
            for size, moves in RINGS:
                least = MOVED_COST * size + TRIMMED_COST * number
                if least >= best:
                    break
                near = apart < size * step_m + need_m  # no other hull can be in the way
                moved = evenly[None] + moves[:, None] * step_m
                costs = _costs(moved, reach[near], weights[near], need_m) + least
                at = int(costs.argmin())
                if costs[at] < best:
                    best = float(costs[at])
                    x, y = moves[at] * step_m
                    placed = [(px + x, py + y) for px, py in way]
        return placed


def distances(points: Floats, reach: Floats) -> Floats:
    """How far points (rows) are outside each hull; below 0, how deep inside."""
    along = _WAYS @ points.T
    # Directions first: the largest of each is then found a row at a time, several times faster.
    apart: Floats = (along[:, :, None] - reach.T[:, None, :]).max(axis=0)
    return apart


def _costs(paths: Floats, reach: Floats, weights: Floats, need_m: float) -> Floats:
    """How ill each path (path, point, 2) lies: nothing where it has ``need_m`` all round."""
    count, points, _ = paths.shape
    if not len(weights):
        return np.zeros(count)
    short = (need_m - distances(paths.reshape(-1, 2), reach)) / need_m
    ill = np.minimum(np.maximum(short, 0.0), 2.0) * weights
    worst = ill.max(axis=1).reshape(count, points)
    cost: Floats = worst.sum(axis=1) / points + 0.5 * worst.max(axis=1)
    return cost


MOVED_COST, TRIMMED_COST, MOST_STEPS = 0.28, 0.5, 4.3
RINGS = [(0.0, np.zeros((1, 2)))] + [
    (
        size,
        np.array([(math.cos(i * math.pi / 6), math.sin(i * math.pi / 6)) for i in range(12)])
        * size,
    )
    for size in (0.5, 1.0, 1.6, 2.3, 3.2, MOST_STEPS)
]
"""How far a way may be moved, in steps, and the moves of that length."""


def _evenly(way: Sequence[Point], count: int) -> Floats:
    points = np.array(way)
    gone = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.linspace(0.0, gone[-1], count)
    return np.column_stack([np.interp(at, gone, points[:, axis]) for axis in (0, 1)])
