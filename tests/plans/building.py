"""Lines, versions and windows for tests, in few words."""

from dataclasses import replace
from datetime import date, timedelta

from patients.motions import Effort, Side
from plans.schedule import PrescribedLine, Unit, Version, Window

MONDAY = date(2026, 3, 2)
EVERY_DAY = frozenset(range(7))

_ARM_LIFT = PrescribedLine(
    key="a",
    exercise="arm_lift",
    name="Arm lift",
    side=Side.LEFT,
    step=Effort.ACTIVE,
    unit=Unit.REPETITIONS,
    sets=2,
    amount_low=8,
    amount_high=10,
    hold_s=0,
    pace_s=6,
    load_g=0,
    sessions_per_day=2,
    weekdays=EVERY_DAY,
    moves=("shoulder_flexion",),
    loads=(),
)


def line(key: str = "a", **changes: object) -> PrescribedLine:
    """2 sets of 8 to 10 arm lifts, twice a day, every day, but for the changes."""
    return replace(_ARM_LIFT, key=key, **changes)


def version(number: int, effective_day: date, *lines: PrescribedLine) -> Version:
    return Version(number, effective_day, lines)


def day(number: int) -> date:
    """Day 1 is Monday 2 March 2026."""
    return MONDAY + timedelta(days=number - 1)


def window(first: int, last: int) -> Window:
    return Window(day(first), day(last))
