"""What a figure is made of, flat, and its two writers: SVG and reportlab. Pure.

Places are in metres across and up the picture; a writer scales them. Tones are names; on a screen
a style sheet may give each its own colour by its class (``f-arm``), and what is written here is
what paper shows and what holds without one. There is no style attribute and no script, so a
strict content policy lets a figure pass.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise
from typing import TYPE_CHECKING

from plans.hulls import Circle, outline, rounded, svg_path

if TYPE_CHECKING:
    from reportlab.graphics.shapes import Drawing

TONES: dict[str, str] = {
    "arm": "#d9480f",
    "way": "#1d2b36",
    "help_way": "#2f7fb5",
    "casing": "#ffffff",
    "ghost": "#fff1e8",
    "ghost_edge": "#a9552f",
    "help": "#a9d3f2",
    "skin": "#ecd9c6",
    "shirt": "#c6d0d8",
    "sleeve": "#dde4e9",
    "trousers": "#e3e7ea",
    "shoe": "#8b979f",
    "hair": "#4a545b",
    "thing": "#262f35",
    "cloth": "#ffffff",
    "wood": "#d8cdbd",
    "wood_front": "#c0b29c",
    "bed": "#e6ebf0",
    "bed_front": "#cbd5dd",
    "paper": "#ffffff",
    "ink": "#26323a",
    "grey": "#7c878f",
}
"""Fill of each tone. The weak arm is the one dark, saturated thing: it stands out in grey too."""

EDGE_M = 0.0075
"""Half the width of the line round a body part of a whole figure, in metres of the body."""


@dataclass(frozen=True)
class Blob:
    """One or more hulls of circles as a single silhouette. ``edge`` names the line's tone."""

    hulls: tuple[tuple[Circle, ...], ...]
    tone: str
    edge: str | None = "ink"
    edge_m: float = EDGE_M


@dataclass(frozen=True)
class Poly:
    """A flat face with corners."""

    points: tuple[tuple[float, float], ...]
    tone: str
    edge: str | None = "ink"
    edge_m: float = EDGE_M


@dataclass(frozen=True)
class Line:
    """A drawn line, with an arrow's head at its end and at its beginning where asked.

    ``casing`` names the tone of a rim that parts it from what it crosses; what ``is_written`` is
    not mirrored for the other side.
    """

    points: tuple[tuple[float, float], ...]
    tone: str
    width_m: float
    head: bool = False
    tail: bool = False
    casing: str | None = None
    is_written: bool = False


@dataclass(frozen=True)
class Ring:
    """A ring, the mark of the joint that works."""

    at: tuple[float, float]
    radius_m: float
    tone: str
    width_m: float


Shape = Blob | Poly | Line | Ring


@dataclass(frozen=True)
class Box:
    """What part of the plane a picture shows (m)."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        """Metres across."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Metres up."""
        return self.top - self.bottom


TALLEST = 1.1
"""A picture is at most this many times as high as it is wide."""


def box_round(shapes: Iterable[Shape], margin: float = 0.015) -> Box:
    """The smallest box that shows all of some shapes, with a margin (a share of its size)."""
    xs: list[float] = []
    ys: list[float] = []
    for shape in shapes:
        for x, y, reach in _extent(shape):
            xs += (x - reach, x + reach)
            ys += (y - reach, y + reach)
    edge = margin * max(max(xs) - min(xs), max(ys) - min(ys))
    widen = max(0.0, (max(ys) - min(ys)) / TALLEST - (max(xs) - min(xs))) / 2
    return Box(min(xs) - edge - widen, min(ys) - edge, max(xs) + edge + widen, max(ys) + edge)


def _extent(shape: Shape) -> list[Circle]:
    if isinstance(shape, Blob):
        grow = shape.edge_m if shape.edge else 0.0
        return [(x, y, r + grow) for hull in shape.hulls for x, y, r in hull]
    if isinstance(shape, Ring):
        return [(*shape.at, shape.radius_m + shape.width_m)]
    if isinstance(shape, Line):
        corners = [*shape.points, *(corner for head in _heads(shape) for corner in head)]
        return [(x, y, shape.width_m) for x, y in corners]
    return [(x, y, shape.edge_m) for x, y in shape.points]


@dataclass(frozen=True)
class Scale:
    """From metres to a drawing's units; SVG counts downwards."""

    box: Box
    units_per_m: float

    def x(self, across: float) -> float:
        """Units from the left edge."""
        return (across - self.box.left) * self.units_per_m

    def down(self, up: float) -> float:
        """Units from the top edge."""
        return (self.box.top - up) * self.units_per_m

    def circle(self, circle: Circle) -> Circle:
        """A circle in units, downwards."""
        x, y, radius = circle
        return (self.x(x), self.down(y), radius * self.units_per_m)


HEAD_LONG, HEAD_HALF = 4.0, 2.3
"""An arrow's head: how long, and half how wide, in widths of its line."""


def arrow_head(line: Line, *, at_start: bool = False) -> tuple[tuple[float, float], ...]:
    """The corners (tip first) of the head at the end of a line."""
    points = line.points[::-1] if at_start else line.points
    (x, y), (px, py) = points[-1], points[-2]
    way = math.atan2(y - py, x - px)
    long, half = HEAD_LONG * line.width_m, HEAD_HALF * line.width_m
    return (
        (x + long * math.cos(way), y + long * math.sin(way)),
        (x - half * math.sin(way), y + half * math.cos(way)),
        (x + half * math.sin(way), y - half * math.cos(way)),
    )


def _heads(line: Line) -> list[tuple[tuple[float, float], ...]]:
    heads = []
    if line.head:
        heads.append(arrow_head(line))
    if line.tail:
        heads.append(arrow_head(line, at_start=True))
    return heads


def svg_shape(shape: Shape, scale: Scale) -> str:
    """One shape as SVG."""
    if isinstance(shape, Blob):
        data = "".join(svg_path([scale.circle(c) for c in hull]) for hull in shape.hulls)
        return f'<path {_paint(shape.tone, shape.edge, shape.edge_m, scale)} d="{data}"/>'
    if isinstance(shape, Poly):
        data = _points_data(shape.points, scale) + "Z"
        return f'<path {_paint(shape.tone, shape.edge, shape.edge_m, scale)} d="{data}"/>'
    if isinstance(shape, Ring):
        x, y = rounded(scale.x(shape.at[0])), rounded(scale.down(shape.at[1]))
        radius, width = (
            rounded(part * scale.units_per_m) for part in (shape.radius_m, shape.width_m)
        )
        return (
            f'<circle cx="{x}" cy="{y}" r="{radius}" fill="none" class="s-{shape.tone}"'
            f' stroke="{TONES[shape.tone]}" stroke-width="{width}"/>'
        )
    width = rounded(shape.width_m * scale.units_per_m)
    data = _points_data(shape.points, scale)
    heads = "".join(_points_data(head, scale) + "Z" for head in _heads(shape))
    drawn = (
        f'<path fill="none" class="s-{shape.tone}" stroke="{TONES[shape.tone]}"'
        f' stroke-width="{width}" d="{data}"/>'
    )
    if shape.casing:
        drawn = (
            f'<path fill="none" class="s-{shape.casing}" stroke="{TONES[shape.casing]}"'
            f' stroke-width="{2 * width}" d="{data}{heads}"/>{drawn}'
        )
    if heads:
        fill = f'class="f-{shape.tone}" fill="{TONES[shape.tone]}"'
        drawn += f'<path {fill} stroke="none" d="{heads}"/>'
    return drawn


def _paint(tone: str, edge: str | None, edge_m: float, scale: Scale) -> str:
    fill = f'class="f-{tone}" fill="{TONES[tone]}"'
    if edge is None:
        return f'{fill} stroke="none"'
    # The line lies half under the fill, so it is twice as wide as what shows of it.
    width = max(2, rounded(2 * edge_m * scale.units_per_m))
    colour = "" if edge == "ink" else f' stroke="{TONES[edge]}"'
    return f'{fill}{colour} stroke-width="{width}"'


def _points_data(points: Sequence[tuple[float, float]], scale: Scale) -> str:
    at = [(rounded(scale.x(x)), rounded(scale.down(y))) for x, y in points]
    steps = [
        f"{x - px} {y - py}" if y >= py else f"{x - px}{y - py}"
        for (px, py), (x, y) in pairwise(at)
    ]
    return f"M{at[0][0]} {at[0][1]}l" + " ".join(steps)


SVG_WIDTH = 960
"""Units across a figure; twice the pixels of a phone's column, so whole numbers are fine enough."""


def svg(shapes: Sequence[Shape], box: Box, title: str, *, inside: str = "") -> str:
    """The shapes as one SVG element, with ``title`` as what it shows; ``inside`` goes on top."""
    scale = Scale(box, SVG_WIDTH / box.width)
    height = rounded(box.height * scale.units_per_m)
    drawn = "".join(svg_shape(shape, scale) for shape in shapes)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="figure" viewBox="0 0 {SVG_WIDTH} {height}"'
        f' role="img"><title>{escape(title)}</title><g class="s-ink" stroke="{TONES["ink"]}"'
        ' stroke-linejoin="round" stroke-linecap="round" paint-order="stroke">'
        f"{drawn}{inside}</g></svg>"
    )


def drawing(shapes: Sequence[Shape], box: Box, width_pt: float) -> "Drawing":
    """The shapes as a reportlab drawing, ``width_pt`` points wide."""
    from reportlab.graphics.shapes import Circle as RingShape
    from reportlab.graphics.shapes import Drawing, Path
    from reportlab.lib.colors import HexColor

    units = width_pt / box.width
    page = Drawing(width_pt, box.height * units)
    cut = Path(
        isClipPath=1, fillColor=None, strokeColor=None
    )  # what reaches beyond the box is not drawn, as in SVG
    cut.moveTo(0, 0)
    for corner in ((width_pt, 0), (width_pt, page.height), (0, page.height)):
        cut.lineTo(*corner)
    cut.closePath()
    page.add(cut)
    colours = {tone: HexColor(value) for tone, value in TONES.items()}

    def place(x: float, y: float) -> tuple[float, float]:
        return (x - box.left) * units, (y - box.bottom) * units

    def add_path(build: "list[tuple[str, list[tuple[float, float]]]]", **paint: object) -> None:
        path = Path(strokeLineJoin=1, strokeLineCap=1, fillMode=1, **paint)
        for kind, points in build:
            at = [place(*point) for point in points]
            if kind == "M":
                path.moveTo(*at[0])
            elif kind == "L":
                path.lineTo(*at[0])
            elif kind == "C":
                path.curveTo(*(number for point in at for number in point))
            else:
                path.closePath()
        page.add(path)

    for shape in shapes:
        if isinstance(shape, Ring):
            x, y = place(*shape.at)
            page.add(
                RingShape(
                    x,
                    y,
                    shape.radius_m * units,
                    fillColor=None,
                    strokeColor=colours[shape.tone],
                    strokeWidth=shape.width_m * units,
                )
            )
        elif isinstance(shape, Line):
            if shape.casing:
                for points, ends in ((shape.points, []), *((h, CLOSE) for h in _heads(shape))):
                    add_path(
                        [*_polygon(points), *ends],
                        fillColor=None,
                        strokeColor=colours[shape.casing],
                        strokeWidth=2 * shape.width_m * units,
                    )
            add_path(
                _polygon(shape.points),
                fillColor=None,
                strokeColor=colours[shape.tone],
                strokeWidth=shape.width_m * units,
            )
            for head in _heads(shape):
                add_path([*_polygon(head), *CLOSE], fillColor=colours[shape.tone], strokeColor=None)
        else:
            if isinstance(shape, Blob):
                build = [step for hull in shape.hulls for step in _hull_steps(hull)]
            else:
                build = [*_polygon(shape.points), *CLOSE]
            if shape.edge:  # the line first, then the fill over its inner half
                add_path(
                    build,
                    fillColor=colours[shape.edge],
                    strokeColor=colours[shape.edge],
                    strokeWidth=2 * shape.edge_m * units,
                )
            add_path(build, fillColor=colours[shape.tone], strokeColor=None)
    return page


CLOSE: "list[tuple[str, list[tuple[float, float]]]]" = [("Z", [])]


def _polygon(
    points: Sequence[tuple[float, float]],
) -> list[tuple[str, list[tuple[float, float]]]]:
    return [("M" if i == 0 else "L", [point]) for i, point in enumerate(points)]


def _hull_steps(hull: Sequence[Circle]) -> list[tuple[str, list[tuple[float, float]]]]:
    """A hull as moves, lines and curves; arcs as cubic curves of at most a quarter turn."""
    steps: list[tuple[str, list[tuple[float, float]]]] = []
    for index, begins, ends in outline(hull):
        x, y, radius = hull[index]
        pieces = max(1, math.ceil((ends - begins) / (math.pi / 2) - 1e-9))
        turn = (ends - begins) / pieces
        pull = 4 / 3 * math.tan(turn / 4)
        start = (x + radius * math.cos(begins), y + radius * math.sin(begins))
        steps.append(("L" if steps else "M", [start]))
        for piece in range(pieces):
            a, b = begins + piece * turn, begins + (piece + 1) * turn
            cos_a, sin_a, cos_b, sin_b = math.cos(a), math.sin(a), math.cos(b), math.sin(b)
            steps.append(
                (
                    "C",
                    [
                        (x + radius * (cos_a - pull * sin_a), y + radius * (sin_a + pull * cos_a)),
                        (x + radius * (cos_b + pull * sin_b), y + radius * (sin_b - pull * cos_b)),
                        (x + radius * cos_b, y + radius * sin_b),
                    ],
                )
            )
    return [*steps, ("Z", [])]
