"""What simulated people say beside amounts and scores: of lines, of pain, and of missed sessions.

Pure. Each person's own chance decides it, apart from that of what they do: to say more or less of
it changes nothing that happens.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from random import Random
from typing import NamedTuple

from logs.counting import Performance
from logs.obstacles import Ended, Obstacle, SaidOfLine
from logs.simulator.people import DayTruth, SimulatedVersion
from plans.schedule import PrescribedLine

EASIER = 0.2
"""The share of times that a line is done in its easier step, where that is allowed."""

SAYS_WHY = 0.6
"""The share of lines broken off, and of days missed, of which a reason is given."""

HURTS_FROM = 3
"""A pain during or after exercise from which people name an exercise."""

WHYS = ("tired", "no_time", "forgot", "tired", "no_time", "unwell", "pain")
"""Why sessions are missed; what stands twice is said twice as often."""


class SaidOfSession(NamedTuple):
    """What is said of a session's lines, and the key of the line that its pain is named with."""

    lines: tuple[SaidOfLine, ...] = ()
    hurt: str | None = None


class MissedDay(NamedTuple):
    """Why a day's sessions were missed, and how that was told."""

    day: date
    reason: str
    source: str


def in_easier_steps(
    performances: Sequence[Performance], version: SimulatedVersion, chance: Random
) -> tuple[Performance, ...]:
    """Return what was done, on some days in the easier steps that lines allow."""
    easier = {line.prescribed.key: line.prescribed.easier for line in version.lines}
    done = []
    for performance in performances:
        step = easier.get(performance.line_key)
        takes_it = step is not None and chance.random() < EASIER
        done.append(
            replace(performance, step=step.key, load_g=None) if step and takes_it else performance
        )
    return tuple(done)


def said_of_session(
    performances: Sequence[Performance],
    lines: Sequence[PrescribedLine],
    scores: Sequence[int | None],
    avoids: Sequence[str],
    chance: Random,
) -> SaidOfSession:
    """Return what someone says of a session: sets that fell short, lines left out, and pain."""
    pain = max((score for score in scores[1:3] if score is not None), default=0)
    by_key = {line.key: line for line in lines}
    said = []
    for done in performances:
        line = by_key.get(done.line_key)
        is_short = line is not None and min(done.amounts, default=0) < line.amount_low
        if is_short and chance.random() < SAYS_WHY:
            whys = [Obstacle.PAIN] if pain > HURTS_FROM else [Obstacle.TIRED, Obstacle.TOO_HARD]
            said.append(SaidOfLine(done.line_key, Ended.STOPPED, chance.choice(whys), done.step))
        elif done.step:
            said.append(SaidOfLine(done.line_key, None, Obstacle.TOO_HARD, done.step))
    for line in lines:
        if line.exercise in avoids and chance.random() < SAYS_WHY:
            why = chance.choice([Obstacle.PAIN, Obstacle.NOT_UNDERSTOOD])
            said.append(SaidOfLine(line.key, Ended.SKIPPED, why))
    names_it = performances and pain >= HURTS_FROM and chance.random() < SAYS_WHY
    return SaidOfSession(tuple(said), performances[0].line_key if names_it else None)


def why_missed(days: Iterable[DayTruth], source: str, chance: Random) -> tuple[MissedDay, ...]:
    """Return the reasons given for days heard from on which less was done than was due."""
    return tuple(
        MissedDay(day.day, chance.choice(WHYS), source)
        for day in days
        if day.is_heard and day.done < day.due and chance.random() < SAYS_WHY
    )
