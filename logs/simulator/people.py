"""What a simulation holds: people, what they were prescribed and told, and what is true of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import NamedTuple
from uuid import UUID

from logs.counting import Performance
from logs.holds import Hold
from logs.obstacles import SaidOfLine
from logs.simulator.cast import Story, WantedStop
from plans.schedule import PauseSpan, PrescribedLine, Version


class Told(NamedTuple):
    """One revision of an entry; ``scores`` are pain before, worst, after, next morning, effort.

    ``said`` is what was said of lines, ``hurt`` the line that the pain was named with.
    """

    uuid: UUID
    replaces: UUID | None
    received_at: datetime
    performances: tuple[Performance, ...]
    scores: tuple[int | None, ...]
    note: str
    said: tuple[SaidOfLine, ...] = ()
    hurt: str | None = None


class SimulatedEntry(NamedTuple):
    """One session as it was told, its revisions in the order received; the last one counts.

    ``phone`` is the place of the phone among the person's, None on paper or by telephone.
    ``version`` is the number of the one that the person saw.
    """

    uuid: UUID
    day: date
    occasion: int | None
    source: str
    phone: int | None
    began_at: datetime | None
    version: int
    revisions: tuple[Told, ...]
    struck_at: datetime | None


@dataclass(frozen=True)
class SimulatedLine:
    """A line as issued: the value that computing takes, and the rest of its row."""

    prescribed: PrescribedLine
    load_means: str
    rest_s: int
    note: str


@dataclass(frozen=True)
class SimulatedVersion:
    """A version, issued by the username ``by``; ``signed_at`` where a student made it.

    One that waits for its signature has none and is in force on no day.
    """

    number: int
    by: str
    issued_at: datetime
    signed_at: datetime | None
    waits: bool
    effective_day: date
    change: str
    pain_limit: int
    lines: tuple[SimulatedLine, ...]

    @property
    def scheduled(self) -> Version:
        """The version as the schedule takes it."""
        return Version(
            self.number, self.effective_day, tuple(line.prescribed for line in self.lines)
        )


@dataclass(frozen=True)
class SimulatedStore:
    """A store of a phone, as the clinic knows it."""

    made_day: date
    last_empty_day: date | None


@dataclass(frozen=True)
class SimulatedPhone:
    """A phone: its days with signal, and the day on which its store was cleared, if it was."""

    label: str
    enrolled_day: date
    online: frozenset[date]
    lost_day: date | None

    @property
    def stores(self) -> tuple[SimulatedStore, ...]:
        """Its first store, and the one that replaced it."""
        if self.lost_day is None:
            return (SimulatedStore(self.enrolled_day, max(self.online, default=None)),)
        before = [day for day in self.online if day < self.lost_day]
        after = [day for day in self.online if day >= self.lost_day]
        return (
            SimulatedStore(self.enrolled_day, max(before, default=None)),
            SimulatedStore(self.lost_day, max(after, default=None)),
        )

    def received_day(self, day: date, today: date) -> date | None:
        """The day on which what was written on ``day`` comes in; None if it never has."""
        while day <= today:
            if day in self.online:
                return day
            day += timedelta(1)
            if day == self.lost_day:
                return None
        return None

    def spoke_for(self, days: Sequence[date], today: date) -> set[date]:
        """The days for which it can be known that nothing waits on it."""
        spoken: set[date] = set()
        waiting: list[date] = []
        for day in [*days, today]:
            if day < self.enrolled_day:
                continue
            if day == self.lost_day:
                waiting = []
            if day in self.online:
                spoken.update(waiting)
                waiting = []
            if day != self.lost_day:
                waiting.append(day)
        return spoken


class LineTruth(NamedTuple):
    """What happened to a line on a day, in its unit: as in ``logs.tally.LineDay``."""

    prescribed: int = 0
    credited: int = 0
    performed: int = 0
    recorded: int = 0
    load_volume_g: int = 0


class DayTruth(NamedTuple):
    """What happened on a day, counted as it was made to happen.

    ``done`` is what the clinic can know of; ``really_done`` has what is still on its way, or lost.
    """

    day: date
    version: int | None
    due: int
    done: int
    really_done: int
    extra: int
    whole: int
    part: int
    unconfirmed: int
    doubles: int
    is_heard: bool
    lines: Mapping[str, LineTruth]
    pain_peak: int | None


class SimulatedStop(NamedTuple):
    """A reported stop sign with its days, and as the file wants it."""

    day: date
    answered_day: date | None
    goes_on_day: date | None
    wanted: WantedStop

    @property
    def hold(self) -> Hold:
        """The whole days that it holds."""
        return Hold(self.day, 1, self.goes_on_day)


@dataclass(frozen=True)
class SimulatedPerson:
    """A person, what they were prescribed, what they told, and what is true.

    ``typed_in`` gives for days of a paper diary the day of the visit, and paper or telephone;
    ``missed`` are days with the reason for what was missed, and how it was told.
    """

    story: Story
    versions: tuple[SimulatedVersion, ...]
    pauses: tuple[tuple[PauseSpan, str], ...]
    phones: tuple[SimulatedPhone, ...]
    typed_in: Mapping[date, tuple[date, str]]
    entries: tuple[SimulatedEntry, ...]
    days: tuple[DayTruth, ...]
    missed: tuple[tuple[date, str, str], ...] = ()
    stops: tuple[SimulatedStop, ...] = ()

    @property
    def marked(self) -> frozenset[date]:
        """The days of a paper diary that a person has marked as heard."""
        return frozenset(self.typed_in)

    @property
    def issued(self) -> tuple[Version, ...]:
        """The versions in force on some day, as the schedule takes them."""
        return tuple(version.scheduled for version in self.versions if not version.waits)
