"""Sessions, volume and pain under one time axis, so that cause and effect can be seen.

Pure. Version changes, pauses and assessments are marked through all of it. Sessions stand by day in
a window of up to nine weeks, else by week: an outline for what was due, filled for what was done,
dashed while unheard, a plus for extra ones. Volume is repetitions by week, prescribed as an outline
and done as filled, for the joints moved that have most of it. Pain is each day's highest: worst
during a dot on a stem, after a ring, before a short bar, next morning a diamond.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from logs.chart import Band, Bar, Chart, Marks, Shape, Stems, Stroke, Word
from logs.figures import SessionSums
from logs.pain import DayPain, PainTrend, Series
from logs.tally import SessionAdherence
from logs.trend import Shown
from logs.volume import VolumeRow
from plans.schedule import PauseSpan, Version, Window, version_on, versions_by_day

WIDTH, LEFT, RIGHT = 1080, 132, 10
TOP = 46
SESSIONS, STRIP, PAIN = 56, 34, 132
GAP = 26
MOST_JOINTS = 4
"""Strips of volume; the table beside the chart has every joint."""

DAYS_BY_DAY = 63
MARKS = {
    Series.BEFORE: ("bar", "before"),
    Series.WORST: ("dot", "worst during"),
    Series.AFTER: ("ring", "after"),
    Series.NEXT_MORNING: ("diamond", "next morning"),
}


@dataclass(frozen=True, slots=True)
class Together:
    """What the chart is drawn from."""

    window: Window
    sessions: SessionAdherence
    volume: Sequence[VolumeRow]
    pain: Sequence[DayPain]
    trend: PainTrend
    versions: Sequence[Version]
    pauses: Sequence[PauseSpan]
    assessed: Sequence[date]


class Axis:
    """Where days stand from left to right."""

    def __init__(self, window: Window) -> None:
        self.window = window
        self.days = window.days()
        self.step = (WIDTH - LEFT - RIGHT) / len(self.days)

    def start(self, day: date) -> float:
        """Where a day begins."""
        return LEFT + self.step * (day - self.window.first_day).days

    def middle(self, day: date) -> float:
        """The middle of a day."""
        return self.start(day) + self.step / 2

    def span(self, first: date, last: date) -> tuple[float, float] | None:
        """The place and width of days, as far as the window has them."""
        first, last = max(first, self.window.first_day), min(last, self.window.last_day)
        return (self.start(first), self.step * ((last - first).days + 1)) if first <= last else None


def together(told: Together) -> Chart:
    """Return the chart."""
    axis = Axis(told.window)
    strips = _joints(told.volume)
    volume_top = TOP + SESSIONS + GAP
    pain_top = volume_top + len(strips) * (STRIP + 12) + (GAP if strips else 0)
    bottom = pain_top + PAIN
    shapes = [
        *_pauses(told.pauses, axis, bottom),
        *_versions(told.versions, axis, bottom),
        *_assessments(told.assessed, axis, bottom),
        *_sessions(told.sessions, axis, TOP + SESSIONS),
    ]
    for place, (name, rows) in enumerate(strips):
        shapes += _strip(name, rows, axis, volume_top + place * (STRIP + 12) + STRIP)
    shapes += _pain(told, axis, pain_top, bottom)
    shapes += ticks(axis, bottom)
    shapes += _legend(bottom + 40)
    return Chart(tuple(shapes), WIDTH, bottom + 52, names_to=LEFT - 5)


def _pauses(pauses: Iterable[PauseSpan], axis: Axis, bottom: float) -> list[Shape]:
    shapes: list[Shape] = []
    for pause in pauses:
        if span := axis.span(pause.first_day, pause.last_day or axis.window.last_day):
            shapes.append(Band(span[0], TOP - 14, span[1], bottom - TOP + 14))
            shapes.append(Word("paused", span[0] + 2, TOP - 3))
    return shapes


def _versions(versions: Sequence[Version], axis: Axis, bottom: float) -> list[Shape]:
    """A dashed line where another version takes effect."""
    shapes: list[Shape] = []
    before = version_on(versions, axis.days[0] - timedelta(days=1))
    for day, now in versions_by_day(versions, axis.window):
        if now and now is not before:
            x = axis.start(day)
            shapes.append(Stroke(x, TOP - 28, x, bottom, "quiet", dashed=True))
            shapes.append(Word(f"version {now.number}", x + 3, TOP - 19))
        before = now
    return shapes


def _assessments(days: Iterable[date], axis: Axis, bottom: float) -> list[Shape]:
    shapes: list[Shape] = []
    last_x = -1000.0
    for day in sorted(set(days)):
        if day in axis.window:
            x = axis.middle(day)
            shapes.append(Stroke(x, TOP - 36, x, bottom, "line"))
            shapes.append(Marks("triangle", [(x, TOP - 38)]))
            if x - last_x > 70 and x < WIDTH - 70:
                shapes.append(Word("assessed", x + 8, TOP - 34))
                last_x = x
    return shapes


def _sessions(found: SessionAdherence, axis: Axis, base: float) -> list[Shape]:
    if len(axis.days) <= DAYS_BY_DAY:
        groups = [(day.day, day.day, SessionAdherence((day,))) for day in found.days]
        title = "Sessions a day"
    else:
        groups = [(w.days[0].day, w.days[-1].day, w) for w in found.by_week().values()]
        title = "Sessions a week"
    return session_bars(title, groups, axis, base)


def session_bars(
    title: str,
    groups: Sequence[tuple[date, date, SessionAdherence | SessionSums]],
    axis: Axis,
    base: float,
) -> list[Shape]:
    """Sessions of some days each, from their first to their last, standing on ``base``."""
    most = max((max(group.due, group.done) for *_, group in groups), default=0) or 1
    shapes: list[Shape] = [
        *_named(title, base - SESSIONS, base),
        Word(str(most), LEFT - 6, base - 40, "end"),
    ]
    each = (SESSIONS - 14) / most
    for first, last, group in groups:
        span = axis.span(first, last)
        if span is None:
            continue
        x, width = span[0] + 0.12 * axis.step, span[1] - 0.24 * axis.step
        if group.due:
            height = each * group.due
            shapes.append(Bar(x, base - height, width, height, False, dashed=bool(group.unheard)))
        if group.done:
            height = each * group.done
            shapes.append(Bar(x, base - height, width, height, True))
        if group.extra:
            y = base - each * max(group.due, group.done) - 7
            shapes.append(Marks("plus", [(x + width / 2, y)]))
    return shapes


def _joints(rows: Sequence[VolumeRow]) -> list[tuple[str, list[VolumeRow]]]:
    """The joints moved that have most repetitions, in the order of the rows."""
    found: dict[str, list[VolumeRow]] = {}
    for row in rows:
        if row.is_moved and row.motion is None:
            found.setdefault(f"{row.joint.label}, {row.side}".capitalize(), []).append(row)
    sizes = {
        name: sum(r.performed.repetitions + r.prescribed.repetitions for r in of)
        for name, of in found.items()
    }
    kept = sorted((name for name in found if sizes[name]), key=lambda name: -sizes[name])
    return [(name, found[name]) for name in found if name in kept[:MOST_JOINTS]]


def _strip(name: str, rows: Sequence[VolumeRow], axis: Axis, base: float) -> list[Shape]:
    most = max(max(r.prescribed.repetitions, r.performed.repetitions) for r in rows) or 1
    shapes: list[Shape] = [*_named(name, base - STRIP, base), Word(f"{most} a week", 4, base - 6)]
    for row in rows:
        monday = date.fromisoformat(f"{row.week}-1")
        span = axis.span(monday, monday + timedelta(days=6))
        if span is None:
            continue
        x, width = span[0] + 2, max(1.0, span[1] - 4)
        for amounts, filled in ((row.prescribed, False), (row.performed, True)):
            if amounts.repetitions:
                height = STRIP * amounts.repetitions / most
                shapes.append(Bar(x, base - height, width, height, filled))
    return shapes


def _named(name: str, top: float, base: float) -> list[Shape]:
    return [Word(name, 4, top + 12), Stroke(LEFT, base, WIDTH - RIGHT, base, "line")]


def _pain(told: Together, axis: Axis, top: float, base: float) -> list[Shape]:
    def y_of(score: float) -> float:
        return base - (base - top) * score / 10

    shapes: list[Shape] = [Word("Pain, 0 to 10", 4, top + 4)]
    heights = [y_of(score) for score in range(11)]
    for level, y in list(enumerate(heights))[::2]:
        shapes.append(Stroke(LEFT, y, WIDTH - RIGHT, y, "line"))
        shapes.append(Word(str(level), LEFT - 6, y + 4, "end"))
    apart = min(axis.step, 32)
    days = [(axis.middle(day.day), day) for day in told.pain]
    for (series, (kind, _)), slot in zip(MARKS.items(), (-0.3, -0.1, 0.1, 0.3), strict=True):
        aside = slot * apart
        at = [
            (middle + aside, heights[max(scores)])
            for middle, day in days
            if (scores := day.scores(series))
        ]
        if series is Series.WORST:
            shapes.append(Stems(base, at))
        shapes.append(Marks(kind, at))
    found = told.trend.statistics
    if (
        told.trend.shows in (Shown.RISING, Shown.FALLING)
        and found.slope is not None
        and found.intercept is not None
    ):
        (first, _), (last, _) = told.trend.days[0], told.trend.days[-1]
        ends = (found.intercept, found.intercept + found.slope * (last - first).days)
        start, end = (min(10.0, max(0.0, value)) for value in ends)
        shapes.append(
            Stroke(axis.middle(first), y_of(start), axis.middle(last), y_of(end), "ink", True)
        )
    return shapes


def ticks(axis: Axis, base: float) -> list[Shape]:
    """The days below ``base``: each of a short window, else Mondays, as many as have room."""
    mondays = [day for day in axis.days if day.weekday() == 0]
    ticks = list(axis.days) if len(axis.days) <= 14 else mondays
    every = -(-len(ticks) // 14) or 1
    shapes: list[Shape] = []
    for day in ticks[::every]:
        shapes.append(Stroke(axis.middle(day), base, axis.middle(day), base + 5, "quiet"))
        x = max(axis.middle(day), LEFT + 16)  # whole, beside what names the rows
        shapes.append(Word(f"{day.day} {day:%b}", x, base + 18, "middle"))
    return shapes


def _legend(y: float) -> list[Shape]:
    shapes: list[Shape] = []
    x = float(LEFT)
    for filled, dashed, words in (
        (True, False, "done"),
        (False, False, "due"),
        (False, True, "due, part unheard"),
    ):
        shapes.append(Bar(x, y - 5, 14, 10, filled, dashed))
        shapes.append(Word(words, x + 20, y + 4))
        x += 38 + 6.8 * len(words)
    for kind, words in (
        ("plus", "extra"),
        *MARKS.values(),
        ("triangle", "assessment"),
    ):
        shapes.append(Marks(kind, [(x + 4, y)]))
        shapes.append(Word(words, x + 14, y + 4))
        x += 32 + 6.8 * len(words)
    return shapes
