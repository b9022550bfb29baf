"""Which days a review looks at: the choices on its page.

Pure. Every choice ends today, as days to come say nothing.

>>> from datetime import date
>>> found = choices(today=date(2026, 3, 30), version_day=date(2026, 3, 9), first_day=None)
>>> [(choice.label, choice.window.first_day.isoformat()) for choice in found]
... # doctest: +NORMALIZE_WHITESPACE
[('Last 2 weeks', '2026-03-17'), ('Last 4 weeks', '2026-03-03'), ('Last 8 weeks', '2026-02-03'),
 ('This version', '2026-03-09')]
"""

from dataclasses import dataclass
from datetime import date, timedelta

from plans.schedule import Window

WEEKS = (2, 4, 8)
USUAL = "4w"
LONGEST_DAYS = 1100


@dataclass(frozen=True, slots=True)
class Choice:
    """A window by name; ``key`` is what stands in the page's address."""

    key: str
    label: str
    window: Window


def last_days(count: int, today: date) -> Window:
    """Return the last so many days, today included."""
    return Window(today - timedelta(days=count - 1), today)


def choices(
    *,
    today: date,
    version_day: date | None,
    first_day: date | None,
    review_day: date | None = None,
) -> tuple[Choice, ...]:
    """Return what can be chosen: weeks, the version in force, all since a day, since a review."""
    found = [
        Choice(f"{weeks}w", f"Last {weeks} weeks", last_days(7 * weeks, today)) for weeks in WEEKS
    ]
    if review_day and review_day <= today:
        earliest = max(review_day, today - timedelta(days=LONGEST_DAYS - 1))
        found.insert(0, Choice("review", "Since last review", Window(earliest, today)))
    if version_day and version_day <= today:
        found.append(Choice("version", "This version", Window(version_day, today)))
    if first_day and first_day <= today:
        earliest = max(first_day, today - timedelta(days=LONGEST_DAYS - 1))
        found.append(Choice("all", "All", Window(earliest, today)))
    return tuple(found)
