"""What the review shows of pain: days with zones, change, trends, and the lines it was named with.

Everything is put in words and order here; nothing is counted that the review does not hold.
"""

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from logs.pain import (
    FEWEST_DAYS,
    PUBLISHED_DIFFERENCES,
    SPAN_DAYS,
    DayPain,
    Series,
    Verdict,
    Zone,
    named_lines,
    pain_change,
)
from logs.pain_words import (
    SERIES_WORDS,
    SETTLED_WORDS,
    change_words,
    difference_words,
    effort_words,
    reached_words,
    trend_words,
    zone_words,
)
from logs.review import ReviewContext
from logs.review_page import newest_lines
from plans.threshold import Threshold


@dataclass(frozen=True)
class PainRow:
    """A day's scores as given, in order of the series; its zone, and whether it settled."""

    day: date
    cells: tuple[str, ...]
    zone: str
    is_high: bool
    settled: str
    effort: str = ""


@dataclass(frozen=True)
class SeriesWords:
    """One series: its change since the version began, in words."""

    name: str
    change: str
    verdict: Verdict


@dataclass(frozen=True)
class DifferenceRow:
    """One published difference, and whether the change of worst pain reaches it."""

    amount: str
    of: str
    source: str
    reached: str


@dataclass(frozen=True)
class NamedLine:
    """A line that pain was named with: how often, and the highest score of those sessions."""

    name: str
    times: int
    highest: int | None


@dataclass(frozen=True)
class PainPage:
    """The pain of a review, ready to be set; counts of days with an answer, by zone, by settling.

    ``limit`` is that of the version now in force, ``above_limit`` the days above what was the limit
    then.
    """

    days: int
    peak: int | None
    series: tuple[SeriesWords, ...]
    worst_trend: str
    began: date | None
    version: int | None
    zones: tuple[tuple[str, int], ...]
    without_peak: int
    limit: int | None
    above_limit: tuple[date, ...]
    settled: int
    unsettled: int
    unknown_mornings: int
    important: str
    differences: tuple[DifferenceRow, ...]
    limits: tuple[Threshold, ...]
    named: tuple[NamedLine, ...]
    effort: str = ""
    span_days: int = SPAN_DAYS
    fewest_days: int = FEWEST_DAYS

    @property
    def worst(self) -> SeriesWords:
        """The worst pain during exercise."""
        return self.series[list(Series).index(Series.WORST)]

    @property
    def changed(self) -> tuple[SeriesWords, ...]:
        """The series whose change since the version began is known."""
        return tuple(each for each in self.series if each.verdict is not Verdict.NOT_KNOWN)


def pain_trends(review: ReviewContext) -> tuple[tuple[str, str], ...]:
    """Return each series of scores with its trend in words."""
    return tuple((SERIES_WORDS[series], trend_words(review.trends[series])) for series in Series)


def pain_rows_of(review: ReviewContext) -> tuple[PainRow, ...]:
    """Return a row for each day with a score or an effort."""
    limits = review.limits.pain_limits
    efforts = _efforts(review)
    return tuple(
        PainRow(
            day=day.day,
            cells=tuple(", ".join(map(str, day.scores(series))) for series in Series),
            zone=zone.label if (zone := day.zone(limits)) is not None else "",
            is_high=zone is Zone.HIGH,
            settled=SETTLED_WORDS[day.has_settled(limits)],
            effort=", ".join(map(str, efforts.get(day.day, ()))),
        )
        for day in _told_days(review, efforts)
    )


def _efforts(review: ReviewContext) -> dict[date, list[int]]:
    efforts: dict[date, list[int]] = defaultdict(list)
    for day, effort in review.efforts:
        efforts[day].append(effort)
    return efforts


def _told_days(review: ReviewContext, efforts: Mapping[date, list[int]]) -> list[DayPain]:
    return [day for day in review.pain if day.is_told or day.day in efforts]


def pain_page(review: ReviewContext) -> PainPage:
    """Return what the page shows of pain, but for the rows of its table: see ``pain_rows_of``."""
    limits = review.limits.pain_limits
    days = _told_days(review, _efforts(review))
    zones = Counter(day.zone(limits) for day in days)
    mornings = Counter(day.has_settled(limits) for day in days)
    names = {key: line.name for key, line in newest_lines(review).items()}
    worst = review.changes[Series.WORST]
    return PainPage(
        days=len(days),
        peak=max((day.peak for day in days if day.peak is not None), default=None),
        series=tuple(
            SeriesWords(
                name=SERIES_WORDS[series],
                change=change_words(review.changes[series]),
                verdict=review.changes[series].verdict,
            )
            for series in Series
        ),
        worst_trend=trend_words(review.worst_trend),
        began=review.version.first_day if review.version else None,
        version=review.version.number if review.version else None,
        zones=tuple((zone_words(zone, limits), zones[zone]) for zone in Zone),
        without_peak=zones[None],
        limit=review.version.pain_limit if review.version else None,
        above_limit=tuple(day.day for day in review.above_pain_limit),
        settled=mornings[True],
        unsettled=mornings[False],
        unknown_mornings=mornings[None],
        important=difference_words(review.limits.important_difference),
        differences=tuple(
            DifferenceRow(
                amount=difference_words(difference),
                of=difference.of,
                source=difference.source,
                reached=reached_words(pain_change(worst.start, worst.present, difference).verdict),
            )
            for difference in PUBLISHED_DIFFERENCES
        ),
        limits=review.limits.of_pain(),
        named=tuple(
            NamedLine(names.get(key, key), named.times, named.highest)
            for key, named in named_lines(review.pain).items()
        ),
        effort=effort_words([effort for _, effort in review.efforts]),
    )
