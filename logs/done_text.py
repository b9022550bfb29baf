"""What a session did as one text, kept with it: a review reads a row a session, not a row a line.

Pure. One JSON array a line of text, in the order of the plan: the line's key, the amounts of its
sets, load in grams, whether confirmed, whether it hurt, how it ended, why, the easier step done.

>>> text = done_text([(1, 7, "a", (8, 6), None, True, None, None, None, None)])
>>> text
'["a",[8,6],null,true,null,null,null,null]'
>>> Known().lines(text)[0].performance.amounts
(8, 6)
"""

from collections.abc import Iterable
from functools import lru_cache
from json import dumps, loads
from typing import Any, NamedTuple

from logs.counting import Performance
from logs.obstacles import SaidOfLine

type DoneRow = tuple[
    int,
    int,
    str,
    Iterable[int],
    int | None,
    bool,
    bool | None,
    str | None,
    str | None,
    str | None,
]
"""What was done for one line: its place in the plan and its number, to sort by, then the array."""

FIELDS = (
    "line__position",
    "line_id",
    "line__key",
    "amounts",
    "load_g",
    "is_confirmed",
    "hurt",
    "ended",
    "why",
    "step",
)
"""The names of a row's values where lines are stored."""


def done_text(rows: Iterable[DoneRow]) -> str:
    """Return what was done as the text to keep; empty if it was nothing."""
    ordered = sorted(rows, key=lambda row: row[:2])
    return "\n".join(dumps(array, separators=(",", ":")) for _, _, *array in ordered)


class DoneLine(NamedTuple):
    """What was done for one line, and whether the pain was named with it."""

    performance: Performance
    is_named: bool
    said: SaidOfLine | None


class Known(dict[str, DoneLine]):
    """What was done by its line of text: the same few come again and again, each is read once."""

    def __missing__(self, text: str) -> DoneLine:
        start, _, rest = text.partition(",")  # no key has a comma in it
        key = start[2:-1]
        amounts, load_g, is_confirmed, hurt, *words = _beside_the_key(rest)
        found = self[text] = DoneLine(
            Performance(key, amounts, load_g, is_confirmed, words[-1]),
            hurt,
            SaidOfLine(key, *words) if any(words) else None,
        )
        return found

    def lines(self, text: str) -> list[DoneLine]:
        """What a session did."""
        return [self[line] for line in text.split("\n")] if text else []


@lru_cache(maxsize=4096)
def _beside_the_key(text: str) -> tuple[Any, ...]:
    """What the text says beside the line's key; many sessions say the same of many lines."""
    amounts, load_g, is_confirmed, hurt, *words = loads(f"[{text}")
    return tuple(amounts), load_g, is_confirmed, bool(hurt), *words
