"""A review in two plain sentences: did it happen, and at what cost in pain."""

from clinic.templatetags.words import percent, short_day
from logs.pain_words import trend_words
from logs.review import ReviewContext
from logs.tally import SessionAdherence


def summary(review: ReviewContext) -> tuple[str, str]:
    """Return what the figures say, in one sentence about sessions and one about pain."""
    return _sessions(review.sessions), _pain(review)


def _sessions(found: SessionAdherence) -> str:
    extra = f"; {found.extra} more {_was(found.extra)} extra" if found.extra else ""
    if not found.due:
        return f"Nothing was due on these days{extra}."
    heard = found.heard
    if not heard.due:
        return (
            f"{found.done} of {found.due} sessions due {_was(found.done)} done so far, but no day "
            f"with a session due has been heard from yet, so there is no percentage{extra}."
        )
    said = f"{heard.done} of {heard.due} sessions due were done ({percent(found.percent)})"
    if found.unheard:
        said = (
            f"On the days heard from, {said}; over all days it is between "
            f"{percent(found.lower_percent)} and {percent(found.upper_percent)}, "
            f"as {found.unheard} {_was(found.unheard, 'is', 'are')} still unheard"
        )
    return f"{said}{extra}."


def _pain(review: ReviewContext) -> str:
    peaks = [(day.peak, day.day) for day in review.pain if day.peak is not None]
    if not peaks:
        return "No pain score during or after exercise was given."
    highest = max(peak for peak, _ in peaks)
    days = [day for peak, day in peaks if peak == highest]
    when = f"on {short_day(days[-1])}" if len(days) == 1 else f"on {len(days)} days"
    return (
        f"Pain during or after exercise was at most {highest} of 10, {when}; "
        f"worst pain during: {trend_words(review.worst_trend)}."
    )


def _was(count: int, one: str = "was", more: str = "were") -> str:
    return one if count == 1 else more
