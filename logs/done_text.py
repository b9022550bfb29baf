"""What a session did as one text, kept with it: a review reads a row a session, not a row a line.

Pure. One JSON array a line of text: the line's number, the amounts of its sets, load in grams,
whether confirmed, whether it hurt, how it ended, why, and the easier step done.

>>> text = done_text([(7, (8, 6), None, True, None, None, None, None)])
>>> text
'[7,[8,6],null,true,null,null,null,null]'
>>> Known({7: (0, "a")})[text].performance.amounts
(8, 6)
"""

from collections.abc import Iterable, Mapping
from functools import lru_cache
from json import dumps, loads
from operator import itemgetter
from typing import Any, NamedTuple

from logs.counting import Performance
from logs.obstacles import SaidOfLine

type DoneRow = tuple[
    int, Iterable[int], int | None, bool, bool | None, str | None, str | None, str | None
]
"""What was done for one line, in the order that the text has it."""

FIELDS = ("line_id", "amounts", "load_g", "is_confirmed", "hurt", "ended", "why", "step")
"""The names of a row's values where the lines are stored."""


def done_text(rows: Iterable[DoneRow]) -> str:
    """Return what was done as the text to keep; empty if it was nothing."""
    return "\n".join(dumps(row, separators=(",", ":")) for row in sorted(rows, key=itemgetter(0)))


class DoneLine(NamedTuple):
    """What was done for one line: first the line's place in the plan, to sort by."""

    position: int
    performance: Performance
    is_named: bool
    said: SaidOfLine | None


class Known(dict[str, DoneLine]):
    """What was done by its line of text: the same few come again and again, each is read once.

    ``places`` have a line's position and key by its number.
    """

    def __init__(self, places: Mapping[int, tuple[int, str]]) -> None:
        super().__init__()
        self.places = places

    def __missing__(self, text: str) -> DoneLine:
        line, _, rest = text.removeprefix("[").partition(",")
        amounts, load_g, is_confirmed, hurt, *words = _beside_the_line(rest)
        position, key = self.places[int(line)]
        found = self[text] = DoneLine(
            position,
            Performance(key, amounts, load_g, is_confirmed, words[-1]),
            hurt,
            SaidOfLine(key, *words) if any(words) else None,
        )
        return found

    def lines(self, text: str) -> list[DoneLine]:
        """What a session did, in the order of its plan."""
        return sorted([self[line] for line in text.split("\n")], key=_position) if text else []


_position = itemgetter(DoneLine._fields.index("position"))


@lru_cache(maxsize=4096)
def _beside_the_line(text: str) -> tuple[Any, ...]:
    """What the text says beside the line's number; many sessions say the same of many lines."""
    amounts, load_g, is_confirmed, hurt, *words = loads(f"[{text}")
    return tuple(amounts), load_g, is_confirmed, bool(hurt), *words
