"""An order of a plan's lines with few changes of position and of weight, easy ones first. Pure.

An order is the better one, in this order of weight: the less time goes into changes of position and
weight (what ``plans.duration`` gives for each); the fewer harder lines stand before easier ones;
the seldomer the same joint comes twice running; the nearer it is to the order that the lines have.
The last makes the answer the only one, and arranging twice the same as arranging once. That easy
comes first and a joint rests between two lines is common practice, no source.

Up to twelve lines the best order is found exactly (Held and Karp 1962, J SIAM 10:196-210: dynamic
programming over sets). Beyond that lines of equal position and weight stay together, which costs no
changes (a set-up that is left and come back to is never quicker than one kept), and the best order
of those groups is found the same way.

>>> lines = [
...     OrderedLine("sitting", 0, 3, frozenset({"left elbow"})),
...     OrderedLine("lying_back", 0, 1, frozenset({"left shoulder"})),
...     OrderedLine("sitting", 0, 2, frozenset({"left wrist"})),
... ]
>>> arranged(lines)
(1, 2, 0)
>>> position_changes(lines), position_changes([lines[place] for place in arranged(lines)])
(2, 1)
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from plans.duration import CHANGE_WEIGHT_S, change_seconds

EXACT_TO = 12
"""So many lines, or groups of them, are arranged exactly; each one more doubles the work."""

# One cost in one number: each part counts above all that the parts after it can add up to.
_MOST = 1_000
"""Above the pairs out of order among 40 lines (780), the most that a plan is arranged for."""

Costs = NDArray[np.int64]


@dataclass(frozen=True)
class OrderedLine:
    """What of a line its place depends on. ``joints`` are those it moves, told apart by side."""

    position: str
    load_g: int
    effort: int
    joints: frozenset[str]


class TooManyToArrange(ValueError):
    """More lines, or more groups of equal position and weight, than can be arranged."""


def position_changes(lines: Sequence[OrderedLine]) -> int:
    """How often the patient has to change position."""
    return sum(one.position != other.position for one, other in pairwise(lines))


def weight_changes(lines: Sequence[OrderedLine]) -> int:
    """How often a weight has to be taken up, put down or changed."""
    return sum(one.load_g != other.load_g for one, other in pairwise(lines))


def order_cost(
    lines: Sequence[OrderedLine], order: Sequence[int], *, joints_apart: bool = True
) -> tuple[float, int, int, int]:
    """What an order costs, part by part; the lower tuple is the better order.

    ``order`` names the lines by their present places, from 0. Parts: seconds of changes, pairs with
    the harder one first, the same joint twice running (0 unless ``joints_apart``), pairs that
    changed places.
    """
    placed = [lines[place] for place in order]
    changes = sum(change_seconds(a.position, b.position) for a, b in pairwise(placed))
    changes += CHANGE_WEIGHT_S * weight_changes(placed)
    pairs = [(a, b) for at, a in enumerate(order) for b in order[at + 1 :]]
    return (
        changes,
        sum(lines[a].effort > lines[b].effort for a, b in pairs),
        sum(bool(a.joints & b.joints) for a, b in pairwise(placed)) if joints_apart else 0,
        sum(a > b for a, b in pairs),
    )


def arranged(lines: Sequence[OrderedLine], *, joints_apart: bool = True) -> tuple[int, ...]:
    """Return the best order of lines, by their present places from 0.

    ``joints_apart=False`` lets the same joint come twice running. Raises TooManyToArrange beyond
    40 lines, or where more than twelve lines make more than twelve groups.
    """
    if len(lines) <= EXACT_TO:
        return _best(lines, [(place,) for place in range(len(lines))], joints_apart)
    groups: dict[tuple[str, int], list[int]] = {}
    for place, line in enumerate(lines):
        groups.setdefault((line.position, line.load_g), []).append(place)
    if len(groups) > EXACT_TO or len(lines) > 40:
        raise TooManyToArrange(f"{len(lines)} lines in {len(groups)} groups")
    return _best(
        lines, [_within(lines, group, joints_apart) for group in groups.values()], joints_apart
    )


def _within(
    lines: Sequence[OrderedLine], group: Sequence[int], joints_apart: bool
) -> tuple[int, ...]:
    """Return the order of lines that share position and weight; easy first in a large group."""
    if len(group) <= EXACT_TO:
        return _best(lines, [(place,) for place in group], joints_apart)
    order: list[int] = []
    for effort in sorted({lines[place].effort for place in group}):
        same = [place for place in group if lines[place].effort == effort]
        is_few = len(same) <= EXACT_TO
        order += _best(lines, [(place,) for place in same], joints_apart) if is_few else same
    return tuple(order)


def _best(
    lines: Sequence[OrderedLine], blocks: Sequence[tuple[int, ...]], joints_apart: bool
) -> tuple[int, ...]:
    """Return the best order of blocks of lines, each kept as it is."""
    count = len(blocks)
    if count == 0:
        return ()
    follows = np.zeros((count, count), dtype=np.int64)  # one block straight after another
    before = np.zeros((count, count), dtype=np.int64)  # one block anywhere before another
    for a, one in enumerate(blocks):
        for b, other in enumerate(blocks):
            if a != b:
                follows[a, b] = _straight_after(lines[one[-1]], lines[other[0]], joints_apart)
                before[a, b] = sum(
                    (lines[x].effort > lines[y].effort) * _MOST**2 + (x > y)
                    for x in one
                    for y in other
                )
    least = np.full((1 << count, count), np.iinfo(np.int64).max // 2, dtype=np.int64)
    came_from = np.zeros((1 << count, count), dtype=np.int8)
    for block in range(count):
        least[1 << block, block] = 0
    for done in range(1, (1 << count) - 1):
        inside = [block for block in range(count) if done >> block & 1]
        reached = least[done][:, None] + follows
        previous = reached.argmin(axis=0)
        costs: Costs = reached.min(axis=0) + before[inside].sum(axis=0)
        for block in range(count):
            more = done | 1 << block
            if more != done and costs[block] < least[more, block]:
                least[more, block] = costs[block]
                came_from[more, block] = previous[block]
    done = (1 << count) - 1
    last = int(least[done].argmin())
    backwards = []
    while done:
        backwards.append(last)
        last, done = int(came_from[done, last]), done & ~(1 << last)
    return tuple(place for block in reversed(backwards) for place in blocks[block])


def _straight_after(one: OrderedLine, other: OrderedLine, joints_apart: bool) -> int:
    changes_s = change_seconds(one.position, other.position)
    changes_s += CHANGE_WEIGHT_S * (one.load_g != other.load_g)
    repeats = joints_apart and bool(one.joints & other.joints)
    return int(changes_s) * _MOST**3 + repeats * _MOST
