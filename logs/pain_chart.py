"""Pain by day as a small chart: what it is made of, and its writer as SVG.

Pure. Worst during is a filled dot on a stem, after a ring, before a short bar, next morning a
diamond: they are told apart by shape, so the chart holds in greyscale. A day without a score has no
mark. Tones are names; a style sheet may give each its own colour by its class, what is written
here holds without one. There is no style attribute, so a strict content policy lets it pass.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from html import escape

from logs.pain import DayPain, PainTrend, Series
from logs.trend import Shown
from plans.schedule import PauseSpan, Version, Window, version_on

WIDTH, HEIGHT = 560, 232
LEFT, RIGHT, TOP, BOTTOM = 30, 8, 44, 206
TONES = {"ink": "#221d26", "quiet": "#5b5363", "line": "#d9d1db", "mark": "#6d2a5f"}
MARKS = {
    Series.BEFORE: ("bar", "before"),
    Series.WORST: ("dot", "worst during"),
    Series.AFTER: ("ring", "after"),
    Series.NEXT_MORNING: ("diamond", "next morning"),
}


@dataclass(frozen=True, slots=True)
class Mark:
    """One sign of the chart: a dot, ring, bar or diamond."""

    kind: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line; a dashed one has room between its dashes."""

    x1: float
    y1: float
    x2: float
    y2: float
    tone: str
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Word:
    """Text whose baseline begins (or ends, or has its middle) at a place."""

    text: str
    x: float
    y: float
    anchor: str = "start"


@dataclass(frozen=True, slots=True)
class Band:
    """Days on which the plan was paused."""

    x: float
    width: float


type Shape = Mark | Stroke | Word | Band


def pain_chart(
    *,
    days: Sequence[DayPain],
    trend: PainTrend,
    versions: Sequence[Version],
    pauses: Iterable[PauseSpan],
    window: Window,
) -> tuple[Shape, ...]:
    """Return the shapes of the chart: the day's highest of each series, pauses and versions."""
    all_days = window.days()
    step = (WIDTH - LEFT - RIGHT) / len(all_days)

    def x_of(day: date) -> float:
        return LEFT + step * ((day - window.first_day).days + 0.5)

    shapes: list[Shape] = []
    for pause in pauses:
        first = max(pause.first_day, window.first_day)
        last = min(pause.last_day or window.last_day, window.last_day)
        if first <= last:
            shapes.append(Band(x_of(first) - step / 2, step * ((last - first).days + 1)))
            shapes.append(Word("paused", x_of(first) - step / 2 + 2, TOP + 11))
    for level in range(0, 11, 2):
        shapes.append(Stroke(LEFT, _y(level), WIDTH - RIGHT, _y(level), "line"))
        shapes.append(Word(str(level), LEFT - 6, _y(level) + 4, "end"))
    shapes += _axis(all_days, x_of)
    shapes += _versions(versions, all_days, x_of, step)
    slots = {
        Series.BEFORE: -0.27,
        Series.WORST: -0.09,
        Series.AFTER: 0.09,
        Series.NEXT_MORNING: 0.27,
    }
    for day in days:
        for series, slot in slots.items():
            score = day.highest(series)
            if score is None:
                continue
            x = x_of(day.day) + slot * min(step, 30)
            if series is Series.WORST:
                shapes.append(Stroke(x, _y(0), x, _y(score), "mark"))
            shapes.append(Mark(MARKS[series][0], x, _y(score)))
    shapes += _trend(trend, x_of)
    shapes += _legend()
    return tuple(shapes)


def _y(score: float) -> float:
    return BOTTOM - (BOTTOM - TOP) * score / 10


def _axis(days: Sequence[date], x_of: Callable[[date], float]) -> list[Shape]:
    """Ticks: each day of a short window, else Mondays, as many as have room."""
    mondays = [day for day in days if day.weekday() == 0]
    ticks = list(days) if len(days) <= 9 else mondays
    every = -(-len(ticks) // 8) or 1
    shapes: list[Shape] = []
    for day in ticks[::every]:
        shapes.append(Stroke(x_of(day), BOTTOM, x_of(day), BOTTOM + 5, "quiet"))
        shapes.append(Word(f"{day.day} {day:%b}", x_of(day), BOTTOM + 18, "middle"))
    return shapes


def _versions(
    versions: Sequence[Version], days: Sequence[date], x_of: Callable[[date], float], step: float
) -> list[Shape]:
    """A dashed line where another version takes effect."""
    shapes: list[Shape] = []
    before = version_on(versions, days[0] - timedelta(days=1))
    for day in days:
        now = version_on(versions, day)
        if now and now != before:
            x = x_of(day) - step / 2
            shapes.append(Stroke(x, TOP - 10, x, BOTTOM, "quiet", dashed=True))
            shapes.append(Word(f"version {now.number}", x + 3, TOP - 3))
        before = now
    return shapes


def _trend(trend: PainTrend, x_of: Callable[[date], float]) -> list[Shape]:
    """The fitted line, only where the test shows a trend."""
    found = trend.statistics
    if trend.shows not in (Shown.RISING, Shown.FALLING) or found.slope is None:
        return []
    if found.intercept is None:
        return []
    (first, _), (last, _) = trend.days[0], trend.days[-1]
    ends = [found.intercept, found.intercept + found.slope * (last - first).days]
    start, end = (min(10, max(0, value)) for value in ends)
    return [Stroke(x_of(first), _y(start), x_of(last), _y(end), "ink", dashed=True)]


def _legend() -> list[Shape]:
    shapes: list[Shape] = []
    x = LEFT + 4.0
    for kind, words in MARKS.values():
        shapes.append(Mark(kind, x, 12))
        shapes.append(Word(words, x + 9, 16))
        x += 26 + 6.6 * len(words)
    return shapes


def svg(shapes: Iterable[Shape], title: str) -> str:
    """Return the shapes as one SVG element, with ``title`` as what it shows."""
    drawn = "".join(map(_svg_shape, shapes))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="0 0 {WIDTH} {HEIGHT}" '
        f'role="img"><title>{escape(title)}</title><g font-size="12" '
        f'font-family="sans-serif" stroke-width="1.5">{drawn}</g></svg>'
    )


def _svg_shape(shape: Shape) -> str:
    match shape:
        case Band(x, width):
            return (
                f'<rect class="f-line" fill="{TONES["line"]}" fill-opacity="0.5" x="{x:.1f}" '
                f'y="{TOP}" width="{width:.1f}" height="{BOTTOM - TOP}"/>'
            )
        case Stroke(x1, y1, x2, y2, tone, dashed):
            dash = ' stroke-dasharray="5 4"' if dashed else ""
            return (
                f'<line class="s-{tone}" stroke="{TONES[tone]}" x1="{x1:.1f}" y1="{y1:.1f}" '
                f'x2="{x2:.1f}" y2="{y2:.1f}"{dash}/>'
            )
        case Word(text, x, y, anchor):
            return (
                f'<text class="f-quiet" fill="{TONES["quiet"]}" x="{x:.1f}" y="{y:.1f}" '
                f'text-anchor="{anchor}">{escape(text)}</text>'
            )
        case Mark("dot", x, y):
            return (
                f'<circle class="f-mark" fill="{TONES["mark"]}" cx="{x:.1f}" cy="{y:.1f}" r="4.5"/>'
            )
        case Mark("ring", x, y):
            return (
                f'<circle class="s-ink f-card" fill="#ffffff" stroke="{TONES["ink"]}" '
                f'cx="{x:.1f}" cy="{y:.1f}" r="3.5"/>'
            )
        case Mark("bar", x, y):
            return (
                f'<line class="s-ink" stroke="{TONES["ink"]}" stroke-width="3" x1="{x - 4:.1f}" '
                f'y1="{y:.1f}" x2="{x + 4:.1f}" y2="{y:.1f}"/>'
            )
        case Mark(_, x, y):
            return (
                f'<path class="s-ink f-card" fill="#ffffff" stroke="{TONES["ink"]}" '
                f'd="M{x:.1f} {y - 4.5:.1f}l4.5 4.5l-4.5 4.5l-4.5 -4.5z"/>'
            )
