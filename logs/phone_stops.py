"""What the patient's phone page shows of stop signs: the list to report from, and what came of it.

A report stays on the page until it is answered and holds nothing more, and its answer a week. Of
older ones the phone is told no more than that they are settled.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.translation import gettext

from logs.holds import Hold
from logs.models import StopSource
from logs.phone_records import StopRecord, stop_as_json
from logs.stops import StopTold
from plans.stop_signs import Tier, TierWords

ANSWER_IS_NEW_DAYS = 7
ALL_DAY = range(1, 13)


@dataclass(frozen=True)
class StopTier:
    """A tier of stop signs in the patient's language, and whom to ring."""

    key: str
    number: int
    holds: bool
    words: TierWords
    signs: tuple[tuple[str, str], ...]
    telephone: str


@dataclass(frozen=True)
class HomeStop:
    """A reported stop sign in the patient's words. ``said`` is what the clinic answered, if it has.

    ``is_new``: answered so lately that the patient may not have read it.
    """

    record: StopRecord
    is_from_phone: bool
    hold: Hold | None
    holds_today: bool
    why: str
    said: str
    answer: int
    is_new: bool

    @property
    def key(self) -> str:
        """What names this answer of this report."""
        return f"{self.record.uuid}.{self.answer}"

    @property
    def as_json(self) -> dict[str, object]:
        """What the screen's logic needs; the record is what this or another phone has sent."""
        hold = self.hold
        return {
            "record": stop_as_json(self.record),
            "is_from_phone": self.is_from_phone,
            "answer": self.answer,
            "said": self.said,
            "holds": hold is not None,
            "ends_day": hold.end_day.isoformat() if hold and hold.end_day else None,
            "ends_occasion": hold.end_number if hold and hold.end_day else None,
        }


def stop_tiers_shown(
    tiers: Sequence[Tier], *, language: str, pain_limit: int, telephones: dict[str, str]
) -> tuple[StopTier, ...]:
    """Return the tiers in the patient's language; ``telephones`` are by whom a tier calls."""
    shown = []
    for tier in tiers:
        words = tier.words(language, pain_limit)
        shown.append(
            StopTier(
                key=tier.key,
                number=tier.number,
                holds=tier.holds,
                words=words,
                signs=tuple(zip(tier.sign_keys, words.signs, strict=True)),
                telephone=telephones[tier.calls],
            )
        )
    return tuple(shown)


def home_stops(
    stops: Sequence[StopTold],
    tiers: Sequence[StopTier],
    *,
    owner: str,
    today: date,
    now: datetime,
    day_words: Callable[[date], str],
) -> tuple[HomeStop, ...]:
    """Return the reports that the page shows, in the language that is switched on."""
    names = {key: words for tier in tiers for key, words in tier.signs}
    found = []
    for stop in stops:
        answer, hold = stop.answer, stop.hold
        is_new = answer is not None and now - answer.at < timedelta(days=ANSWER_IS_NEW_DAYS)
        holds_on = hold is not None and (hold.end_day is None or today <= hold.end_day)
        if answer is not None and not is_new and not holds_on:
            continue
        sign = names.get(stop.sign, stop.sign.replace("_", " "))
        told = (
            gettext("You told us: {sign}")
            if stop.source == StopSource.PHONE
            else gettext("The clinic wrote down: {sign}")
        )
        found.append(
            HomeStop(
                record=StopRecord(
                    uuid=stop.uuid,
                    owner=owner,
                    tier=stop.tier,
                    sign=stop.sign,
                    reported_at=stop.reported_at,
                    zone=stop.time_zone,
                    day=stop.day,
                    from_occasion=stop.from_occasion,
                ),
                is_from_phone=stop.source == StopSource.PHONE,
                hold=hold,
                holds_today=hold is not None and any(hold.covers(today, n) for n in ALL_DAY),
                why=told.replace("{sign}", sign),
                said=_said(stop, day_words),
                answer=answer.number if answer else 0,
                is_new=is_new,
            )
        )
    return tuple(found)


def _said(stop: StopTold, day_words: Callable[[date], str]) -> str:
    """What the clinic answered, with the sentence that the therapist wrote for the patient."""
    answer = stop.answer
    if answer is None:
        return ""
    if not answer.goes_on:
        words = gettext("Do no exercises until we tell you.")
    elif answer.ends_day is None or answer.ends_occasion is None:
        words = gettext("The clinic has read this.")
    elif answer.ends_occasion == 1:
        words = gettext("Go on with your exercises from {day}.")
    else:
        words = gettext("Go on with your exercises from session {n} on {day}.")
    if answer.ends_day:
        words = words.replace("{day}", day_words(answer.ends_day))
        words = words.replace("{n}", str(answer.ends_occasion))
    return f"{words} {answer.sentence}".strip()


def stop_words() -> dict[str, str]:
    """Return the words that the screen's logic needs, with gaps in ``{braces}``."""
    return {
        "on_hold": gettext("on hold"),
        "stop_told": gettext("You told us: {sign}"),
        "stop_kept": gettext("Saved on this phone."),
        "stop_received": gettext("The clinic has received it."),
        "stop_unanswered": gettext("The clinic has not answered yet."),
        "stop_waiting": gettext("The clinic has not received it yet."),
    }
