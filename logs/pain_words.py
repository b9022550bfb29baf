"""Pain in words: what a trend shows, what a change amounts to, what zones and limits mean.

Pure.
"""

from collections.abc import Sequence
from statistics import median

from logs.pain import ImportantDifference, PainChange, PainLimits, PainTrend, Series, Verdict, Zone
from logs.trend import Shown

SERIES_WORDS = {
    Series.BEFORE: "before",
    Series.WORST: "worst during",
    Series.AFTER: "after",
    Series.NEXT_MORNING: "next morning",
}


def trend_words(trend: PainTrend) -> str:
    """Return what a trend shows in words, with its slope where one may be named.

    A trend is indicative only, as days in a row are not independent.
    """
    if trend.shows is Shown.TOO_FEW or trend.per_week is None:
        return Shown.TOO_FEW.value
    between = ""
    if trend.lower_per_week is not None and trend.upper_per_week is not None:
        limits = signed(trend.lower_per_week), signed(trend.upper_per_week)
        between = f", 95\N{NO-BREAK SPACE}% interval {limits[0]} to {limits[1]}"
    return (
        f"{trend.shows.value} (median slope {signed(trend.per_week)} a week{between}; indicative)"
    )


def change_words(change: PainChange) -> str:
    """Return a change from one end to the other in words; from 0 there is no percentage.

    >>> from logs.pain import pain_change
    >>> change_words(pain_change(6, 4))
    'from 6 to 4: −2 points, −33\xa0%; clinically important improvement'
    >>> change_words(pain_change(0, 1.5))
    'from 0 to 1.5: +1.5 points, no percentage from 0; no important change'
    >>> change_words(pain_change(None, 4))
    'not known'
    """
    if change.start is None or change.present is None or change.points is None:
        return Verdict.NOT_KNOWN.value
    if change.percent is None:
        share = "no percentage from 0"
    else:
        share = f"{_signed_whole(change.percent)}\N{NO-BREAK SPACE}%"
    points = signed(change.points)
    return (
        f"from {change.start:g} to {change.present:g}: {points} point{_s(change.points)}, {share}; "
        f"{change.verdict.value}"
    )


def difference_words(difference: ImportantDifference) -> str:
    """Return how much less matters.

    >>> difference_words(ImportantDifference()), difference_words(ImportantDifference(1, None))
    ('2 points and 30\xa0%', '1 point')
    """
    points = f"{difference.points:g} point{_s(difference.points)}"
    if difference.percent is None:
        return points
    return f"{points} and {difference.percent:g}\N{NO-BREAK SPACE}%"


def reached_words(verdict: Verdict) -> str:
    """Return whether a published difference is reached."""
    return {
        Verdict.IMPROVED: "reached",
        Verdict.POSSIBLE: "one of the two reached",
        Verdict.NOT_KNOWN: "not known",
    }.get(verdict, "not reached")


def effort_words(efforts: Sequence[int]) -> str:
    """Return how hard sessions were, 0 to 10 in the patient's view; empty where nobody said.

    >>> effort_words([3, 7, 4]), effort_words([5]), effort_words([])
    ('median 4, from 3 to 7, in 3 sessions', '5, in 1 session', '')
    """
    if not efforts:
        return ""
    counted = f"in {len(efforts)} session{_s(len(efforts))}"
    if min(efforts) == max(efforts):
        return f"{efforts[0]}, {counted}"
    return f"median {median(efforts):g}, from {min(efforts)} to {max(efforts)}, {counted}"


def zone_words(zone: Zone, limits: PainLimits) -> str:
    """Return a zone with its ends.

    >>> [zone_words(zone, PainLimits()) for zone in Zone]
    ['safe (0 to 2)', 'acceptable (3 to 5)', 'high (6 to 10)']
    >>> [zone_words(zone, PainLimits(2, 3)) for zone in Zone]
    ['safe (0 to 2)', 'acceptable (3)', 'high (4 to 10)']
    """
    ends = {
        Zone.SAFE: (0, limits.safe_to),
        Zone.ACCEPTABLE: (limits.safe_to + 1, limits.acceptable_to),
        Zone.HIGH: (limits.acceptable_to + 1, 10),
    }[zone]
    if ends[0] > ends[1]:
        return f"{zone.label} (none)"
    between = f"{ends[0]}" if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"
    return f"{zone.label} ({between})"


SETTLED_WORDS = {True: "settled", False: "did not settle", None: "not known"}
"""Whether the next morning was back; a missing answer is never 'settled'."""


def short_trend_words(trend: PainTrend | None) -> str:
    """Return which way a trend goes, by how much a week; empty where none is shown.

    Where most days are alike the median slope is 0, though the rest rise or fall.
    """
    if trend is None or trend.per_week is None or trend.shows not in {Shown.RISING, Shown.FALLING}:
        return ""
    slope = signed(trend.per_week)
    return trend.shows.value if slope == "0" else f"{trend.shows.value} {slope} a week"


def signed(points: float) -> str:
    """Points with one decimal and their sign; none for 0.

    >>> signed(-0.44), signed(0.04), signed(1)
    ('−0.4', '0', '+1')
    """
    shown = round(points, 1)
    return f"{shown:+g}".replace("-", "−") if shown else "0"


def _signed_whole(value: float) -> str:
    shown = round(value)
    return f"{shown:+d}".replace("-", "−") if shown else "0"


def _s(count: float) -> str:
    return "" if abs(round(count, 1)) == 1 else "s"
