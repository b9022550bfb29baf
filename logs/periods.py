"""A review's sessions, doses, overdoing and pain by week and by version. Pure.

Parts of the same days that the whole is made of, so that they add up to it.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from logs.pain import DayPain
from logs.tally import DoseAdherence, DoseTally, SessionAdherence
from plans.schedule import Unit, iso_week


@dataclass(frozen=True)
class Period:
    """A week or a version's days of a review. ``overdone`` are line days, ``peak`` is of its pain.

    ``doses`` are by unit: no sum and no percentage mixes units.
    """

    name: str
    sessions: SessionAdherence
    doses: tuple[DoseTally, ...]
    overdone: int
    peak: int | None

    @property
    def first_day(self) -> date:
        """Its first day in the window."""
        return self.sessions.days[0].day

    @property
    def last_day(self) -> date:
        """Its last day in the window."""
        return self.sessions.days[-1].day


def by_week(
    sessions: SessionAdherence, dose: DoseAdherence, pain: Iterable[DayPain]
) -> tuple[Period, ...]:
    """Return each ISO week that the window touches, in order."""
    return _periods(sessions, dose, pain, sessions.by_week(), dose.by_week(), iso_week, str)


def by_version(
    sessions: SessionAdherence, dose: DoseAdherence, pain: Iterable[DayPain]
) -> tuple[Period, ...]:
    """Return each version in force in the window, in order; first the days before any."""
    in_force = {day.day: day.version for day in sessions.days}

    def name(version: int | None) -> str:
        return "before any version" if version is None else f"version {version}"

    return _periods(
        sessions, dose, pain, sessions.by_version(), dose.by_version(), in_force.__getitem__, name
    )


def _periods[Key: Hashable](
    sessions: SessionAdherence,
    dose: DoseAdherence,
    pain: Iterable[DayPain],
    sessions_by: dict[Key, SessionAdherence],
    doses_by: dict[tuple[Key, Unit], DoseTally],
    key_of: Callable[[date], Key],
    name: Callable[[Key], str],
) -> tuple[Period, ...]:
    window = {day.day for day in sessions.days}
    doses: dict[Key, list[DoseTally]] = defaultdict(list)
    for (key, _), tally in doses_by.items():
        doses[key].append(tally)
    overdone = Counter(key_of(day.day) for day in dose.overdone)
    peaks: dict[Key, int] = {}
    for report in pain:
        if report.peak is not None and report.day in window:
            key = key_of(report.day)
            peaks[key] = max(report.peak, peaks.get(key, 0))
    return tuple(
        Period(name(key), part, tuple(doses[key]), overdone[key], peaks.get(key))
        for key, part in sessions_by.items()
    )


def dose_words(doses: Sequence[DoseTally], unit_words: dict[str, str]) -> str:
    """Return doses on the days heard from, in words; a dash where none was prescribed.

    >>> dose_words((), {})
    '–'
    """
    told = []
    for tally in doses:
        if tally.percent is not None:
            heard = tally.heard
            told.append(
                f"{heard.credited} of {heard.prescribed} {unit_words[tally.unit]}"
                f" ({tally.percent:.0f}\N{NO-BREAK SPACE}%)"
            )
    return ", ".join(told) or "–"
