"""Outlines of round bodies: the hull of circles, exact, as arcs. Pure.

Every part of a figure is the outline round two or more circles (a thigh, a palm). The player
script draws the same outlines on the phone, so ``outline`` and ``svg_path`` have a twin there and
a test that holds the two together.
"""

import math
from collections.abc import Sequence

Circle = tuple[float, float, float]
"""Across, down and radius."""

Arc = tuple[int, float, float]
"""Which circle, and the angles at which its part of the outline begins and ends."""

FULL = 2 * math.pi


def outline(circles: Sequence[Circle]) -> list[Arc]:
    """The arcs of the hull of some circles, in the order of rising angle, once round.

    Between two arcs the outline is straight. Seen from a direction, the hull is as wide as the
    circle that reaches farthest that way; walking the directions, the next circle is the one that
    first overtakes.

    >>> [(i, round(a, 2), round(b, 2)) for i, a, b in outline([(0, 0, 1), (4, 0, 1)])]
    [(0, 1.57, 4.71), (1, 4.71, 7.85)]
    """
    here = max(range(len(circles)), key=lambda i: circles[i][0] + circles[i][2])
    if len(circles) == 2:
        return _round_two(circles, here)
    begins = angle = 0.0
    arcs: list[Arc] = []
    for _ in range(4 * len(circles)):
        x, y, radius = circles[here]
        nearest, following = FULL, -1
        for other, (ox, oy, oradius) in enumerate(circles):
            apart = math.hypot(ox - x, oy - y)
            if other == here or apart <= abs(radius - oradius) + 1e-9:
                continue
            overtakes = math.atan2(oy - y, ox - x) - math.acos((radius - oradius) / apart)
            wait = (overtakes - angle) % FULL
            if wait > FULL - 1e-9:
                wait = 0.0
            if wait < nearest:
                nearest, following = wait, other
        angle += nearest
        if following < 0 or angle >= FULL:
            break
        arcs.append((here, begins, angle))
        here, begins = following, angle
    # The walk began in the middle of an arc: its end is the last arc's.
    if not arcs:
        return [(here, 0.0, FULL)]
    first, _, first_end = arcs.pop(0)
    if here == first:
        return [*arcs, (here, begins, first_end + FULL)] if begins else [(here, 0.0, FULL)]
    return [*arcs, (here, begins, FULL), (first, 0.0, first_end)]


def _round_two(circles: Sequence[Circle], here: int) -> list[Arc]:
    """The same for two, as most limbs are: the walk leaves one circle once and returns once."""
    x, y, radius = circles[here]
    other = 1 - here
    ox, oy, oradius = circles[other]
    apart = math.hypot(ox - x, oy - y)
    if apart <= abs(radius - oradius) + 1e-9:
        return [(here, 0.0, FULL)]
    along, half = math.atan2(oy - y, ox - x), math.acos((radius - oradius) / apart)
    leaves, returns = (along - half) % FULL, (along + half) % FULL
    if leaves > FULL - 1e-9:
        leaves = 0.0
    if returns < leaves:
        returns = FULL
    return [(other, leaves, returns), (here, returns, leaves + FULL)]


def covers(circles: Sequence[Circle], point: tuple[float, float]) -> bool:
    """Whether a point lies within the hull, near enough: looked at from twenty sides.

    >>> covers([(0, 0, 1), (4, 0, 1)], (2, 0.9)), covers([(0, 0, 1), (4, 0, 1)], (2, 1.1))
    (True, False)
    """
    return all(
        max((x - point[0]) * cos + (y - point[1]) * sin + radius for x, y, radius in circles) >= 0
        for cos, sin in _COMPASS
    )


_COMPASS = [(math.cos(i * FULL / 20), math.sin(i * FULL / 20)) for i in range(20)]


def rounded(value: float) -> int:
    """Nearest whole number, halves upwards: as the player rounds."""
    return math.floor(value + 0.5)


def svg_path(circles: Sequence[Circle]) -> str:
    """The hull as the data of an SVG path, in whole numbers and relative steps.

    >>> svg_path([(0, 0, 10), (40, 0, 10)])
    'M0 10a10 10 0 0 1 0-20l40 0a10 10 0 0 1 0 20Z'
    """
    arcs = outline(circles)
    if len(arcs) == 1:
        left, middle, size = (rounded(part) for part in circles[arcs[0][0]])
        half = f"a{size} {size} 0 1 1"
        return f"M{left - size}{_signed(middle)}{half} {2 * size} 0{half}-{2 * size} 0Z"
    floor, cos, sin = math.floor, math.cos, math.sin
    parts: list[str] = []
    at_x = at_y = 0
    for index, begins, ends in arcs:
        x, y, radius = circles[index]
        start_x = floor(x + radius * cos(begins) + 0.5)
        start_y = floor(y + radius * sin(begins) + 0.5)
        if not parts:
            parts.append(f"M{start_x}{_signed(start_y)}")
        elif (start_x, start_y) != (at_x, at_y):
            parts.append(f"l{start_x - at_x}{_signed(start_y - at_y)}")
        at_x = floor(x + radius * cos(ends) + 0.5)
        at_y = floor(y + radius * sin(ends) + 0.5)
        step = f"{_signed(at_x - start_x)}{_signed(at_y - start_y)}"
        if (at_x, at_y) != (start_x, start_y):
            size = rounded(radius)
            large = 1 if ends - begins > math.pi + 1e-9 else 0
            parts.append(f"a{size} {size} 0 {large} 1{step}")
    return "".join(parts) + "Z"


def _signed(number: int) -> str:
    """A number that follows another: the minus sign parts them, else a space does."""
    return str(number) if number < 0 else f" {number}"
