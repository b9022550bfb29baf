"""From which days word has reached the clinic, so that what is missing can be called missed.

Pure. Days go by the clinic server's clock in the patient's time zone, so that a wrong phone clock
cannot move them. Today is never heard: it is not over.

>>> from datetime import date
>>> phone = PhoneWord(
...     enrolled_day=date(2026, 3, 1),
...     revoked_day=None,
...     reports=(StoreReport("a", date(2026, 3, 1), True, last_empty_day=date(2026, 3, 3)),),
... )
>>> week = Window(date(2026, 3, 1), date(2026, 3, 7))
>>> [
...     day.day
...     for day in sorted(
...         heard_days(marked=[], phones=[phone], window=week, today=date(2026, 3, 8))
...     )
... ]
[1, 2]
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from plans.schedule import Window


@dataclass(frozen=True, slots=True)
class StoreReport:
    """What one store of a phone has reported: the last day on which its queue was empty.

    ``made_day`` is the day the store was made, ``first_store`` whether it is the phone's first.
    A later store means that the one before it was lost, perhaps with entries in it.
    """

    store: str
    made_day: date
    first_store: bool
    last_empty_day: date | None

    def answers_for(self, day: date) -> bool:
        """Whether an empty report of it, made after the day's end, speaks for that day.

        The day on which a replacing store was made may have begun in the store before it.
        """
        begun = self.made_day <= day if self.first_store else self.made_day < day
        return begun and self.last_empty_day is not None and day < self.last_empty_day


@dataclass(frozen=True, slots=True)
class PhoneWord:
    """One enrolled phone: from when, until when, and what its stores have reported."""

    enrolled_day: date
    revoked_day: date | None
    reports: tuple[StoreReport, ...]

    def was_enrolled_on(self, day: date) -> bool:
        """Whether it could have taken an entry on that day; the day it was revoked counts."""
        return self.enrolled_day <= day and (self.revoked_day is None or day <= self.revoked_day)

    def answers_for(self, day: date) -> bool:
        """Whether one of its stores speaks for that day."""
        return any(report.answers_for(day) for report in self.reports)

    def lost_its_store_after(self, day: date) -> bool:
        """Whether a store that was made on that day or later replaced the one of that day."""
        return any(not report.first_store and day <= report.made_day for report in self.reports)


def heard_days(
    *, marked: Collection[date], phones: Sequence[PhoneWord], window: Window, today: date
) -> frozenset[date]:
    """Return the heard days of the window, all of them before ``today``.

    A day is heard when a person has marked it as taken from paper or telephone, or when at least
    one phone was enrolled on it and every one that was has reported an empty queue after its end.
    A phone revoked before it reported leaves its days unheard until a person marks them.
    """
    return frozenset(
        day
        for day in window.days()
        if day < today and (day in marked or _phones_answer_for(day, phones))
    )


def lost_store_days(
    *, marked: Collection[date], phones: Sequence[PhoneWord], window: Window, today: date
) -> frozenset[date]:
    """Return the unheard days that no phone can answer for, as its store was replaced since.

    Only a person's mark can make them heard, so they are to be named.
    """
    losers = [phone for phone in phones if phone.lost_its_store_after(window.first_day)]
    return frozenset(
        day
        for day in (window.days() if losers else ())
        if day < today
        and day not in marked
        and any(
            phone.was_enrolled_on(day)
            and not phone.answers_for(day)
            and phone.lost_its_store_after(day)
            for phone in losers
        )
    )


def _phones_answer_for(day: date, phones: Sequence[PhoneWord]) -> bool:
    enrolled = [phone for phone in phones if phone.was_enrolled_on(day)]
    return bool(enrolled) and all(phone.answers_for(day) for phone in enrolled)
