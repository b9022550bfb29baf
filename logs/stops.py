"""A reported stop sign and its answers, as values: what it holds, and whether it waits too long.

Pure. The clock of waiting begins when the clinic has received a report: before, nobody could know.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from logs.holds import Hold
from logs.thresholds import Thresholds
from plans.stop_signs import TIERS


@dataclass(frozen=True, slots=True)
class StopAnswered:
    """What a named person decided, and when; ``ends_day`` and number are due again."""

    number: int
    words: str
    sentence: str
    goes_on: bool
    ends_day: date | None
    ends_occasion: int | None
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class StopTold:
    """A stop sign as it was reported, with all answers, the first one first; the last counts."""

    uuid: UUID
    tier: str
    sign: str
    reported_at: datetime
    time_zone: str
    day: date
    from_occasion: int | None
    source: str
    note: str
    received_at: datetime
    by: str
    answers: tuple[StopAnswered, ...]

    @property
    def answer(self) -> StopAnswered | None:
        """The answer that counts."""
        return self.answers[-1] if self.answers else None

    @property
    def hold(self) -> Hold | None:
        """What it holds: open until the plan goes on; None if its tier holds nothing."""
        if self.from_occasion is None:
            return None
        answer = self.answer
        if answer is None or not answer.goes_on or answer.ends_occasion is None:
            return Hold(self.day, self.from_occasion)
        return Hold(self.day, self.from_occasion, answer.ends_day, answer.ends_occasion)

    @property
    def is_standing(self) -> bool:
        """Whether it waits for an answer, or the answer was that the plan does not go on yet."""
        return self.answer is None or not self.answer.goes_on


def holds_of(stops: tuple[StopTold, ...]) -> tuple[Hold, ...]:
    """Return what reports hold; their order does not matter."""
    return tuple(hold for stop in stops if (hold := stop.hold))


def urgency(tier: str) -> int:
    """Return the place of a tier, 0 for the most urgent; one unknown counts as that."""
    return TIERS.index(tier) if tier in TIERS else 0


def longest_wait(tier: str, limits: Thresholds) -> timedelta:
    """Return how long a report of a tier may wait before it goes to the supervisor."""
    match tier:
        case "today":
            return timedelta(minutes=limits.stop_today_minutes.value)
        case "next_visit":
            return timedelta(days=limits.stop_next_visit_days.value)
    return timedelta(minutes=limits.stop_emergency_minutes.value)
