"""Small charts: the shapes they are made of, written as SVG for the screen and drawn for a PDF.

Pure. One definition serves both. Kinds of marks are told apart by shape, bars by being filled,
outlined or dashed, so that a chart holds in greyscale. Tones are names; a style sheet may give each
its own colour by its class, what is written here holds without one. There is no style attribute,
so a strict content policy lets it pass. Places are counted from the top left.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from itertools import chain
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from reportlab.graphics.shapes import Drawing

TONES = {"ink": "#221d26", "quiet": "#5b5363", "line": "#d9d1db", "mark": "#6d2a5f"}
FONT_SIZE = 12

_FILLED = f'class="f-mark" fill="{TONES["mark"]}"'
_OUTLINED = f'class="s-quiet" stroke="{TONES["quiet"]}" stroke-width="1"'
_DASHED = f'{_OUTLINED} stroke-dasharray="3 2"'
_PALE = f'class="f-line" fill="{TONES["line"]}" fill-opacity="0.5"'
_LINES = {
    (tone, dashed): f'class="s-{tone}" stroke="{colour}"{dash}'
    for tone, colour in TONES.items()
    for dashed, dash in ((False, ""), (True, ' stroke-dasharray="5 4"'))
}
_INKED = f'class="s-ink" stroke="{TONES["ink"]}"'
_OPEN = f'class="s-ink f-card" fill="#ffffff" stroke="{TONES["ink"]}"'


class Sign(NamedTuple):
    """How a mark looks, where its path begins as seen from its middle, and how it goes on."""

    look: str
    dx: float
    dy: float
    path: str


SIGNS = {
    "dot": Sign(_FILLED, -4.5, 0, "a4.5 4.5 0 1 0 9 0a4.5 4.5 0 1 0-9 0z"),
    "ring": Sign(_OPEN, -3.5, 0, "a3.5 3.5 0 1 0 7 0a3.5 3.5 0 1 0-7 0z"),
    "bar": Sign(f'{_INKED} stroke-width="3"', -4, 0, "h8"),
    "plus": Sign(_INKED, -3.5, 0, "h7m-3.5-3.5v7"),
    "diamond": Sign(_OPEN, 0, -4.5, "l4.5 4.5-4.5 4.5-4.5-4.5z"),
    "triangle": Sign(_OPEN, -4.5, -4, "h9l-4.5 8z"),
}


type Places = Sequence[tuple[float, float]]


class Marks(NamedTuple):
    """One sign at each of its places: a dot, ring, bar, diamond, triangle or plus."""

    kind: str
    at: Places


class Stems(NamedTuple):
    """A line from a common base to each of its places."""

    base: float
    at: Places


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


type Shape = Marks | Stems | Stroke | Word | Band | Bar


@dataclass(frozen=True, slots=True)
class Chart:
    """Shapes and the size they are laid out in; words left of ``names_to`` name its rows."""

    shapes: tuple[Shape, ...]
    width: float
    height: float
    names_to: float = 0


def svg(chart: Chart, title: str) -> str:
    """Return a chart as markup, with ``title`` as what it shows.

    Shapes that look alike are one path, which lies where the first of them does. What names the
    rows is a picture of its own beside the chart, so that it can stay in sight as that is moved.
    """
    tenths = _Tenths()
    paths: dict[str, list[str]] = defaultdict(list)
    names: list[str] = []
    words: list[str] = []
    for shape in chart.shapes:  # by the hundred: to unpack each is quicker than to match it
        if isinstance(shape, Marks):
            look, dx, dy, path = SIGNS[shape.kind]
            paths[look] += [f"M{x + dx:.1f} {tenths[y + dy]}{path}" for x, y in shape.at]
        elif isinstance(shape, Stems):
            base = tenths[shape.base]
            paths[_LINES["mark", False]] += [f"M{x:.1f} {base}V{tenths[y]}" for x, y in shape.at]
        elif isinstance(shape, Stroke):
            x1, y1, x2, y2, tone, dashed = shape
            paths[_LINES[tone, dashed]].append(f"M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}")
        elif isinstance(shape, Bar):
            look = _FILLED if shape.filled else _DASHED if shape.dashed else _OUTLINED
            paths[look].append(_box(tenths, *shape[:4]))
        elif isinstance(shape, Band):
            paths[_PALE].append(_box(tenths, *shape))
        else:
            (names if shape.x < chart.names_to else words).append(
                f'<text x="{shape.x:.1f}" y="{shape.y:.1f}" text-anchor="{shape.anchor}">'
                f"{escape(shape.text)}</text>"
            )
    drawn = "".join(f'<path {look} d="{"".join(of)}"/>' for look, of in paths.items() if of)
    left, height = chart.names_to, f"{chart.height:g}"
    return (
        f'<div class="chart"><svg class="names" width="{100 * left / chart.width:.3f}%" '
        f'viewBox="0 0 {left:g} {height}" aria-hidden="true">{_texts(names)}</svg>'
        f'<svg viewBox="{left:g} 0 {chart.width - left:g} {height}" role="img">'
        f'<title>{escape(title)}</title><g fill="none" stroke-width="1.5">{drawn}</g>'
        f"{_texts(words)}</svg></div>"
    )


class _Tenths(dict[float, str]):
    """Numbers as written, to a tenth: many shapes share a height, a week or a width."""

    def __missing__(self, number: float) -> str:
        text = self[number] = f"{number:.1f}"
        return text


def _box(tenths: _Tenths, x: float, y: float, width: float, height: float) -> str:
    across = tenths[width]
    return f"M{tenths[x]} {y:.1f}h{across}v{height:.1f}h-{across}z"


def _texts(words: Iterable[str]) -> str:
    return (
        f'<g class="f-quiet" fill="{TONES["quiet"]}" font-size="{FONT_SIZE}" '
        f'font-family="sans-serif">{"".join(words)}</g>'
    )


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
        case Stems(base, at):
            return [Line(x, base, x, y, strokeColor=mark, strokeWidth=1.5) for x, y in at]
        case Marks("dot", at):
            return [Circle(x, y, 4.5, fillColor=mark, strokeColor=None) for x, y in at]
        case Marks("ring", at):
            return [
                Circle(x, y, 3.5, fillColor=white, strokeColor=ink, strokeWidth=1.5) for x, y in at
            ]
        case Marks("bar", at):
            return [Line(x - 4, y, x + 4, y, strokeColor=ink, strokeWidth=3) for x, y in at]
        case Marks("plus", at):
            return [
                Line(*ends, strokeColor=ink, strokeWidth=1.5)
                for x, y in at
                for ends in ((x - 3.5, y, x + 3.5, y), (x, y - 3.5, x, y + 3.5))
            ]
        case Marks(kind, at):
            return [
                Polygon(
                    [*chain.from_iterable(_corners(kind, x, y))],
                    fillColor=white,
                    strokeColor=ink,
                    strokeWidth=1.5,
                )
                for x, y in at
            ]
