"""How long a line and a session take: repetitions, holds, rests, changes. Seconds; pure."""

from collections.abc import Sequence
from itertools import pairwise

SECONDS_A_TIME = 60.0
"""What one time of an activity takes where nobody says; common practice, no source."""


def line_seconds(
    *, sets: int, amount: int, unit: str, each_s: float = 0.0, rest_s: float = 0.0
) -> float:
    """Seconds of a line's sets and the rests between them.

    ``each_s`` is one repetition with its hold. Times without a length count a minute each.

    >>> line_seconds(sets=3, amount=10, unit="seconds", rest_s=30)
    90.0
    """
    a_unit = {"repetitions": each_s, "seconds": 1.0, "minutes": 60.0, "times": SECONDS_A_TIME}
    return float(sets * amount * a_unit[unit] + (sets - 1) * rest_s)


CHANGE_POSITION_S = 60.0
TURN_OVER_S = 30.0
CHANGE_WEIGHT_S = 20.0
"""Time to lie down or get up, to turn over in bed or move up to a table, and to change a weight at
home; common practice, no source."""

ALIKE = (frozenset({"lying_back", "lying_side"}), frozenset({"sitting", "sitting_at_table"}))
"""Positions between which nobody has to lie down or get up."""


def change_seconds(position: str, next_position: str) -> float:
    """Seconds from one position to the next.

    >>> change_seconds("lying_back", "lying_side"), change_seconds("lying_side", "sitting")
    (30.0, 60.0)
    """
    if position == next_position:
        return 0.0
    return TURN_OVER_S if {position, next_position} in ALIKE else CHANGE_POSITION_S


def session_seconds(lines: Sequence[tuple[str, float, float]]) -> float:
    """Seconds of a session: lines in order as (position, weight in kg, seconds).

    >>> session_seconds([("lying_back", 0, 100), ("sitting", 0, 80), ("sitting", 1, 60)])
    320.0
    """
    total = sum(seconds for _, _, seconds in lines)
    for (position, weight_kg, _), (next_position, next_kg, _) in pairwise(lines):
        total += change_seconds(position, next_position)
        total += CHANGE_WEIGHT_S * (weight_kg != next_kg)
    return float(total)
