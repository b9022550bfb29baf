"""What the review page shows of a review: days and tables, ready to be set.

Everything is put in words and order here; nothing is counted that the review does not hold.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from logs.models import Why
from logs.obstacles import Ended, Obstacle
from logs.periods import Period, by_version, by_week
from logs.review import ReviewContext
from logs.tally import DayTally, DoseTally, LineDay, SessionAdherence
from logs.together import Together
from logs.volume import Volume, VolumeRow
from patients.motions import MOTIONS
from plans.schedule import PrescribedLine, iso_week

UNIT_WORDS = {
    "repetitions": "repetitions",
    "seconds": "seconds of hold",
    "minutes": "minutes",
    "times": "times",
}

SHAPES = {
    "done": "all due done",
    "part": "some done, or a session in part",
    "missed": "none done",
    "unheard": "not heard from yet",
    "paused": "paused",
    "held": "held after a stop sign",
    "none": "nothing due",
}
"""The kinds of days, in words."""


class DayMark(NamedTuple):
    """A day of the calendar: its shape (``kind``) and its words."""

    tally: DayTally
    kind: str
    word: str

    @property
    def day(self) -> date:
        """The day."""
        return self.tally.day

    @property
    def counted(self) -> str:
        """Done of due, as short as the calendar needs it."""
        return f"{self.tally.done}/{self.tally.due}" if self.tally.due else ""

    @property
    def extra(self) -> str:
        """Extra sessions, as short as the calendar needs it."""
        return f"+{self.tally.extra}" if self.tally.extra else ""


@dataclass(frozen=True)
class WeekRow:
    """A week of the calendar, Monday to Sunday; None outside the window."""

    week: str
    monday: date
    days: tuple[DayMark | None, ...]
    adherence: SessionAdherence


def day_mark(tally: DayTally, *, is_paused: bool, is_lost: bool) -> DayMark:
    """Return a day's shape and words; the words say all that the shape does."""
    kind, words = _state(tally, is_paused=is_paused, is_lost=is_lost)
    if tally.part:
        words += f", {tally.part} in part"
    if tally.unconfirmed:
        words += f", {tally.unconfirmed} with a count not confirmed"
    if tally.extra:
        words += f", {tally.extra} extra"
    if tally.held:
        words += f", {tally.held} held after a stop sign"
    return DayMark(tally, kind, words)


def _state(tally: DayTally, *, is_paused: bool, is_lost: bool) -> tuple[str, str]:
    if is_paused:
        return "paused", "paused"
    if tally.held and not tally.due:
        return "held", "nothing due"
    if not tally.due:
        return "none", "nothing due"
    counted = f"{tally.done} of {tally.due} done"
    if tally.done == tally.due:
        return ("part" if tally.part else "done"), counted
    if tally.unheard:
        why = ", the phone's store was lost" if is_lost else ""
        return "unheard", f"{counted}, {tally.unheard} unheard{why}"
    if tally.done:
        return "part", counted
    return "missed", f"none of {tally.due} done"


def calendar(review: ReviewContext) -> tuple[WeekRow, ...]:
    """Return the window's days by week, the latest week first."""
    marks = {
        tally.day: day_mark(
            tally, is_paused=review.is_paused(tally.day), is_lost=tally.day in review.lost
        )
        for tally in review.sessions.days
    }
    rows = []
    for week, adherence in review.sessions.by_week().items():
        first = adherence.days[0].day
        monday = first - timedelta(days=first.weekday())
        days = tuple(marks.get(monday + timedelta(days=n)) for n in range(7))
        rows.append(WeekRow(week, monday, days, adherence))
    return tuple(reversed(rows))


@dataclass(frozen=True)
class DoseRow:
    """Dose adherence of one line or joint; ``key`` opens the days behind it."""

    key: str
    name: str
    detail: str
    tally: DoseTally
    overdone: int


def dose_rows(review: ReviewContext) -> tuple[tuple[DoseRow, ...], tuple[DoseRow, ...]]:
    """Return the dose of each line, in the order of the plan, and of each joint moved."""
    lines = newest_lines(review)
    by_line = review.dose.by_line()
    overdone = Counter((day.line.key, day.line.unit) for day in review.dose.overdone)
    of_lines = tuple(
        DoseRow(
            key=f"line.{key}.{unit}",
            name=lines[key].name,
            detail=_line_detail(lines[key]),
            tally=by_line[key, unit],
            overdone=overdone[key, unit],
        )
        for key, unit in sorted(by_line, key=lambda item: list(lines).index(item[0]))
    )
    of_joints = tuple(
        DoseRow(
            key=f"joint.{joint}.{unit}",
            name=joint.label.capitalize(),
            detail=UNIT_WORDS[unit],
            tally=tally,
            overdone=0,
        )
        for (joint, unit), tally in review.dose.by_joint().items()
    )
    return of_lines, of_joints


def newest_lines(review: ReviewContext) -> dict[str, PrescribedLine]:
    """Return each line as the newest version has it that has it, in the order of the plan."""
    lines: dict[str, PrescribedLine] = {}
    for version in reversed(review.schedule.versions):
        for line in version.lines:
            lines.setdefault(line.key, line)
    return lines


def _line_detail(line: PrescribedLine) -> str:
    step = f", {line.step.label}" if line.step else ""
    return f"{line.side}{step}, {UNIT_WORDS[line.unit]}"


class VolumeCell(NamedTuple):
    """One week of a joint or motion; ``change`` says how it stands to the week before."""

    row: VolumeRow
    change: str


@dataclass(frozen=True)
class VolumeLine:
    """One joint or motion of a side over the window's weeks; None in a week without any."""

    key: str
    name: str
    weeks: tuple[VolumeCell | None, ...]


@dataclass(frozen=True)
class VolumeTable:
    """Volume by week: joints moved, and joints only loaded.

    ``weeks`` are each with how much of it counts, in words, where it is not the whole;
    ``weeks_before`` is how many of the window came before them.
    """

    weeks: tuple[tuple[str, str], ...]
    weeks_before: int
    joints: tuple[VolumeLine, ...]
    loaded: tuple[VolumeLine, ...]


def volume_table(review: ReviewContext, last: int | None = None) -> VolumeTable:
    """Return volume as a table with a column for each ISO week of the window, or its last ones."""
    counted = Counter(iso_week(tally.day) for tally in review.sessions.days)
    kept = list(counted)[-last:] if last else list(counted)
    days = {week: counted[week] for week in kept}
    joints = [row for row in review.volume.joints if row.week in days]
    return VolumeTable(
        weeks=tuple(
            (week, "" if week in review.volume.whole_weeks else f"{count} of 7 days")
            for week, count in days.items()
        ),
        weeks_before=len(counted) - len(days),
        joints=_volume_lines((row for row in joints if row.is_moved), days, review.volume),
        loaded=_volume_lines((row for row in joints if not row.is_moved), days, review.volume),
    )


def motion_lines(review: ReviewContext) -> tuple[VolumeLine, ...]:
    """Return the volume of each motion over the weeks of the window."""
    weeks = dict.fromkeys(iso_week(tally.day) for tally in review.sessions.days)
    return _volume_lines(review.volume.motions_in(weeks), weeks, review.volume)


def _volume_lines(
    rows: Iterable[VolumeRow], weeks: Iterable[str], of: Volume
) -> tuple[VolumeLine, ...]:
    by_name: dict[tuple[str, str], dict[str, VolumeCell]] = {}
    for row in rows:
        what = MOTIONS[row.motion].label if row.motion else row.joint.label
        key = f"volume.{row.motion or row.joint}.{row.side}.{'moved' if row.is_moved else 'loaded'}"
        by_name.setdefault((key, f"{what}, {row.side}".capitalize()), {})[row.week] = VolumeCell(
            row, change_words(of.change_percent(row))
        )
    return tuple(
        VolumeLine(key, name, tuple(found.get(week) for week in weeks))
        for (key, name), found in by_name.items()
    )


def change_words(change_percent: float | None) -> str:
    """Return a change from one week to the next in words; empty where it is not known.

    >>> change_words(24.6), change_words(-0.2), change_words(None)
    ('25\xa0% more', 'unchanged', '')
    """
    if change_percent is None:
        return ""
    shown = round(change_percent)
    if not shown:
        return "unchanged"
    return f"{abs(shown)}\N{NO-BREAK SPACE}% {'more' if shown > 0 else 'less'}"


@dataclass(frozen=True)
class Behind:
    """The line days behind one figure of dose or volume."""

    key: str
    title: str
    days: tuple[LineDay, ...]


def behind(review: ReviewContext, key: str) -> Behind | None:
    """Return what a figure is made of; None where the review has no such figure."""
    lines, joints = dose_rows(review)
    for row in (*lines, *joints):
        if row.key == key:
            return Behind(key, row.name, row.tally.days)
    for unit, tally in review.dose.by_plan().items():
        if key == f"plan.{unit}":
            return Behind(key, f"All lines, {UNIT_WORDS[unit]}", tally.days)
    table = volume_table(review)
    for line in (*table.joints, *table.loaded, *motion_lines(review)):
        if line.key == key:
            found = [day for cell in line.weeks if cell for day in review.behind(cell.row)]
            return Behind(key, line.name, tuple(sorted(found, key=lambda day: day.day)))
    return None


@dataclass(frozen=True)
class ObstacleRow:
    """What stood in the way of one line, in counts of sessions, and the days by what was said."""

    name: str
    detail: str
    days: tuple[tuple[str, tuple[date, ...]], ...]
    holds_back: bool


def obstacle_rows(review: ReviewContext) -> tuple[ObstacleRow, ...]:
    """Return what patients said stood in the way, line by line in the order of the plan."""
    rows = []
    for key, line in newest_lines(review).items():
        found = review.obstacles.get(key)
        if found is None:
            continue
        ways = [
            (Ended.SKIPPED.value, found.skipped),
            (Ended.STOPPED.value, found.stopped),
            ("easier step", found.easier),
            *((Obstacle(why).label, days) for why, days in found.reasons.items()),
        ]
        rows.append(
            ObstacleRow(
                name=line.name,
                detail=_line_detail(line),
                days=tuple((words, days) for words, days in ways if days),
                holds_back=found.holds_back,
            )
        )
    return tuple(rows)


@dataclass(frozen=True)
class ReasonWords:
    """A reason for missed sessions, how many, and on which days."""

    label: str
    sessions: int
    days: tuple[date, ...]


def reason_rows(review: ReviewContext) -> tuple[ReasonWords, ...]:
    """Return the reasons given, the most frequent first."""
    return tuple(
        ReasonWords(Why(reason).label, row.sessions, row.days)
        for reason, row in review.missed.by_reason.items()
    )


def period_tables(review: ReviewContext) -> tuple[tuple[str, tuple[Period, ...]], ...]:
    """Return the window's weeks and its versions, each with what the table is called."""
    parts = review.sessions, review.dose, review.pain
    return ("Week", by_week(*parts)), ("Version", by_version(*parts))


def together_of(review: ReviewContext) -> Together:
    """Return what the chart of sessions, volume and pain is drawn from."""
    return Together(
        window=review.window,
        sessions=review.sessions,
        volume=review.volume.joints,
        pain=review.pain,
        trend=review.worst_trend,
        versions=review.schedule.versions,
        pauses=review.pauses,
        assessed=review.assessed,
    )
