"""A line's dose in the trade's words, what it still lacks, and the minutes that a plan asks. Pure.

>>> dose = LineDose(
...     unit=Unit.REPETITIONS,
...     sets=2,
...     amount_low=8,
...     amount_high=10,
...     hold_s=5,
...     pace_s=4,
...     rest_s=60,
...     load_g=500,
...     load_means="held",
...     sessions_per_day=2,
...     weekdays=frozenset({0, 2, 4}),
...     position="sitting",
... )
>>> dose.words
'2 × 8–10, hold 5 s, 4 s each, rest 60 s, 0.5 kg held in the hand, twice a day, Mon Wed Fri'
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import ceil

from plans.duration import line_seconds, session_seconds
from plans.schedule import MORE_IF_EASY, Unit

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
WEIGHTS = ("held", "cuff")
"""The means of load that are weights, so that kilograms say what they are."""

_UNIT_AFTER = {Unit.REPETITIONS: "", Unit.SECONDS: " s", Unit.MINUTES: " min", Unit.TIMES: " times"}
_MEANS_WORDS = {
    "held": "held in the hand",
    "cuff": "on a cuff",
    "band": "elastic band",
    "putty": "putty",
    "other_hand": "against the other hand",
}
_DETAILS = ("two more", "hold", "pace", "rest", "load")
_TIMES_A_DAY = {1: "once a day", 2: "twice a day"}


@dataclass(frozen=True, kw_only=True)
class LineDose:
    """What a line asks for. Amounts are for a set; ``pace_s`` is a repetition without its hold.

    Where no pace is prescribed (0), time is estimated with the exercise's own, ``own_pace_s``. What
    ``is_rest`` (an arm laid well) takes no time of a session: life goes on meanwhile.
    """

    unit: Unit
    sets: int
    amount_low: int
    amount_high: int
    hold_s: int
    pace_s: float
    rest_s: int
    load_g: int
    load_means: str
    sessions_per_day: int
    weekdays: frozenset[int]
    position: str
    more_if_easy: bool = False
    own_pace_s: float = 0.0
    is_rest: bool = False

    @property
    def amount(self) -> str:
        """Sets and range: ``2 × 8–10``."""
        ends = dict.fromkeys((self.amount_low, self.amount_high))
        return f"{self.sets} × {'–'.join(map(str, ends))}{_UNIT_AFTER[self.unit]}"

    @property
    def load(self) -> str:
        """What resists, with its weight where it has one; empty where nothing does."""
        means = _MEANS_WORDS.get(self.load_means, "")
        if not self.load_g:
            return means
        return f"{(Decimal(self.load_g) / 1000).normalize():f} kg {means}".rstrip()

    @property
    def frequency(self) -> str:
        """How often on a day that it is due."""
        return _TIMES_A_DAY.get(self.sessions_per_day, f"{self.sessions_per_day} times a day")

    @property
    def days(self) -> str:
        """The days of the week."""
        return weekday_words(self.weekdays)

    @property
    def details(self) -> str:
        """How a set is done: hold, pace, rest and load, as far as they are given."""
        return ", ".join(words for label, words in self.facts if words and label in _DETAILS)

    @property
    def facts(self) -> tuple[tuple[str, str], ...]:
        """What the dose is, point by point: what it is called, and the words (empty: none)."""
        return (
            ("sets and range", self.amount),
            ("two more", f"up to {MORE_IF_EASY} more if easy" if self.more_if_easy else ""),
            ("hold", f"hold {self.hold_s} s" if self.hold_s else ""),
            ("pace", f"{self.pace_s:g} s each" if self.pace_s else ""),
            ("rest", f"rest {self.rest_s} s" if self.rest_s and self.sets > 1 else ""),
            ("load", self.load),
            ("sessions", self.frequency),
            ("days", self.days),
        )

    @property
    def words(self) -> str:
        """The whole dose in one phrase."""
        return ", ".join(words for _, words in self.facts if words)

    def seconds(self, amount: int) -> float:
        """Seconds of one session of this line, for that amount a set."""
        return line_seconds(
            sets=self.sets,
            amount=amount,
            unit=self.unit,
            each_s=(self.pace_s or self.own_pace_s) + self.hold_s,
            rest_s=self.rest_s,
        )


def weekday_words(weekdays: frozenset[int]) -> str:
    """Return days of the week as people write them.

    >>> weekday_words(frozenset(range(7))), weekday_words(frozenset({0, 3}))
    ('every day', 'Mon Thu')
    >>> weekday_words(frozenset(range(5)))
    'Mon–Fri'
    """
    days = sorted(weekdays)
    if len(days) == 7:
        return "every day"
    if len(days) > 2 and days[-1] - days[0] == len(days) - 1:
        return f"{WEEKDAYS[days[0]]}–{WEEKDAYS[days[-1]]}"
    return " ".join(WEEKDAYS[day] for day in days)


RECENT_WEEKS = 12
"""For so long an operation or a fracture is recent: an invitation to do more asks for a second
look. Strengthening after the longest protocols begins then; common practice, no source."""


def reasons_against_more(
    *, precautions: int, operation_weeks: int | None, injury_weeks: int | None
) -> str:
    """Return why a patient is better not invited to do more, in words; empty where nothing is.

    Off is the rule for everybody; these are the reasons to leave it off, and it is not taken along
    into a new version while one holds. Common practice, no source. ``precautions`` is how many
    hold; weeks count from the latest operation and the latest injury, None without one.

    >>> reasons_against_more(precautions=0, operation_weeks=3, injury_weeks=None)
    'an operation 3 weeks ago'
    """
    reasons = []
    if precautions:
        reasons.append("a precaution holds" if precautions == 1 else "precautions hold")
    for what, weeks in (("an operation", operation_weeks), ("an injury", injury_weeks)):
        if weeks is not None and weeks < RECENT_WEEKS:
            reasons.append(f"{what} {weeks} week{'' if weeks == 1 else 's'} ago")
    return " and ".join(reasons)


def dose_gaps(
    *,
    load_means: str,
    load_g: int,
    by_helper: bool,
    helper_named: bool,
) -> tuple[str, ...]:
    """Return what a line still lacks before a patient may follow it, as things to do."""
    gaps = []
    if load_means in WEIGHTS and not load_g:
        gaps.append("choose the weight")
    if by_helper and not helper_named:
        gaps.append("name the helper")
    return tuple(gaps)


@dataclass(frozen=True)
class PlanTime:
    """What a plan asks, in seconds at the low and the high end of its ranges: an estimate.

    ``session_low_s`` and ``session_high_s`` are of the longest session of the week.
    """

    session_low_s: float
    session_high_s: float
    week_low_s: float
    week_high_s: float

    @property
    def session(self) -> str:
        """Minutes of the longest session."""
        return minutes_words(self.session_low_s, self.session_high_s)

    @property
    def week(self) -> str:
        """Minutes of a whole week."""
        return minutes_words(self.week_low_s, self.week_high_s)


def minutes_words(low_s: float, high_s: float) -> str:
    """Return a span of seconds in begun minutes; from two hours on in tenths of hours.

    >>> minutes_words(500, 640), minutes_words(50, 55)
    ('9–11 min', '1 min')
    >>> minutes_words(13_900, 17_300)
    '3.9–4.8 h'
    """
    if low_s >= 2 * 3600:
        return f"{'–'.join(dict.fromkeys((f'{low_s / 3600:.1f}', f'{high_s / 3600:.1f}')))} h"
    ends = dict.fromkeys((ceil(low_s / 60), ceil(high_s / 60)))
    return f"{'–'.join(map(str, ends))} min"


def plan_time(doses: Sequence[LineDose]) -> PlanTime:
    """Return what lines in their order ask: each session of each day of a week, added up.

    A session takes its sets, the rests between them, and changes of position and weight; what a
    patient adds of their own (reading, resting longer) is not in it, nor is the rest of an arm.
    """
    lows, highs = ([0.0], [0.0])
    for weekday in range(7):
        due = [dose for dose in doses if weekday in dose.weekdays and not dose.is_rest]
        for number in range(1, max((dose.sessions_per_day for dose in due), default=0) + 1):
            session = [dose for dose in due if number <= dose.sessions_per_day]
            lows.append(_seconds(session, [dose.amount_low for dose in session]))
            highs.append(_seconds(session, [dose.amount_high for dose in session]))
    return PlanTime(max(lows), max(highs), sum(lows), sum(highs))


def _seconds(session: Sequence[LineDose], amounts: Sequence[int]) -> float:
    return session_seconds(
        [
            (dose.position, dose.load_g / 1000, dose.seconds(amount))
            for dose, amount in zip(session, amounts, strict=True)
        ]
    )
