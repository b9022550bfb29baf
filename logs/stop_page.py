"""What staff read of reported stop signs, in words and in order."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from logs.models import StopSource
from logs.stop_queries import OpenStop, stop_tiers
from logs.stops import StopTold, longest_wait
from logs.thresholds import Thresholds
from plans.stop_signs import sign_for_staff

TIER_WORDS = {
    "emergency": "Emergency",
    "today": "Clinic today",
    "next_visit": "Next visit",
}
"""The tiers as staff know them, the most urgent first."""

TIER_LOOK = {"emergency": "bad", "today": "warn", "next_visit": ""}


@dataclass(frozen=True)
class StopShown:
    """One reported stop sign as a page shows it."""

    told: StopTold
    tier: str
    look: str
    sign: str
    source: str

    @property
    def answer(self) -> str:
        """What the answer that counts came to."""
        return answer_words(self.told)

    @property
    def begins(self) -> str:
        """From which session of its day on it holds; empty where it holds nothing."""
        number = self.told.from_occasion
        if number is None:
            return ""
        return "the day after" if number > 12 else f"session {number}"


def answer_words(stop: StopTold) -> str:
    """Return in a few words what the answer that counts came to."""
    answer = stop.answer
    if answer is None:
        return "not answered"
    if not answer.goes_on:
        return f"{answer.words} Stays on hold."
    if answer.ends_day is None:
        return answer.words
    ends = f"{answer.ends_day:%a} {answer.ends_day.day} {answer.ends_day:%b}"
    return f"{answer.words} Went on from session {answer.ends_occasion} on {ends}."


def stops_shown(stops: Iterable[StopTold]) -> tuple[StopShown, ...]:
    """Return reports as pages show them, in the order given."""
    tiers = stop_tiers()
    return tuple(
        StopShown(
            told=stop,
            tier=TIER_WORDS.get(stop.tier, stop.tier),
            look=TIER_LOOK.get(stop.tier, "bad"),
            sign=sign_for_staff(tiers, stop.sign),
            source=f"{StopSource(stop.source).label}, {stop.by}",
        )
        for stop in stops
    )


@dataclass(frozen=True)
class OpenShown:
    """An unanswered report on a list over patients; ``is_late``: past the clinic's set time."""

    open: OpenStop
    tier: str
    look: str
    sign: str
    is_late: bool
    lead: str = ""


def open_shown(
    stops: Iterable[OpenStop], *, now: datetime, limits: Thresholds
) -> tuple[OpenShown, ...]:
    """Return unanswered reports as lists show them: the most urgent tier first."""
    tiers = stop_tiers()
    return tuple(
        OpenShown(
            open=stop,
            tier=TIER_WORDS.get(stop.tier, stop.tier),
            look=TIER_LOOK.get(stop.tier, "bad"),
            sign=sign_for_staff(tiers, stop.sign),
            is_late=now - stop.received_at >= longest_wait(stop.tier, limits),
        )
        for stop in stops
    )
