"""The sheet as a web page shows it: the same words as in print, with numbers that keep their order.

It runs in either direction, which the PDF can't. Words come from :class:`plans.sheet.Sheet`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.html import format_html
from django.utils.safestring import SafeString

from clinic.templatetags.words import number_to_ring
from patients.phone_views import qr_svg
from plans.sheet import Sheet
from plans.sheet_diary import DiaryDay
from plans.sheet_exercise import SheetExercise
from plans.sheet_language import SheetWords
from plans.stop_signs import TierWords


@dataclass(frozen=True)
class WebTier:
    """A tier of stop signs; ``ring`` is the number, with the word to ring where it can't wait."""

    words: TierWords
    ring: SafeString


@dataclass(frozen=True)
class WebRow:
    """A row of the diary: a session, and of each exercise in order whether it is due."""

    session: str
    boxes: tuple[bool, ...]
    is_first: bool


@dataclass(frozen=True)
class WebDay:
    """A day of the diary; without rows ``nothing`` says why."""

    day: str
    rows: tuple[WebRow, ...]
    nothing: str


@dataclass(frozen=True)
class WebSheet:
    """Everything that the page says; ``pictures`` are SVG, one an exercise, some empty."""

    sheet: Sheet
    pictures: Sequence[str]

    @property
    def words(self) -> SheetWords:
        """The sheet's own words."""
        return self.sheet.words

    @property
    def from_day(self) -> str:
        """From when the plan holds."""
        return self.words.from_day.format(day=self.words.day_with_year(self.sheet.effective_day))

    @property
    def pain_heading(self) -> str:
        """The pain limit."""
        return self.words.pain_heading.format(limit=self.sheet.pain_limit)

    @property
    def pain_rule(self) -> str:
        """What to do above it."""
        return self.words.pain_rule.format(limit=self.sheet.pain_limit)

    @property
    def exercises(self) -> list[tuple[SheetExercise, str]]:
        """Each exercise with its picture."""
        return list(zip(self.sheet.exercises, self.pictures, strict=True))

    @property
    def tiers(self) -> list[WebTier]:
        """The tiers. The last can wait: its number stands there, but nobody is told to ring it."""
        last = len(self.sheet.tiers) - 1
        told = []
        for place, tier in enumerate(self.sheet.tiers):
            number = number_to_ring(tier.telephone)
            can_wait = place == last or not tier.telephone
            ring = number if can_wait else format_html(self.words.ring, number=number)
            told.append(WebTier(tier.words, ring))
        return told

    @property
    def diary(self) -> list[WebDay]:
        """The days to fill in, pauses and days without exercises with them."""
        return [self._day(day) for day in self.sheet.diary]

    def _day(self, day: DiaryDay) -> WebDay:
        numbers = range(1, len(self.sheet.exercises) + 1)
        rows = tuple(
            WebRow(self.words.session(n), tuple(k in due for k in numbers), n == day.first)
            for n, due in enumerate(day.occasions, start=day.first)
        )
        nothing = self.words.diary_paused if day.is_paused else self.words.diary_nothing
        return WebDay(self.words.day(day.day), rows, "" if rows else nothing)

    @property
    def diary_columns(self) -> int:
        """How many columns stand beside the day and the session: exercises and four of pain."""
        return len(self.sheet.exercises) + 4

    @property
    def phone_code(self) -> str:
        """The phone's code as a picture; empty where the sheet carries none."""
        return qr_svg(self.sheet.phone.link) if self.sheet.phone else ""

    @property
    def phone_how(self) -> str:
        """What to do with the code."""
        phone = self.sheet.phone
        return self.words.phone_how.format(day=self.words.day(phone.last_day)) if phone else ""
