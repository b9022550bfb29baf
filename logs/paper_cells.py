"""How a cell of a paper diary is read: amounts done in each set, the weight used, and scores.

Pure. A cell takes the amounts as people write them:

>>> read_amounts("10 10 8"), read_amounts("10+10+8"), read_amounts("3x10")
((10, 10, 8), (10, 10, 8), (10, 10, 10))
>>> read_amounts("x", tick=(8, 8))
(8, 8)
>>> read_load("10 10 8 @1.5"), read_load("3x10 1,5 kg"), read_load("10 10")
(('10 10 8', 1500), ('3x10', 1500), ('10 10', None))
>>> read_amounts("ten")
Traceback (most recent call last):
...
logs.paper_cells.BadCell: “ten” is no amount: write the number of each set, like 10 10 8 or 3x10
"""

import re
from collections.abc import Iterable, Sequence
from decimal import Decimal

MOST_SETS = 20
LARGEST_AMOUNT = 999  # the largest that a line may ask for
TICKS = frozenset({"x", "X", "✓", "✔"})
SETS_OF = re.compile(r"(\d+)\s*[x×*]\s*(\d+)", re.IGNORECASE)
LARGEST_LOAD_G = 50_000
LOAD = re.compile(
    r"(?:@\s*(\d{1,3}(?:[.,]\d{1,3})?)\s*(?:kg)?|\s(\d{1,3}(?:[.,]\d{1,3})?)\s*kg)\s*$", re.I | re.A
)
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


def read_load(text: str) -> tuple[str, int | None]:
    """Return a cell without the weight that was used, and that weight in grams; None for none.

    BadCell where it is more than a hand carries, or stands without amounts.
    """
    found = LOAD.search(text)
    if not found:
        return text, None
    load_g = int(Decimal((found[1] or found[2]).replace(",", ".")) * 1000)
    if load_g > LARGEST_LOAD_G:
        raise BadCell(f"{load_g / 1000:g} kg can't be: at most {LARGEST_LOAD_G // 1000} kg")
    amounts = text[: found.start()].strip()
    if not amounts:
        raise BadCell("a weight without a number done: write the number of each set before it")
    return amounts, load_g


def load_text(load_g: int | None) -> str:
    """Return a weight as a cell shows it after the amounts; empty for none.

    >>> load_text(1500), load_text(None)
    (' @1.5', '')
    """
    return "" if load_g is None else f" @{(Decimal(load_g) / 1000).normalize():f}"


def read_score(text: str) -> int | None:
    """Return a score from 0 to 10; None for an empty cell, which is no answer. BadCell else."""
    text = text.strip()
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) <= 2 and int(text) <= 10):
        raise BadCell(f"“{text[:20]}” is no score: write a whole number from 0 to 10")
    return int(text)


def amounts_text(amounts: Iterable[int]) -> str:
    """Return amounts as a cell shows them: what :func:`read_amounts` reads as the same."""
    return " ".join(map(str, amounts))
