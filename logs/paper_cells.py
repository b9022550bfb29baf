"""How a cell of a paper diary is read: amounts done in each set, and pains.

Pure. A cell takes the amounts as people write them:

>>> read_amounts("10 10 8"), read_amounts("10+10+8"), read_amounts("3x10")
((10, 10, 8), (10, 10, 8), (10, 10, 10))
>>> read_amounts("x", tick=(8, 8))
(8, 8)
>>> read_amounts("ten")
Traceback (most recent call last):
...
logs.paper_cells.BadCell: “ten” is no amount: write the number of each set, like 10 10 8 or 3x10
"""

import re
from collections.abc import Iterable, Sequence

MOST_SETS = 20
LARGEST_AMOUNT = 999  # the largest that a line may ask for
TICKS = frozenset({"x", "X", "✓", "✔"})
SETS_OF = re.compile(r"(\d+)\s*[x×*]\s*(\d+)", re.IGNORECASE)
BETWEEN = re.compile(r"[\s,;+/]+")


class BadCell(ValueError):
    """What stands in a cell can't be; its text says why and what to write."""


def read_amounts(text: str, tick: Sequence[int] = ()) -> tuple[int, ...]:
    """Return the amount done in each set; nothing for an empty cell.

    A tick alone means all that was asked (``tick``). BadCell where it is no amount.
    """
    text = text.strip()
    if text in TICKS and tick:
        return tuple(tick)
    amounts: list[int] = []
    # The sign between sets and amount may stand apart: it is drawn together first.
    for word in filter(None, BETWEEN.split(SETS_OF.sub(r"\1x\2", text))):
        several = SETS_OF.fullmatch(word)
        sets, amount = several.groups() if several else ("1", word)
        if not (amount.isascii() and amount.isdigit()):
            raise BadCell(
                f"“{word[:20]}” is no amount: write the number of each set, like 10 10 8 or 3x10"
            )
        if len(amount) > 4 or int(amount) > LARGEST_AMOUNT:
            raise BadCell(f"{amount[:20]} in one set can't be: at most {LARGEST_AMOUNT}")
        if len(sets) > 3 or not 1 <= int(sets) <= MOST_SETS - len(amounts):
            raise BadCell(f"that makes too many sets: at most {MOST_SETS} in one session")
        amounts += [int(amount)] * int(sets)
    return tuple(amounts)


def read_score(text: str) -> int | None:
    """Return a pain from 0 to 10; None for an empty cell, which is no answer. BadCell else."""
    text = text.strip()
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) <= 2 and int(text) <= 10):
        raise BadCell(f"“{text[:20]}” is no pain score: write a whole number from 0 to 10")
    return int(text)


def amounts_text(amounts: Iterable[int]) -> str:
    """Return amounts as a cell shows them: what :func:`read_amounts` reads as the same."""
    return " ".join(map(str, amounts))
