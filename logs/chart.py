"""Small charts: the shapes they are made of, written as SVG for the screen and drawn for a PDF.

Pure. One definition serves both. Kinds of marks are told apart by shape, bars by being filled,
outlined or dashed, so that a chart holds in greyscale. Tones are names; a style sheet may give each
its own colour by its class, what is written here holds without one. There is no style attribute,
so a strict content policy lets it pass. Places are counted from the top left.
"""

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from reportlab.graphics.shapes import Drawing

TONES = {"ink": "#221d26", "quiet": "#5b5363", "line": "#d9d1db", "mark": "#6d2a5f"}
FONT_SIZE = 12


class Mark(NamedTuple):
    """One sign of the chart: a dot, ring, bar, diamond, triangle or plus."""

    kind: str
    x: float
    y: float


class Stroke(NamedTuple):
    """A line; a dashed one has room between its dashes."""

    x1: float
    y1: float
    x2: float
    y2: float
    tone: str
    dashed: bool = False


class Word(NamedTuple):
    """Text whose baseline begins (or ends, or has its middle) at a place."""

    text: str
    x: float
    y: float
    anchor: str = "start"


class Band(NamedTuple):
    """A pale band behind what happened in it."""

    x: float
    y: float
    width: float
    height: float


class Bar(NamedTuple):
    """A bar: filled (what was done), or an outline (what was due), dashed while unheard."""

    x: float
    y: float
    width: float
    height: float
    filled: bool
    dashed: bool = False


type Shape = Mark | Stroke | Word | Band | Bar


@dataclass(frozen=True, slots=True)
class Chart:
    """Shapes and the size they are laid out in."""

    shapes: tuple[Shape, ...]
    width: float
    height: float


def svg(chart: Chart, title: str) -> str:
    """Return a chart as one SVG element, with ``title`` as what it shows."""
    drawn = "".join(map(_svg_shape, chart.shapes))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart" '
        f'viewBox="0 0 {chart.width:g} {chart.height:g}" '
        f'role="img"><title>{escape(title)}</title><g font-size="{FONT_SIZE}" '
        f'font-family="sans-serif" stroke-width="1.5">{drawn}</g></svg>'
    )


def _svg_shape(shape: Shape) -> str:
    match shape:
        case Mark(kind, x, y):
            return _svg_mark(kind, x, y)
        case Stroke(x1, y1, x2, y2, tone, dashed):
            dash = ' stroke-dasharray="5 4"' if dashed else ""
            return (
                f'<line class="s-{tone}" stroke="{TONES[tone]}" x1="{x1:.1f}" y1="{y1:.1f}" '
                f'x2="{x2:.1f}" y2="{y2:.1f}"{dash}/>'
            )
        case Bar(x, y, width, height, filled, dashed):
            dash = ' stroke-dasharray="3 2"' if dashed else ""
            fill = f'class="f-mark" fill="{TONES["mark"]}"'
            if not filled:
                fill = f'class="s-quiet" fill="none" stroke="{TONES["quiet"]}" stroke-width="1"'
            return (
                f'<rect {fill} x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" '
                f'height="{height:.1f}"{dash}/>'
            )
        case Word(text, x, y, anchor):
            return (
                f'<text class="f-quiet" fill="{TONES["quiet"]}" x="{x:.1f}" y="{y:.1f}" '
                f'text-anchor="{anchor}">{escape(text)}</text>'
            )
        case Band(x, y, width, height):
            return (
                f'<rect class="f-line" fill="{TONES["line"]}" fill-opacity="0.5" x="{x:.1f}" '
                f'y="{y:.1f}" width="{width:.1f}" height="{height:.1f}"/>'
            )


def _svg_mark(kind: str, x: float, y: float) -> str:
    match kind:
        case "dot":
            return (
                f'<circle class="f-mark" fill="{TONES["mark"]}" cx="{x:.1f}" cy="{y:.1f}" r="4.5"/>'
            )
        case "ring":
            return (
                f'<circle class="s-ink f-card" fill="#ffffff" stroke="{TONES["ink"]}" '
                f'cx="{x:.1f}" cy="{y:.1f}" r="3.5"/>'
            )
        case "bar":
            return (
                f'<line class="s-ink" stroke="{TONES["ink"]}" stroke-width="3" x1="{x - 4:.1f}" '
                f'y1="{y:.1f}" x2="{x + 4:.1f}" y2="{y:.1f}"/>'
            )
        case "plus":
            return (
                f'<path class="s-ink" stroke="{TONES["ink"]}" fill="none" '
                f'd="M{x - 3.5:.1f} {y:.1f}h7M{x:.1f} {y - 3.5:.1f}v7"/>'
            )
    path = " ".join(f"{a:.1f},{b:.1f}" for a, b in _corners(kind, x, y))
    return f'<polygon class="s-ink f-card" fill="#ffffff" stroke="{TONES["ink"]}" points="{path}"/>'


def _corners(kind: str, x: float, y: float) -> tuple[tuple[float, float], ...]:
    if kind == "triangle":
        return (x - 4.5, y - 4), (x + 4.5, y - 4), (x, y + 4)
    return (x, y - 4.5), (x + 4.5, y), (x, y + 4.5), (x - 4.5, y)


def drawing(chart: Chart, width_pt: float, font: str) -> "Drawing":
    """Return a chart as a reportlab drawing, ``width_pt`` points wide."""
    from reportlab.graphics.shapes import Drawing, Group
    from reportlab.lib.colors import HexColor, white

    scale = width_pt / chart.width
    tones = {name: HexColor(value) for name, value in TONES.items()}
    group = Group(transform=(scale, 0, 0, -scale, 0, chart.height * scale))
    for shape in chart.shapes:
        for part in _drawn(shape, tones, white, font):
            group.add(part)
    whole = Drawing(width_pt, chart.height * scale)
    whole.add(group)
    # What drawing begins with; its own default is a font that is not embedded.
    whole.__dict__["initialFontName"] = font
    return whole


def _drawn(shape: Shape, tones: dict[str, Any], white: Any, font: str) -> list[Any]:
    from reportlab.graphics.shapes import Circle, Group, Line, Polygon, Rect, String

    ink, mark = tones["ink"], tones["mark"]
    match shape:
        case Band(x, y, width, height):
            return [Rect(x, y, width, height, fillColor=tones["line"], strokeColor=None)]
        case Bar(x, y, width, height, filled, dashed):
            return [
                Rect(
                    x,
                    y,
                    width,
                    height,
                    fillColor=mark if filled else None,
                    strokeColor=None if filled else tones["quiet"],
                    strokeDashArray=[3, 2] if dashed else None,
                )
            ]
        case Stroke(x1, y1, x2, y2, tone, dashed):
            dash = [5, 4] if dashed else None
            return [
                Line(x1, y1, x2, y2, strokeColor=tones[tone], strokeWidth=1.5, strokeDashArray=dash)
            ]
        case Word(text, x, y, anchor):
            word = String(
                0,
                0,
                text,
                textAnchor=anchor,
                fontName=font,
                fontSize=FONT_SIZE,
                fillColor=tones["quiet"],
            )
            # The page is drawn upside down, so that places count from the top: words are not.
            return [Group(word, transform=(1, 0, 0, -1, x, y))]
        case Mark("dot", x, y):
            return [Circle(x, y, 4.5, fillColor=mark, strokeColor=None)]
        case Mark("ring", x, y):
            return [Circle(x, y, 3.5, fillColor=white, strokeColor=ink, strokeWidth=1.5)]
        case Mark("bar", x, y):
            return [Line(x - 4, y, x + 4, y, strokeColor=ink, strokeWidth=3)]
        case Mark("plus", x, y):
            return [
                Line(x - 3.5, y, x + 3.5, y, strokeColor=ink, strokeWidth=1.5),
                Line(x, y - 3.5, x, y + 3.5, strokeColor=ink, strokeWidth=1.5),
            ]
        case Mark(kind, x, y):
            points = [number for corner in _corners(kind, x, y) for number in corner]
            return [Polygon(points, fillColor=white, strokeColor=ink, strokeWidth=1.5)]
