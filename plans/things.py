"""What a weak hand holds or wears in a figure: weights, a stick, a cup, putty, a band. Pure."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from plans.arm import FINGERS
from plans.body import Eye
from plans.exercise import Movement
from plans.limbs import CLOSE_EDGE_M, Limb, blob
from plans.shapes import Blob
from plans.space import Frame, Vector, minus, mix, plus, unit

BAND_M = 0.007
STICK_M = 0.013


def rod(eye: Eye, one: Vector, other: Vector, radius: float, tone: str) -> Blob:
    """A stick, a rolled towel, a tight band; dark things have a white rim, apart from the arm."""
    edge = "paper" if tone == "thing" else "ink"
    return blob(eye, [[(one, radius), (other, radius)]], tone, edge)


def edged(shape: Blob, close: bool) -> Blob:
    """The same shape with the thin line of a near view, where it is one."""
    return replace(shape, edge_m=CLOSE_EDGE_M) if close and shape.edge else shape


def weight(eye: Eye, limb: Limb, side: int, disc_m: float) -> tuple[list[Blob], list[Blob]]:
    """A hand weight in the fist: bar and far end, then the near end (``side`` of the thumb)."""
    ends = [plus(limb.grip, limb.thumb_side, 0.066 * each) for each in (-side, side)]

    def disc(end: Vector) -> Blob:
        out = unit(minus(end, limb.grip))
        return rod(eye, plus(end, out, -0.012), plus(end, out, 0.020), disc_m, "thing")

    return [rod(eye, ends[0], ends[1], 0.012, "thing"), disc(ends[0])], [disc(ends[1])]


def cuff(eye: Eye, limb: Limb) -> Blob:
    """A cuff weight round the wrist."""
    along = unit(minus(limb.wrist, limb.elbow))
    ends = (plus(limb.wrist, along, -0.075), plus(limb.wrist, along, -0.022))
    return blob(eye, [[(ends[0], 0.041), (ends[1], 0.038)]], "thing", "paper")


def hammer(eye: Eye, limb: Limb) -> list[Blob]:
    """A hand weight held by one end."""
    top = plus(limb.grip, limb.thumb_side, 0.12)
    return [
        rod(eye, plus(limb.grip, limb.thumb_side, -0.04), top, 0.011, "thing"),
        rod(eye, plus(top, limb.thumb_side, -0.02), top, 0.030, "thing"),
    ]


def sheet(eye: Eye, middle: Vector, one: Vector, other: Vector, half: float) -> Blob:
    """A card or a slip of paper: a thin square, told by the directions of its sides."""
    corners = [
        (plus(plus(middle, one, a * half), other, b * half), 0.0015)
        for a, b in ((1, 1), (1, -1), (-1, -1), (-1, 1))
    ]
    return blob(eye, [corners], "cloth", edge_m=0.003)


def slid_cloth(eye: Eye, frame: Frame, limb: Limb, *, on_wall: bool, half: float) -> Blob:
    """A folded cloth under a hand that slides: on the table or bed, or on the wall."""
    palm = plus(limb.wrist, limb.ahead, 0.085)
    if on_wall:
        return sheet(eye, plus(palm, frame.front, 0.022), frame.up, frame.right, half)
    x, y, _ = limb.ahead
    ahead = unit((x, y, 0.0)) if abs(x) + abs(y) > 0.1 else (1.0, 0.0, 0.0)
    return sheet(eye, plus(palm, (0.0, 0.0, -1.0), 0.024), ahead, (-ahead[1], ahead[0], 0.0), half)


def folded_towel(eye: Eye, frame: Frame, elbow: Vector) -> Blob:
    """A folded towel that an elbow keeps at the side of the trunk; it hangs out below."""
    middle = plus(elbow, frame.right, -0.075)
    corners = [
        (plus(plus(middle, frame.front, ahead), frame.up, high), 0.028)
        for ahead in (-0.05, 0.11)
        for high in (-0.085, 0.08)
    ]
    return blob(eye, [corners], "cloth")


def rubber_band(eye: Eye, limb: Limb, digits: Sequence[str]) -> Blob:
    """A rubber band round the four fingers, or round thumb and hand where the thumb alone moves."""
    points = [mix(limb.fingers[each][1], limb.fingers[each][2], 0.7) for each in FINGERS]
    if list(digits) == ["thumb"]:
        points = [mix(limb.fingers["index"][0], limb.fingers["little"][0], 0.3), limb.thumb[2]]
    hulls = [[(a, 0.0035), (b, 0.0035)] for a, b in pairwise(points)]
    return blob(eye, hulls, "thing", "paper")


def held(
    eye: Eye,
    frame: Frame,
    movement: Movement,
    limb: Limb,
    *,
    digits: Sequence[str],
    close: bool,
    near_side: int,
) -> tuple[list[Blob], list[Blob]]:
    """What the weak hand holds: what is painted before the hand, and after.

    ``digits`` are those that move; ``near_side`` says which side of the thumb is nearer to the eye
    (1 its own, -1 the little finger's), once for all frames.
    """
    along = unit(minus(limb.wrist, limb.elbow))
    under: list[Blob] = []
    over: list[Blob] = []
    match movement.holds:
        case "weight":
            under, over = weight(eye, limb, near_side, 0.026 if close else 0.037)
        case "cuff":
            over = [cuff(eye, limb)]
        case "cup" | "roll" as thing:
            half, radius = {"cup": (0.045, 0.036), "roll": (0.085, 0.022)}[thing]
            ends = [plus(limb.grip, limb.thumb_side, side * half) for side in (-1, 1)]
            under = [rod(eye, ends[0], ends[1], radius, "cloth")]
        case "hammer":
            under = hammer(eye, limb)
        case "putty":
            ends = [plus(limb.grip, limb.thumb_side, side * 0.042) for side in (-1, 1)]
            under = [rod(eye, ends[0], ends[1], 0.021, "thing")]
        case "bead":
            middle = mix(limb.fingers["index"][-1], limb.thumb[-1], 0.5)
            under = [blob(eye, [[(middle, 0.015)]], "thing", "paper")]
        case "card":
            middle = plus(limb.fingers["middle"][-1], limb.ahead, 0.030)
            under = [sheet(eye, middle, limb.ahead, limb.thumb_side, 0.048)]
        case "paper":
            middle = plus(mix(limb.fingers["index"][-1], limb.thumb[-1], 0.5), limb.ahead, 0.03)
            under = [sheet(eye, middle, limb.ahead, along, 0.035)]
    on_wall = "wall" in movement.equipment
    if "cloth" in movement.equipment and (movement.rests or on_wall):
        half = 0.068 if close else 0.085
        under.insert(0, slid_cloth(eye, frame, limb, on_wall=on_wall, half=half))
    if "rubber_band" in movement.equipment:
        over.append(rubber_band(eye, limb, digits))
    if "band" in movement.equipment and movement.anchor_m:
        under.append(rod(eye, limb.grip, frame.at(*movement.anchor_m), BAND_M, "thing"))
    return [edged(b, close) for b in under], [edged(b, close) for b in over]
