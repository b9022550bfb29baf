"""What a plan makes due, as the few spans of days on which nothing changes.

Pure. A span says the same as `plans.schedule.occasions` does day by day; it is what is kept ready
for reports over many patients.
"""

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise
from typing import NamedTuple

from plans.schedule import PauseSpan, Version, version_on

BITS_A_WEEKDAY = 4
"""Enough for the most sessions that a line can have in a day, which is 12."""


class DueSpan(NamedTuple):
    """Days, both ends included, with one version in force, all of them paused or none.

    Without a ``last_day`` it goes on. ``since`` is the first day of the version. ``occasions`` has
    four bits a weekday, Monday lowest: how many occasions the version has on such a day, whether
    it is paused or not. A version without lines has none.
    """

    first_day: date
    last_day: date | None
    version: int
    since: date
    is_paused: bool
    occasions: int

    def due_on(self, day: date) -> int:
        """How many occasions are due on a day of it."""
        return 0 if self.is_paused else on_weekday(self.occasions, day.weekday())


def on_weekday(occasions: int, weekday: int) -> int:
    """Return the number that four bits a weekday hold for one, Monday being 0.

    >>> [on_weekday(0x0000_312, weekday) for weekday in range(4)]
    [2, 1, 3, 0]
    """
    return occasions >> (BITS_A_WEEKDAY * weekday) & ((1 << BITS_A_WEEKDAY) - 1)


def due_spans(versions: Sequence[Version], pauses: Sequence[PauseSpan]) -> tuple[DueSpan, ...]:
    """Return the spans of a plan in order, from the first version's first day on, without a gap."""
    if not versions:
        return ()
    first_day = min(version.first_day for version in versions)
    cuts = {version.first_day for version in versions}
    cuts |= {pause.first_day for pause in pauses}
    cuts |= {pause.last_day + timedelta(1) for pause in pauses if pause.last_day}
    days: list[date | None] = [*sorted(cut for cut in cuts if cut >= first_day), None]
    spans: list[DueSpan] = []
    for first, after in pairwise(days):
        in_force = version_on(versions, first) if first else None
        if first is None or in_force is None:
            continue
        span = DueSpan(
            first_day=first,
            last_day=after and after - timedelta(1),
            version=in_force.number,
            since=in_force.first_day,
            is_paused=any(first in pause for pause in pauses),
            occasions=_occasions(in_force),
        )
        if spans and spans[-1][2:] == span[2:]:
            span = span._replace(first_day=spans.pop().first_day)
        spans.append(span)
    return tuple(spans)


def _occasions(version: Version) -> int:
    found = 0
    for weekday in range(7):
        most = max(
            (line.sessions_per_day for line in version.lines if weekday in line.weekdays), default=0
        )
        found |= most << (BITS_A_WEEKDAY * weekday)
    return found
