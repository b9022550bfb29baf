"""Marks on a figure: which moments it shows, the arrow between them, rings on joints. Pure.

Lengths across the picture are in metres of the body.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from patients.motions import Joint
from plans.limbs import Limb
from plans.room import Room
from plans.scene import Scene
from plans.shapes import HEAD_LONG, Blob, Line, Ring, Shape
from plans.space import Vector, dot, length, minus, mix, plus, unit

Point = tuple[float, float]


def _tracer(scene: Scene, limb: Limb) -> Vector:
    """The point whose way shows the movement: a fingertip, the thumb, or the shoulder."""
    joints = scene.moved_joints
    if not joints or (joints == [Joint.SHOULDER_BLADE] and not scene.reaches):
        return limb.shoulder
    if joints == [Joint.FOREARM]:
        return limb.thumb[-1]
    if joints[0] in HAND:
        return _digit(scene, limb)[-1]
    return limb.tip


HAND = (Joint.FINGERS, Joint.THUMB)


def _finger(scene: Scene) -> str:
    """The finger to follow: the first that moves."""
    return next((digit for digit in scene.moving_digits if digit != "thumb"), "index")


def _digit(scene: Scene, limb: Limb) -> tuple[Vector, ...]:
    """The digit to follow."""
    digit = scene.leading_digit
    return limb.thumb if digit == "thumb" else limb.fingers[digit]


def _pivot(scene: Scene, limb: Limb) -> Vector:
    """The joint that it turns about."""
    joints = scene.moved_joints
    joint = joints[0] if joints else Joint.SHOULDER
    if joint in HAND:
        return _digit(scene, limb)[0]
    return {
        Joint.SHOULDER_BLADE: limb.shoulder,
        Joint.SHOULDER: limb.shoulder,
        Joint.ELBOW: limb.elbow,
        Joint.FOREARM: limb.wrist,
        Joint.WRIST: limb.wrist,
    }[joint]


def far(one: Limb, other: Limb) -> bool:
    """Whether two poses differ enough for both to be seen."""
    points = [(one.wrist, other.wrist), (one.elbow, other.elbow), (one.tip, other.tip)]
    points += [(one.thumb[-1], other.thumb[-1]), (one.shoulder, other.shoulder)]
    points += [(one.fingers[f][-1], other.fingers[f][-1]) for f in one.fingers]
    return max(length(minus(a, b)) for a, b in points) > 0.012


def ends(scene: Scene) -> tuple[float, float, bool]:
    """Times of the pose shown pale and the one shown whole, and whether it goes both ways.

    The whole one is the key pose farthest from the start. Where another one lies as far on the
    other side, the movement swings between the two, and that one is shown pale.
    """
    times = [pose.at_s for pose in scene.movement.poses]
    places = [_tracer(scene, limb) for limb in scene.key_limbs.values()]

    def apart(one: int, other: int) -> float:
        return length(minus(places[one], places[other]))

    if scene.in_turn:
        return 0.0, scene.in_turn[0][0], False
    end = max(range(len(times)), key=lambda i: apart(0, i))
    start = max(range(len(times)), key=lambda i: apart(end, i))
    both = apart(start, end) > 1.25 * apart(0, end) and apart(0, start) > 0.3 * apart(0, end)
    return (times[start] if both else 0.0), times[end], both


NUMERALS: tuple[tuple[Point, ...], ...] = (
    ((0.12, 0.76), (0.38, 1.0), (0.38, 0.0)),
    ((0.0, 0.78), (0.12, 0.95), (0.3, 1.0), (0.5, 0.92), (0.56, 0.7), (0.0, 0.0), (0.6, 0.0)),
    (
        (0.02, 0.92),
        (0.25, 1.0),
        (0.5, 0.9),
        (0.5, 0.65),
        (0.22, 0.53),
        (0.5, 0.42),
        (0.57, 0.2),
        (0.4, 0.02),
        (0.2, 0.0),
        (0.0, 0.1),
    ),
    ((0.45, 0.0), (0.45, 1.0), (0.0, 0.3), (0.62, 0.3)),
)
"""One to four, in strokes, a unit high."""


@dataclass(frozen=True)
class Order:
    """The order of fingers that move in turn, in figures; ``places`` is the room they take."""

    strokes: tuple[Line, ...] = ()
    places: tuple[Blob, ...] = ()


def numerals(scene: Scene, limb: Limb, wide_m: float) -> Order:
    """A figure beyond the tip of each finger, where one moves after another."""
    high, width = 0.048 * wide_m, 0.009 * wide_m
    strokes: list[Line] = []
    places: list[Blob] = []
    before: Point | None = None
    for (_, digit), numeral in zip(scene.in_turn, NUMERALS, strict=False):
        points = limb.fingers[digit]
        beyond = plus(points[-1], unit(minus(points[-1], points[-2])), 0.008 + 0.6 * high)
        x, y = scene.eye.flat(beyond)
        if before and math.dist(before, (x, y)) < 1.1 * high:  # each apart from the one before
            apart = 1.1 * high / (math.dist(before, (x, y)) or 1.0)
            x, y = before[0] + (x - before[0]) * apart, before[1] + (y - before[1]) * apart
        before = x, y
        written = tuple((x + (px - 0.3) * high, y + (py - 0.5) * high) for px, py in numeral)
        strokes.append(Line(written, "way", width, casing="casing", is_written=True))
        places.append(Blob((((x, y, 0.6 * high),),), "thing"))
    return Order(tuple(strokes), tuple(places))


def rings(scene: Scene, limb: Limb) -> list[Ring]:
    """A ring, dark on white, on each joint that works; of digits, on those of the first to move."""
    at = {
        Joint.SHOULDER_BLADE: limb.shoulder,
        Joint.SHOULDER: limb.shoulder,
        Joint.ELBOW: limb.elbow,
        Joint.FOREARM: mix(limb.elbow, limb.wrist, 0.6),
        Joint.WRIST: limb.wrist,
    }
    hidden = {limb.shoulder, limb.elbow} if scene.view.close else set()
    places = [at[joint] for joint in scene.moved_joints if joint in at and at[joint] not in hidden]
    radius = 0.009 if scene.view.close else 0.026
    marks = [(place, radius) for place in dict.fromkeys(places)]
    if scene.view.close and scene.movement.other_arm != "helps":  # else its fingers are there
        marks += [(place, 0.0052) for place in _digit_joints(scene, limb)]
    result: list[Ring] = []
    for place, size in marks:
        flat = scene.eye.flat(place)
        result += [Ring(flat, size, "paper", size * 0.62), Ring(flat, size, "ink", size * 0.27)]
    return result


def _digit_joints(scene: Scene, limb: Limb) -> list[Vector]:
    """The joints that bend most in the first finger that moves, or in the thumb."""
    if not set(HAND) & set(scene.moved_joints):
        return []
    digit = _finger(scene) if scene.moving_digits != ["thumb"] else "thumb"
    if digit == "thumb":
        names, points = ("thumb_front", "thumb_mcp", "thumb_ip"), limb.thumb
    else:
        names = (f"{digit}_mcp", f"{digit}_pip", f"{digit}_dip")
        points = limb.fingers[digit]
    change = [scene.change_deg(name) for name in names]
    if digit == "index" and max(change) < 15:
        change = [scene.change_deg(f"{digit}_spread") * 2, 0.0, 0.0]
    return [
        point
        for point, turned in zip(points, change, strict=False)
        if turned > 15 and turned > 0.4 * max(change)
    ]


def arrow(
    scene: Scene, start: float, end: float, both_ways: bool, *, room: Room, wide_m: float
) -> list[Shape]:
    """The way from the pale pose to the whole one, beside the limb, with a head where it ends.

    ``wide_m`` is the width of the picture, by which the arrow's own is chosen; ``room`` is what
    it is to be clear of.
    """
    width = WIDTH_SHARE * wide_m
    if scene.movement.press:
        return _press(scene, width)
    loop = scene.goes_round
    chosen = scene.limbs_at([start + (end - start) * i / 14 for i in range(15)])
    way = scene.track if loop else chosen
    path = _turning(scene, way) or [scene.eye.flat(_tracer(scene, limb)) for limb in way]
    if len(path) < 2 or _long(path) < 0.004:
        return []
    path = _clear_of_pivot(scene, path, chosen, scene.limb_at(end), wide_m)
    ways = [_trimmed(path, cut, HEAD_LONG * width) for cut in ((0.0,) if loop else TRIMS)]
    ways = [
        way if _long(way) > LEAST_SHARE * wide_m else _stretched(way, LEAST_SHARE * wide_m)
        for way in ways
    ]
    best = room.placed(ways, need_m=2.3 * width, head_m=HEAD_LONG * width, step_m=0.045 * wide_m)
    return _drawn(best, width, tail=both_ways and not loop)


WIDTH_SHARE, LEAST_SHARE = 0.0135, 0.15
"""The arrow's width and its least length, as shares of the picture's width."""
TRIMS = (0.08, 0.30, 0.5)
"""What may be left out at an arrow's beginning, as shares of its way."""


def _drawn(path: Sequence[Point], width: float, *, tail: bool = False) -> list[Shape]:
    return [Line(tuple(path), "way", width, head=True, tail=tail, casing="casing")]


def _clear_of_pivot(
    scene: Scene, path: list[Point], chosen: Sequence[Limb], limb: Limb, wide_m: float
) -> list[Point]:
    """A way moved to the outside of what turns."""
    clear = 1.7 * WIDTH_SHARE * wide_m
    clear += 0.012 if scene.view.close else 0.05
    if scene.movement.holds in ("weight", "hammer"):
        clear *= 1.7
    pivots = [scene.eye.flat(_pivot(scene, each)) for each in chosen]
    pivot = (
        sum(x for x, _ in pivots) / max(1, len(pivots)),
        sum(y for _, y in pivots) / max(1, len(pivots)),
    )
    if scene.goes_round:
        return _round(path, pivot, clear, wide_m)
    if scene.moved_joints[:1] == [Joint.FINGERS] and scene.leading_digit != "thumb":
        return _swing(path, pivot, clear)
    shown = [scene.eye.flat(p) for p in (limb.shoulder, limb.elbow, limb.wrist, limb.tip)]
    return _beside(path, pivot, shown, clear)


def _turning(scene: Scene, way: Sequence[Limb]) -> list[Point]:
    """Where the forearm turns: the way of its turning, round its length, beyond the fingertips."""
    if scene.moved_joints != [Joint.FOREARM]:
        return []
    radius, beyond = (0.062, 0.045) if scene.view.close else (0.10, 0.07)
    path = []
    for limb in way:
        along = unit(minus(limb.wrist, limb.elbow))
        reach = max(dot(minus(limb.tip, limb.wrist), along), 0.08)
        middle = plus(limb.wrist, along, reach + beyond)
        path.append(scene.eye.flat(plus(middle, limb.thumb_side, radius)))
    return path


def _press(scene: Scene, width: float) -> list[Shape]:
    """Two short arrows against each other: how the hand presses, and what lets nothing move."""
    limb = scene.limb_at(0.0)
    front, up, right = scene.movement.press or (0.0, 0.0, 0.0)
    way = minus(scene.frame.at(front, up, right), scene.frame.at(0, 0, 0))

    def pushed(sign: int, tone: str) -> Line:
        begins, ends = (
            scene.eye.flat(plus(limb.grip, way, -sign * far_m)) for far_m in (0.30, 0.14)
        )
        return Line((begins, ends), tone, width, head=True, casing="casing")

    return [pushed(1, "way"), pushed(-1, "help_way")]


def _long(path: Sequence[Point]) -> float:
    return sum(math.dist(one, other) for one, other in pairwise(path))


def _round(path: list[Point], pivot: Point, clear: float, wide_m: float) -> list[Point]:
    """Most of a way that closes, beyond the fingertips, neither too small nor too large to see."""
    middle = (sum(x for x, _ in path) / len(path), sum(y for _, y in path) / len(path))
    reach = math.dist(middle, pivot) or 1.0
    out = ((middle[0] - pivot[0]) / reach * clear, (middle[1] - pivot[1]) / reach * clear)
    closed = _ellipse(path) if _is_curved(path) else path
    across = max(math.dist(one, other) for one in closed for other in closed)
    times = min(max(across, LOOP_SHARES[0] * wide_m), LOOP_SHARES[1] * wide_m) / across
    return [
        (
            middle[0] + (x - middle[0]) * times + out[0],
            middle[1] + (y - middle[1]) * times + out[1],
        )
        for x, y in closed[: round(len(closed) * 0.88)]
    ]


LOOP_SHARES = (0.26, 0.36)
"""The least and the greatest size of a loop, as shares of the picture's width."""


def _is_curved(path: Sequence[Point]) -> bool:
    """Whether the way between its quarters bends, as a circle's does and a square's does not."""
    step = len(path) // 4
    bent = 0.0
    for begins in range(0, 4 * step, step):
        one, middle, other = (path[begins + i] for i in (0, step // 2, step))
        bent += _to_segment(middle, one, other) / (math.dist(one, other) or 1.0)
    return bent / 4 > 0.055


def _ellipse(path: Sequence[Point]) -> list[Point]:
    """The ellipse nearest to a way that closes: its first harmonic."""
    turns = [2 * math.pi * i / (len(path) - 1) for i in range(len(path) - 1)]
    along: list[list[float]] = []
    for axis in (0, 1):
        values = [point[axis] for point in path[:-1]]
        count = len(values)
        mean = sum(values) / count
        cos, sin = (
            2 / count * sum(v * wave(t) for v, t in zip(values, turns, strict=True))
            for wave in (math.cos, math.sin)
        )
        along.append([mean + cos * math.cos(t) + sin * math.sin(t) for t in (*turns, 2 * math.pi)])
    return list(zip(*along, strict=True))


def _swing(path: list[Point], pivot: Point, clear: float) -> list[Point]:
    """A way that curls in, as the swing of a straight finger about its knuckle, beyond its tip."""
    reach = max(math.dist(point, pivot) for point in path) + 0.6 * clear
    angles = [math.atan2(y - pivot[1], x - pivot[0]) for x, y in path]
    begins = angles[0]
    ends = begins + sum((b - a + math.pi) % (2 * math.pi) - math.pi for a, b in pairwise(angles))
    if abs(ends - begins) > 1.9:  # the tip has passed below the knuckle: the way there is enough
        ends = begins + math.copysign(1.9, ends - begins)
    return [
        (pivot[0] + reach * math.cos(angle), pivot[1] + reach * math.sin(angle))
        for angle in (begins + (ends - begins) * i / 16 for i in range(17))
    ]


def _beside(path: list[Point], pivot: Point, limb: list[Point], clear: float) -> list[Point]:
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

    def moved(sign: float) -> list[Point]:
        return [(x + across[0] * sign * clear, y + across[1] * sign * clear) for x, y in path]

    # To the side that the limb leaves freer; else to the upper one.
    up = 1.0 if across[1] > 0 else -1.0
    free = {sign: _apart(moved(sign), limb) for sign in (up, -up)}
    return moved(up if free[up] > 0.75 * free[-up] else -up)


def _apart(path: list[Point], limb: list[Point]) -> float:
    """How far a way is from the parts of a limb, where it comes nearest but for its two ends."""
    inner = path[len(path) // 4 :]
    return min(_to_segment(point, *part) for point in inner for part in pairwise(limb))


def _to_segment(point: Point, one: Point, other: Point) -> float:
    dx, dy = other[0] - one[0], other[1] - one[1]
    size = dx * dx + dy * dy
    share = 0.0 if size == 0 else ((point[0] - one[0]) * dx + (point[1] - one[1]) * dy) / size
    share = min(1.0, max(0.0, share))
    return math.dist(point, (one[0] + share * dx, one[1] + share * dy))


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
