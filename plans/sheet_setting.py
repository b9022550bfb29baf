"""How sheets are set: paper, type, styles, and the pieces that pages are built from.

Pure. Type is DejaVu Sans, embedded: never below 12 points on a normal sheet, 16 on a large one.
Black on white with two greys, so that any printer will do. Text that someone typed reaches a page
only through :func:`paragraph`, which shows it as it is, whatever it looks like.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from reportlab.graphics.shapes import STATE_DEFAULTS
from reportlab.lib.colors import Color, black, white
from reportlab.lib.pagesizes import A4, LETTER, landscape
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Flowable, Paragraph, Table

FONTS = Path(__file__).resolve().parent / "fonts"
PLAIN, BOLD = "DejaVuSans", "DejaVuSans-Bold"
RULE = Color(0.55, 0.55, 0.55)
BAND = Color(0.92, 0.92, 0.92)
MARGIN = 17 * mm


@cache
def load_fonts() -> None:
    """Make the fonts known to reportlab, once a process."""
    for name in (PLAIN, BOLD):
        pdfmetrics.registerFont(TTFont(name, FONTS / f"{name}.ttf"))
    pdfmetrics.registerFontFamily(PLAIN, normal=PLAIN, bold=BOLD, italic=PLAIN, boldItalic=BOLD)
    # A drawing begins with a font that it may never use; one that can't be embedded is named then.
    STATE_DEFAULTS["fontName"] = PLAIN


@dataclass(frozen=True)
class Setting:
    """The paper and the size of the type; lengths in points.

    ``tight`` sets lines closer, for what would not fit a page otherwise; the type stays as large.
    """

    letter: bool = False
    large: bool = False
    tight: bool = False

    @property
    def upright(self) -> tuple[float, float]:
        """The paper, upright: width and height."""
        width, height = LETTER if self.letter else A4
        return float(width), float(height)

    @property
    def across(self) -> tuple[float, float]:
        """The paper, turned."""
        width, height = landscape(self.upright)
        return float(width), float(height)

    @property
    def size(self) -> float:
        """The size of the text that everything else is measured by."""
        return 16 if self.large else 12

    @property
    def leading(self) -> float:
        """From line to line of that text."""
        return self.size * (1.2 if self.tight else 1.38)

    @property
    def gap(self) -> float:
        """A small space."""
        return self.size * (0.35 if self.tight else 0.5)

    def style(self, scale: float = 1, *, bold: bool = False, **more: Any) -> ParagraphStyle:
        """Return the style of text ``scale`` times the usual size."""
        size = self.size * scale
        return ParagraphStyle(
            "sheet",
            fontName=BOLD if bold else PLAIN,
            fontSize=size,
            leading=self.leading if scale == 1 else size * 1.22,
            bulletFontName=PLAIN,
            bulletFontSize=size,
            **more,
        )


def paragraph(
    text: str, style: ParagraphStyle, *, lead: str = "", bullet: str | None = None
) -> Paragraph:
    """Return typed text as it stands, after a lead in bold where there is one."""
    shown = "<br/>".join(escape(line) for line in text.splitlines() or [""])
    if lead:
        shown = f'<font name="{BOLD}">{escape(lead)}</font> {shown}'
    return Paragraph(shown, style, bulletText=bullet)


def text_width(text: str, style: ParagraphStyle) -> float:
    """Return the width of one line of text, in points."""
    return float(pdfmetrics.stringWidth(text, style.fontName, style.fontSize))


def clipped(text: str, font: str, size: float, room: float) -> str:
    """Return as much of a text as fits a width in points, with an ellipsis where it was cut."""
    if pdfmetrics.stringWidth(text, font, size) <= room:
        return text
    while text and pdfmetrics.stringWidth(f"{text}…", font, size) > room:
        text = text[:-1]
    return f"{text.rstrip()}…"


def height_of(parts: Sequence[Flowable], width: float) -> float:
    """Return how high flowables are, one above the other."""
    return sum(float(part.wrapOn(None, width, 10_000)[1]) for part in parts)


def columns(cells: Sequence[Any], widths: Sequence[float], *, valign: str = "TOP") -> Table:
    """Return flowables side by side, without padding."""
    commands = [
        ("FONT", (0, 0), (-1, -1), PLAIN),  # the table's own default is not embedded
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
        ("VALIGN", (0, 0), (-1, -1), valign),
    ]
    return Table([list(cells)], colWidths=list(widths), style=commands, hAlign="LEFT")


class Stack(Flowable):  # type: ignore[misc]  # reportlab has no types
    """Flowables one above the other that stay on one page, in a frame where asked.

    ``tallest`` is the most that a page can hold: what is taller flows on, rather than fail.
    ``edge`` is the width of the line around, ``pad`` the space inside it. ``apart`` is the space
    to what stands above on the same page, with a thin line in its middle.
    """

    def __init__(
        self,
        parts: Sequence[Flowable],
        *,
        tallest: float,
        bookmark: str = "",
        pad: float = 0,
        edge: float = 0,
        fill: Color | None = None,
        apart: float = 0,
    ) -> None:
        super().__init__()
        self.apart = apart
        self.parts = parts
        self.tallest = tallest
        self.bookmark = bookmark
        self.pad = pad
        self.edge = edge
        self.fill = fill

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Measure the parts, with the space before each but the first."""
        self.sizes = [p.wrapOn(self.canv, width - 2 * self.pad, height) for p in self.parts]
        self.before = [0.0, *(float(part.getSpaceBefore()) for part in self.parts[1:])]
        self.width = width
        self.height = sum(h for _, h in self.sizes) + sum(self.before) + 2 * self.pad
        return width, self.height

    def getSpaceBefore(self) -> float:
        """Return the space above; a page's first block has none."""
        return self.apart

    def split(self, width: float, height: float) -> list[Flowable]:
        """Go to the next page whole, unless no page can hold it."""
        self.wrap(width, height)
        return list(self.parts) if self.height > self.tallest else []

    def draw(self) -> None:
        """Draw the frame, then the parts from the top."""
        if self.apart and self._stands_below_something():
            self.canv.setStrokeColor(RULE)
            self.canv.setLineWidth(0.6)
            y = self.height + self.apart / 2
            self.canv.line(0, y, self.width, y)
        if self.bookmark:
            mark(self.canv, self.bookmark)
        if self.fill:
            self._rectangle(fill=1)
        top = self.height - self.pad
        for part, (_, height), before in zip(self.parts, self.sizes, self.before, strict=True):
            top -= height + before
            part.drawOn(self.canv, self.pad, top)
        if self.edge:  # above what the parts fill
            self._rectangle(stroke=1)

    def _rectangle(self, *, fill: int = 0, stroke: int = 0) -> None:
        self.canv.saveState()
        self.canv.setFillColor(self.fill or white)
        self.canv.setStrokeColor(black)
        self.canv.setLineWidth(self.edge)
        self.canv.rect(0, 0, self.width, self.height, fill=fill, stroke=stroke)
        self.canv.restoreState()

    def _stands_below_something(self) -> bool:
        _, y = self.canv.absolutePosition(0, self.height + self.apart)
        return bool(y < self.canv._pagesize[1] - MARGIN - self.apart)


def mark(canv: Any, title: str) -> None:
    """Put a bookmark on the place where drawing stands now."""
    key = f"{canv.getPageNumber()} {title}"
    canv.bookmarkPage(key)
    canv.addOutlineEntry(title, key, 0)


class PainScale(Flowable):  # type: ignore[misc]  # reportlab has no types
    """The numbers 0 to 10 in boxes: plain up to the limit, black above it."""

    def __init__(self, limit: int, setting: Setting) -> None:
        super().__init__()
        self.limit = limit
        self.setting = setting

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Take the whole width."""
        self.width, self.height = width, self.setting.size * 2
        return self.width, self.height

    def draw(self) -> None:
        """Draw the boxes; the words beside them say the limit too."""
        canv, size = self.canv, self.setting.size
        box = self.width / 11
        canv.setLineWidth(1)
        canv.setStrokeColor(black)
        canv.setFont(BOLD, size)
        for number in range(11):
            above = number > self.limit
            canv.setFillColor(black if above else white)
            canv.rect(number * box, 0, box, self.height, fill=1)
            canv.setFillColor(white if above else black)
            canv.drawCentredString((number + 0.5) * box, self.height / 2 - size * 0.36, str(number))


class Disc(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A number in a black disc."""

    def __init__(self, text: str, size: float) -> None:
        super().__init__()
        self.text = text
        self.size = size

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Take a square a little larger than the number."""
        self.width = self.height = self.size * 1.75
        return self.width, self.height

    def draw(self) -> None:
        """Draw the disc and the number in its middle."""
        draw_disc(self.canv, self.width / 2, self.height / 2, self.text, self.size)


def draw_disc(canv: Any, x: float, y: float, text: str, size: float) -> None:
    """Draw a number in a black disc around a point."""
    canv.saveState()
    canv.setFillColor(black)
    canv.circle(x, y, size * 0.86, fill=1, stroke=0)
    canv.setFillColor(white)
    canv.setFont(BOLD, size)
    canv.drawCentredString(x, y - size * 0.36, text)
    canv.restoreState()
