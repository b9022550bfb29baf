"""What a stop sign holds: occasions from the next one of a day until the clinic has answered.

Pure. A held occasion is neither due nor missed, and is counted apart. Occasions are an order, so a
hold begins and ends at an occasion of a day, not at a time.

>>> from datetime import date
>>> hold = Hold(date(2026, 3, 4), 2, end_day=date(2026, 3, 6), end_number=1)
>>> [hold.covers(date(2026, 3, day), number) for day, number in ((4, 1), (4, 2), (5, 1), (6, 1))]
[False, True, True, False]
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

AFTER_ALL = 13
"""The number after a day's last possible occasion: a hold from here on begins the day after."""


@dataclass(frozen=True, slots=True)
class Hold:
    """From an occasion of a day on; until the occasion that is due again, open without one."""

    first_day: date
    first_number: int
    end_day: date | None = None
    end_number: int = 1

    @property
    def is_open(self) -> bool:
        """Whether nobody has said yet when it ends."""
        return self.end_day is None

    def covers(self, day: date, number: int) -> bool:
        """Whether it holds that occasion."""
        if (day, number) < (self.first_day, self.first_number):
            return False
        return self.end_day is None or (day, number) < (self.end_day, self.end_number)

    def covers_any(self, day: date) -> bool:
        """Whether it holds some occasion of a day."""
        if day < self.first_day or (self.end_day is not None and self.end_day < day):
            return False
        first = self.first_number if day == self.first_day else 1
        end = self.end_number if day == self.end_day else AFTER_ALL
        return first < min(end, AFTER_ALL)

    def is_partial_on(self, day: date) -> bool:
        """Whether some occasion of a day may be held and another not: its first and last day."""
        return (day == self.first_day and self.first_number > 1) or (
            day == self.end_day and self.end_number > 1
        )


def held_numbers(
    holds: Collection[Hold], asked: Iterable[tuple[date, int | None]]
) -> frozenset[tuple[date, int]]:
    """Return those of the days and numbers asked that any of the holds covers.

    Ask for the occasions that a plan makes and for the sessions that were told: one done on a
    held number is extra, also where the plan has no such number.
    """
    return frozenset(
        (day, number)
        for day, number in (asked if holds else ())
        if number is not None and any(hold.covers(day, number) for hold in holds)
    )
