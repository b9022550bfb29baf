"""Whether what was due happened, and how much of it: session and dose adherence.

Pure. Occasions and sessions in, tallies out that keep the days behind every figure, so that a
percentage and the list it opens to cannot disagree.

There is no single agreed definition of adherence to home exercise (Bailey et al. 2020, Br J Sports
Med 54:326-331), so ours is stated in full at ``session_adherence`` and ``dose_adherence``. Both
are capped: what is done beyond what was due on a day makes up for nothing missed on another.

Two sessions a day for a week, of which 2, 2, 0, 3, 1, 2 and 2 were done:

>>> from patients.motions import Effort, Side
>>> from plans.schedule import Unit, Version, Window, occasions
>>> week = Window(date(2026, 3, 2), date(2026, 3, 8))
>>> line = PrescribedLine(
...     key="a",
...     exercise="arm_lift",
...     name="Arm lift",
...     side=Side.LEFT,
...     step=Effort.ACTIVE,
...     unit=Unit.REPETITIONS,
...     sets=1,
...     amount_low=8,
...     amount_high=10,
...     hold_s=0,
...     pace_s=6,
...     load_g=0,
...     sessions_per_day=2,
...     weekdays=frozenset(range(7)),
...     moves=("shoulder_flexion",),
...     loads=(),
... )
>>> plan = [Version(1, date(2026, 3, 2), (line,))]
>>> sessions = [
...     Session(f"{day}/{number}", day, number, "phone", "p", number, (Performance("a", (8,)),), 1)
...     for day, done in zip(week.days(), (2, 2, 0, 3, 1, 2, 2), strict=True)
...     for number in range(1, done + 1)
... ]
>>> given = {
...     "versions": plan,
...     "occasions": occasions(plan, [], week),
...     "sessions": sessions,
...     "heard": week.days(),
...     "window": week,
...     "today": date(2026, 3, 9),
... }
>>> known = session_adherence(**given)
>>> known.done, known.due, known.extra
(11, 14, 1)
>>> f"{known.percent:.2f} % capped, {known.uncapped_percent:.2f} % uncapped"
'78.57 % capped, 85.71 % uncapped'

The same week while its last two days are unheard, one session of them having come in already:

>>> partly = session_adherence(**given | {"heard": week.days()[:5], "sessions": sessions[:-3]})
>>> partly.done, partly.due, partly.unheard
(8, 14, 3)
>>> [round(percent, 1) for percent in (partly.lower_percent, partly.upper_percent)]
[57.1, 78.6]
>>> partly.percent  # of the five heard days: 7 of 10
70.0

Where nothing heard is due there is no percentage, neither 0 nor 100:

>>> print(session_adherence(**given | {"heard": []}).percent)
None
"""

from collections import Counter
from collections.abc import Collection, Sequence
from datetime import date
from typing import Unpack

from logs.counting import DayFacts, Given, Performance, Session, Work
from logs.tally import DayTally, DoseAdherence, LineDay, SessionAdherence
from plans.schedule import PrescribedLine

__all__ = [
    "Performance",
    "Session",
    "dose_adherence",
    "dose_adherence_of",
    "session_adherence",
    "session_adherence_of",
]


def session_adherence(*, heard: Collection[date], **given: Unpack[Given]) -> SessionAdherence:
    """Return Σ over days of min(done, due) ÷ Σ due, with its bounds and the days behind it.

    Days after today are left out, and today is never heard. Occasions are an order: a session
    takes the occasion of its number where that is due, else the lowest one left; what finds none
    is extra. So is a session beside any occasion, and one on a held occasion.
    """
    return session_adherence_of(DayFacts.of(**given), heard=heard)


def dose_adherence(*, heard: Collection[date], **given: Unpack[Given]) -> DoseAdherence:
    """Return Σ credited ÷ Σ prescribed, by line and day.

    Prescribed for an occasion is sets × the low end of the range. What a day's sessions did for a
    line, in the order done, fills that line's due occasions of the day, each up to what is
    prescribed; the rest is performed but not credited. Counts that were not confirmed, and what
    was done on held occasions, get no credit.
    """
    return dose_adherence_of(DayFacts.of(**given), heard=heard)


def session_adherence_of(facts: DayFacts, *, heard: Collection[date]) -> SessionAdherence:
    """Return the session adherence of facts that are counted already."""
    heard = frozenset(heard)
    tallies = []
    for day in facts.days:
        counted = facts.counted(day)
        taken = facts.taken(day)
        wholes = [facts.is_whole(occasion, session) for occasion, session in taken]
        tallies.append(
            DayTally(
                day=day,
                version=facts.in_force[day],
                due=len(facts.due.get(day, ())),
                done=len(taken),
                extra=len(counted.sessions) - len(taken),
                held=facts.held_due.get(day, 0),
                whole=wholes.count(True),
                part=wholes.count(False),
                unconfirmed=wholes.count(None),
                is_heard=day in heard and day < facts.today,
                entries=tuple([session.entry for session in counted.sessions]),
                perhaps_same=counted.perhaps_same,
            )
        )
    return SessionAdherence(tuple(tallies))


def dose_adherence_of(facts: DayFacts, *, heard: Collection[date]) -> DoseAdherence:
    """Return the dose adherence of facts that are counted already."""
    heard = frozenset(heard)
    line_days: list[LineDay] = []
    times_due: dict[tuple[tuple[str, ...], ...], dict[str, int]] = {}
    for day in facts.days:
        in_force = facts.in_force[day]
        is_heard = day in heard and day < facts.today
        done = facts.done_by_line(day)
        if due := facts.due.get(day):
            shape = tuple(occasion.line_keys for occasion in due)
            if shape not in times_due:
                times_due[shape] = Counter(key for keys in shape for key in keys)
            lines = facts.lines[due[0].version]
            for key, times in times_due[shape].items():
                works = done.pop(key, ())
                line_days.append(_line_day(day, lines[key], in_force, times, works, is_heard))
        for key, works in done.items():
            home = facts.home_of(key, (in_force, *(seen for *_, seen in works)))
            line = facts.lines[home][key]
            line_days.append(_line_day(day, line, in_force, 0, works, is_heard))
    return DoseAdherence(tuple(line_days))


def _line_day(
    day: date,
    line: PrescribedLine,
    in_force: int | None,
    times_due: int,
    works: Sequence[Work],
    is_heard: bool,
) -> LineDay:
    """Credit what was done for a line to its occasions of the day, in order."""
    each = line.sets * line.amount_low
    prescribed = times_due * each
    if not works:
        return LineDay(day, line, in_force, prescribed, 0, 0, 0, is_heard)
    credited = performed = recorded = filled = 0
    for amount, is_confirmed, has_credit, _ in works:
        recorded += amount
        if is_confirmed:
            performed += amount
        if has_credit and filled < times_due:
            credited += min(amount, each)
            filled += 1
    return LineDay(day, line, in_force, prescribed, credited, performed, recorded, is_heard)
