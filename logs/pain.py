"""What the patient's pain says: zones, settling, change and trend.

Pure. Scores are whole numbers from 0, no pain, to 10, the worst possible pain (numeric rating
scale; Farrar et al. 2001, Pain 94:149-158). 0 is a value; no answer is None, and is never a point,
never "settled", never a zone.

A day may have several entries. Its highest score serves zones, flags, stops and change, as one bad
session must not drown in good ones; its median serves the trend only.

>>> monday = date(2026, 3, 2)
>>> days = pain_days(
...     [
...         PainReport("x", monday, before=2, worst=5, after=3, next_morning=None),
...         PainReport("y", monday, before=2, worst=6, after=2, next_morning=3, named=("a",)),
...     ],
...     Window(monday, monday),
... )
>>> days[0].highest(Series.WORST), days[0].median(Series.WORST), days[0].zone().label
(6, 5.5, 'high')
>>> days[0].has_settled()
False

From 6 to 4 is 2 points and a third less, from 8 to 6 as many points but only a quarter:

>>> pain_change(6, 4).verdict.value, pain_change(8, 6).verdict.value
('clinically important improvement', 'possible improvement')
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import IntEnum, StrEnum
from functools import cached_property
from operator import attrgetter
from statistics import median

from logs.trend import Shown, Trend, trend
from plans.schedule import Window

FEWEST_DAYS = 3
"""Days with a score that each end of a change needs (common practice, no source)."""

SPAN_DAYS = 7
"""Length of each end of a change (common practice, no source)."""


class Series(StrEnum):
    """When a score was for. Series are never mixed."""

    BEFORE = "before"
    WORST = "worst"
    AFTER = "after"
    NEXT_MORNING = "next_morning"


SERIES = tuple(Series)


class Zone(IntEnum):
    """How a day's pain stands to the limits, in order."""

    SAFE = 0
    ACCEPTABLE = 1
    HIGH = 2

    @property
    def label(self) -> str:
        """The zone in a word."""
        return self.name.lower()


@dataclass(frozen=True, slots=True)
class PainLimits:
    """Where zones end, and by how much the next morning may exceed the score before.

    The limits are the clinic's to edit. The defaults are those of the pain-monitoring model
    (Thomee 1997, Phys Ther 77:1690-1703; Silbernagel et al. 2007, Am J Sports Med 35:897-906;
    zones from memory): up to 2 safe, up to 5 acceptable, and back down by the next morning. The
    model comes from knee and Achilles tendon; elsewhere its use is the therapist's decision.
    """

    safe_to: int = 2
    acceptable_to: int = 5
    settled_within: int = 0

    def __post_init__(self) -> None:
        if not 0 <= self.safe_to <= self.acceptable_to <= 10 or self.settled_within < 0:
            raise ValueError("zones end in order between 0 and 10, and settling has no less than 0")

    def zone_of(self, score: int | None) -> Zone | None:
        """The zone of a score; None without one."""
        if score is None:
            return None
        if score <= self.safe_to:
            return Zone.SAFE
        return Zone.ACCEPTABLE if score <= self.acceptable_to else Zone.HIGH


USUAL_LIMITS = PainLimits()


@dataclass(frozen=True, slots=True)
class ImportantDifference:
    """How much less pain matters: points and, where the source has it, per cent of the start.

    By default 2 points and 30 % (Farrar et al. 2001, chronic pain, 2724 people in ten trials).
    ``of`` says in whom it was found, and what it was called there.
    """

    points: float = 2.0
    percent: float | None = 30.0
    source: str = "Farrar et al. 2001, Pain 94:149-158"
    of: str = "chronic pain, 2724 people: clinically important"


USUAL_DIFFERENCE = ImportantDifference()

PUBLISHED_DIFFERENCES = (
    USUAL_DIFFERENCE,
    ImportantDifference(
        1.0,
        15.0,
        "Salaffi et al. 2004, Eur J Pain 8:283-291",
        "chronic musculoskeletal pain, 825 people: slightly better",
    ),
    ImportantDifference(
        2.0,
        33.0,
        "Salaffi et al. 2004, Eur J Pain 8:283-291",
        "chronic musculoskeletal pain, 825 people: much better",
    ),
    ImportantDifference(
        2.17,
        None,
        "Michener et al. 2011, J Sport Rehabil 20:115-128",
        "shoulder pain, 136 people, mean of rest, usual and strenuous activity: important",
    ),
    ImportantDifference(
        1.5,
        None,
        "Abbott & Schmitt 2014, J Orthop Sports Phys Ther 44:560-564",
        "musculoskeletal, 1708 people: small change",
    ),
    ImportantDifference(
        3.5,
        None,
        "Abbott & Schmitt 2014, J Orthop Sports Phys Ther 44:560-564",
        "musculoskeletal, 1708 people: large change",
    ),
)
"""What has been published of how much less pain matters; people and measures differ."""


class Verdict(StrEnum):
    """What a change of pain amounts to."""

    IMPROVED = "clinically important improvement"
    POSSIBLE = "possible improvement"
    UNCHANGED = "no important change"
    WORSE = "worse, review"
    NOT_KNOWN = "not known"


_ANSWERS = frozenset([None, *range(11)])
_KINDS = frozenset([int, type(None)])  # True and 1.0 equal 1 and are no scores


@dataclass(frozen=True, slots=True)
class PainReport:
    """The scores of one entry, and the lines that the patient named the pain with.

    ValueError if a score is no whole number from 0 to 10.
    """

    entry: str
    day: date
    before: int | None = None
    worst: int | None = None
    after: int | None = None
    next_morning: int | None = None
    named: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        scores = self.before, self.worst, self.after, self.next_morning
        if _ANSWERS.issuperset(scores) and _KINDS.issuperset(map(type, scores)):
            return
        for series, score in zip(SERIES, scores, strict=True):
            if type(score) not in _KINDS or score not in _ANSWERS:
                raise ValueError(f"pain {series} is a whole number from 0 to 10, unlike {score!r}")

    @property
    def scores(self) -> tuple[int | None, ...]:
        """The answers in the order of the series."""
        return self.before, self.worst, self.after, self.next_morning

    @property
    def is_told(self) -> bool:
        """Whether there was any answer."""
        return any(score is not None for score in self.scores)


@dataclass(frozen=True)
class DayPain:
    """The reports of one day."""

    day: date
    reports: tuple[PainReport, ...]

    @cached_property
    def _scores(self) -> dict[Series, tuple[int, ...]]:
        return {
            series: tuple(
                [score for report in self.reports if (score := getattr(report, series)) is not None]
            )
            for series in SERIES
        }

    def scores(self, series: Series) -> tuple[int, ...]:
        """The answers of a series on this day."""
        return self._scores[series]

    @property
    def is_told(self) -> bool:
        """Whether there was any answer."""
        return any(self._scores.values())

    def highest(self, series: Series) -> int | None:
        """The highest answer of a series; None without any."""
        return max(self.scores(series), default=None)

    def median(self, series: Series) -> float | None:
        """The median answer of a series, for the trend only; None without any."""
        scores = self.scores(series)
        return median(scores) if scores else None

    @cached_property
    def peak(self) -> int | None:
        """The day's highest of worst during and after: what zones, flags and stops go by."""
        return max(self.scores(Series.WORST) + self.scores(Series.AFTER), default=None)

    def is_above(self, limit: int) -> bool:
        """Whether the peak is above the version's pain limit."""
        return self.peak is not None and self.peak > limit

    def zone(self, limits: PainLimits = USUAL_LIMITS) -> Zone | None:
        """The zone of the peak; None if it is not known."""
        return limits.zone_of(self.peak)

    def has_settled(self, limits: PainLimits = USUAL_LIMITS) -> bool | None:
        """Whether the next morning was back to before the exercises; None if it is not known.

        The lowest score before stands against the highest next morning, so that pain which the
        day's first session brought on does not pass as the second one's starting point.
        """
        before, morning = self.scores(Series.BEFORE), self.highest(Series.NEXT_MORNING)
        if not before or morning is None:
            return None
        return morning <= min(before) + limits.settled_within


def pain_days(reports: Iterable[PainReport], window: Window) -> tuple[DayPain, ...]:
    """Return the days of the window that have a report, in order."""
    by_day: dict[date, list[PainReport]] = defaultdict(list)
    for report in reports:
        if report.day in window:
            by_day[report.day].append(report)
    return tuple(
        DayPain(day, tuple(sorted(by_day[day], key=lambda report: report.entry)))
        for day in sorted(by_day)
    )


@dataclass(frozen=True, slots=True)
class Named:
    """How often pain was named with a line, and the highest score of those entries."""

    times: int
    highest: int | None


def named_lines(days: Iterable[DayPain]) -> dict[str, Named]:
    """Return the lines that pain was named with, the most often named first."""
    scores: dict[str, list[int | None]] = defaultdict(list)
    for day in days:
        for report in day.reports:
            answers = [s for s in (report.worst, report.after) if s is not None]
            for key in report.named:
                scores[key].append(max(answers, default=None))
    named = {
        key: Named(len(found), max((s for s in found if s is not None), default=None))
        for key, found in scores.items()
    }
    return dict(sorted(named.items(), key=lambda item: (-item[1].times, item[0])))


@dataclass(frozen=True, slots=True)
class PainChange:
    """From a starting score to a present one; ``points`` and ``percent`` below 0 are less pain.

    ``percent`` of the start is None where that is 0 or not known.
    """

    start: float | None
    present: float | None
    points: float | None
    percent: float | None
    verdict: Verdict


NO_CHANGE_KNOWN = PainChange(None, None, None, None, Verdict.NOT_KNOWN)


def pain_change(
    start: float | None,
    present: float | None,
    difference: ImportantDifference = USUAL_DIFFERENCE,
) -> PainChange:
    """Judge a change: important if it reaches points and per cent, possible if one of the two.

    From 0 there are points but no per cent. A rise by the points is worse.
    """
    if start is None or present is None:
        return PainChange(start, present, None, None, Verdict.NOT_KNOWN)
    fall = start - present
    met = [fall >= difference.points]
    if difference.percent is not None:
        met.append(start > 0 and 100 * fall >= difference.percent * start)
    if all(met):
        verdict = Verdict.IMPROVED
    elif any(met):
        verdict = Verdict.POSSIBLE
    else:
        verdict = Verdict.WORSE if -fall >= difference.points else Verdict.UNCHANGED
    percent = -100 * fall / start if start else None
    return PainChange(start, present, -fall, percent, verdict)


def change_since(
    began: date,
    days: Sequence[DayPain],
    series: Series,
    *,
    last_day: date,
    difference: ImportantDifference = USUAL_DIFFERENCE,
) -> PainChange:
    """Return the change from the first seven days since ``began`` to the last seven.

    ``days`` are in order. Each end is the median of the days' highest scores, of three days at
    least. Not known while the ends would overlap, or where one has too few days.
    """
    first_end = Window(began, began + timedelta(days=SPAN_DAYS - 1))
    last_first = last_day - timedelta(days=SPAN_DAYS - 1)
    if last_first <= first_end.last_day:
        return NO_CHANGE_KNOWN
    start = _typical(days, series, first_end)
    present = _typical(days, series, Window(last_first, last_day))
    return pain_change(start, present, difference)


def _typical(days: Sequence[DayPain], series: Series, window: Window) -> float | None:
    first = bisect_left(days, window.first_day, key=_day_of)
    last = bisect_right(days, window.last_day, key=_day_of)
    scores = [day.highest(series) for day in days[first:last]]
    known = [score for score in scores if score is not None]
    return median(known) if len(known) >= FEWEST_DAYS else None


_day_of = attrgetter("day")


@dataclass(frozen=True, slots=True)
class PainTrend:
    """The trend of the days' medians of a series, per week. Indicative: days are not independent.

    ``lower_per_week`` and ``upper_per_week`` are None where so few days bound nothing.
    """

    series: Series
    days: tuple[tuple[date, float], ...]
    per_week: float | None
    lower_per_week: float | None
    upper_per_week: float | None
    statistics: Trend

    @property
    def shows(self) -> Shown:
        """What can be said of it."""
        return self.statistics.shows


def pain_trend(days: Iterable[DayPain], series: Series, *, confidence: float = 0.95) -> PainTrend:
    """Return the trend over the days that have a score; days without one are no points.

    Time is counted in days from the first of them, so the intercept is for that day.
    """
    medians = ((day.day, day.median(series)) for day in days)
    points = [(day, score) for day, score in medians if score is not None]
    return trend_of_days(points, series, confidence=confidence)


def trend_of_days(
    points: Iterable[tuple[date, float]], series: Series, *, confidence: float = 0.95
) -> PainTrend:
    """Return the trend of one score a day, as ``pain_trend`` does."""
    points = tuple(points)
    first = min((day for day, _ in points), default=date.min)
    found = trend(
        [(day - first).days for day, _ in points],
        [score for _, score in points],
        confidence=confidence,
    )
    per_week, lower, upper = (
        None if slope is None else 7 * slope for slope in (found.slope, found.lower, found.upper)
    )
    return PainTrend(series, points, per_week, lower, upper, found)
