"""One language of the sheet: all that must be said, and doses, days and places put into words.

Pure. Each language is one :class:`SheetWords` (``sheet_words.py``, ``sheet_arabic.py``).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from clinic.languages import direction
from patients.motions import Effort
from plans.catalogue import Equipment, Position
from plans.dose import LineDose
from plans.schedule import Unit

type Forms = tuple[str, ...]
"""Words that go with a number, each for the numbers that it fits."""


@dataclass(frozen=True)
class DoseWords:
    """A dose for the patient: at a glance, in sentences, and how often."""

    glance: str
    sentences: tuple[str, ...]
    often: str


@dataclass(frozen=True)
class SheetWords:
    """Everything that a sheet says in one language. ``{…}`` are filled in.

    Forms are for one and for more than one; of three for one, two and more; of four for one, two, a
    few (3 to 10, 103 to 110 and so on) and more. The week and the year are their names in order.
    """

    language: str
    title: str
    plan: str
    from_day: str
    clinic_number: str
    ring_us: str
    ring: str
    changed: str
    pain_heading: str
    pain_rule: str
    no_exercises: str
    replaced: str
    exercises_heading: str
    your_helper: str
    helper: str
    you_need: str
    take_care: str
    too_hard: str
    easier: str
    steps: dict[Effort, str]
    note: str
    in_order: str
    stop_heading: str
    nobody_watches: str
    diary_heading: str
    diary_span: str
    diary_how: str
    diary_done: str
    diary_pain: str
    diary_before: str
    diary_worst: str
    diary_after: str
    diary_next_morning: str
    diary_effort: str
    diary_why: str
    diary_how_more: str
    ordinals: tuple[str, ...]
    diary_paused: str
    diary_nothing: str
    diary_notes: str
    page_of: str
    fridge_title: str
    phone_heading: str
    phone_how: str
    side_left: str
    side_right: str
    side_both: str
    hands_together: str
    span: str
    span_glance: str
    joined: str
    comma: str
    sets_of: Forms
    sets_glance: Forms
    seconds_glance: Forms
    minutes_glance: Forms
    repetitions: Forms
    seconds: Forms
    minutes: Forms
    times: Forms
    hold: Forms
    pace: Forms
    rest_s: Forms
    rest_min: Forms
    more_if_easy: tuple[str, str]
    loads: dict[str, str]
    loads_kg: dict[str, str]
    sessions: Forms
    often: str
    every_day: str
    on_days: str
    weekdays: str
    months: str
    day_form: str
    day_with_year_form: str
    short_day_form: str
    decimal_mark: str
    positions: dict[Position, str]
    equipment: dict[Equipment, str]

    @property
    def direction(self) -> str:
        """Which way the language is written, as HTML's ``dir`` says it."""
        return direction(self.language)

    def day(self, day: date) -> str:
        """Return a day with its weekday, without the year."""
        return self.day_form.format(
            weekday=self.weekdays.split()[day.weekday()],
            day=day.day,
            month=self.months.split()[day.month - 1],
        )

    def day_with_year(self, day: date) -> str:
        """Return a day with its weekday and year."""
        return self.day_with_year_form.format(day=self.day(day), year=day.year)

    def short_day(self, day: date) -> str:
        """Return a day as it fits a narrow column."""
        weekday, month = self.weekdays.split()[day.weekday()], self.months.split()[day.month - 1]
        return self.short_day_form.format(weekday=weekday, day=day.day, month=month)

    def session(self, number: int) -> str:
        """Return the place of a session in its day."""
        return self.ordinals[min(number, len(self.ordinals)) - 1].format(number)

    def side(self, side: str, *, sided: bool) -> str:
        """Return which arm."""
        if not sided:
            return self.hands_together
        return {"left": self.side_left, "right": self.side_right}.get(side, self.side_both)

    def things(self, equipment: Sequence[Equipment]) -> str:
        """Return what must be at hand, as a list in words; empty where nothing."""
        return self.comma.join(dict.fromkeys(self.equipment[thing] for thing in equipment))

    def days(self, weekdays: frozenset[int]) -> str:
        """Return the days of the week on which something is due."""
        if len(weekdays) == 7:
            return self.every_day
        names = [self.weekdays.split()[day] for day in sorted(weekdays)]
        listed = self.comma.join(names[:-1])
        return self.on_days.format(
            days=self.joined.format(listed, names[-1]) if listed else names[0]
        )

    def dose(self, dose: LineDose) -> DoseWords:
        """Return a dose: what one session asks for, and how often."""
        return DoseWords(
            glance=self._glance(dose),
            sentences=tuple(sentence for sentence in self._sentences(dose) if sentence),
            often=self.often.format(
                sessions=_said(self.sessions, dose.sessions_per_day),
                days=self.days(dose.weekdays),
            ),
        )

    def _glance(self, dose: LineDose) -> str:
        amount = str(dose.amount_low)
        if dose.amount_high != dose.amount_low:
            amount = self.span_glance.format(dose.amount_low, dose.amount_high)
        units = {Unit.SECONDS: self.seconds_glance, Unit.MINUTES: self.minutes_glance}
        if dose.unit in units:
            amount = _said(units[dose.unit], dose.amount_high, amount)
        if dose.sets > 1:
            said = f"{_said(self.sets_glance, dose.sets)} {amount}"
        elif dose.unit in units:
            said = amount
        else:
            said = _said(self.repetitions, dose.amount_high, amount)
        return said.replace(" ", "\N{NO-BREAK SPACE}")

    def _sentences(self, dose: LineDose) -> list[str]:
        amount = str(dose.amount_low)
        if dose.amount_high != dose.amount_low:
            amount = self.span.format(dose.amount_low, dose.amount_high)
        counted = {
            Unit.REPETITIONS: self.repetitions,
            Unit.SECONDS: self.seconds,
            Unit.MINUTES: self.minutes,
            Unit.TIMES: self.times,
        }[dose.unit]
        asked = f"{_said(counted, dose.amount_high, amount)}."
        if dose.sets > 1:
            asked = f"{_said(self.sets_of, dose.sets)} {asked}"
        in_minutes = dose.rest_s % 60 == 0
        rest = _said(
            self.rest_min if in_minutes else self.rest_s, dose.rest_s // (60 if in_minutes else 1)
        )
        return [
            asked,
            self.more_if_easy[dose.sets > 1] if dose.more_if_easy else "",
            _said(self.hold, dose.hold_s) if dose.hold_s else "",
            _said(self.pace, dose.pace_s, self.number(dose.pace_s)) if dose.pace_s else "",
            rest if dose.rest_s and dose.sets > 1 else "",
            self.load(dose),
        ]

    def load(self, dose: LineDose) -> str:
        """Return what resists, with its weight where one is set; empty where nothing does."""
        if not dose.load_g:
            return self.loads.get(dose.load_means, "")
        kilograms = self.number(Decimal(dose.load_g) / 1000)
        return self.loads_kg[dose.load_means].format(kilograms)

    def number(self, value: float | Decimal) -> str:
        """Return a number with this language's decimal mark."""
        text = f"{Decimal(str(value)).normalize():f}"
        return text.replace(".", self.decimal_mark)


def _said(forms: Forms, count: float, shown: str = "") -> str:
    """Return the form that goes with a number, with the number in it as it is to be shown."""
    is_few = len(forms) == 4 and 3 <= count % 100 <= 10
    if count == 1:
        form = forms[0]
    elif count == 2 and len(forms) > 2:
        form = forms[1]
    else:
        form = forms[2 if is_few else -1]
    return form.format(shown or count)
