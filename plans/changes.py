"""What changed from one version of a plan to the next, line by line. Pure.

>>> before = [ComparedLine("a", "Arm lift, left", (("sets and range", "2 × 8–10"),))]
>>> after = [ComparedLine("a", "Arm lift, left", (("sets and range", "3 × 8–10"),))]
>>> line_changes(before, after)[0].facts
(FactChange(label='sets and range', before='2 × 8–10', after='3 × 8–10'),)
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


@dataclass(frozen=True)
class ComparedLine:
    """A line as it is compared: its lasting key, what to call it, and its facts by label."""

    key: str
    title: str
    facts: tuple[tuple[str, str], ...]


class ChangeKind(StrEnum):
    """What happened to a line."""

    ADDED = "added"
    CHANGED = "changed"
    REMOVED = "taken out"


@dataclass(frozen=True)
class FactChange:
    """One fact of a line that changed; empty words where there was or is none."""

    label: str
    before: str
    after: str


@dataclass(frozen=True)
class LineChange:
    """A line that was added, changed or taken out, with what changed in it."""

    kind: ChangeKind
    title: str
    facts: tuple[FactChange, ...] = ()


def line_changes(
    before: Sequence[ComparedLine], after: Sequence[ComparedLine]
) -> tuple[LineChange, ...]:
    """Return what happened to each line, in the order of ``after``, lines taken out last."""
    earlier = {line.key: line for line in before}
    changes = []
    for line in after:
        was = earlier.pop(line.key, None)
        if was is None:
            changes.append(LineChange(ChangeKind.ADDED, line.title))
        elif facts := _fact_changes(was, line):
            changes.append(LineChange(ChangeKind.CHANGED, line.title, facts))
    changes += [LineChange(ChangeKind.REMOVED, line.title) for line in earlier.values()]
    return tuple(changes)


def is_reordered(before: Sequence[ComparedLine], after: Sequence[ComparedLine]) -> bool:
    """Whether the lines that both have come in another order."""
    kept = {line.key for line in before} & {line.key for line in after}
    return [line.key for line in before if line.key in kept] != [
        line.key for line in after if line.key in kept
    ]


def _fact_changes(before: ComparedLine, after: ComparedLine) -> tuple[FactChange, ...]:
    was, now = dict(before.facts), dict(after.facts)
    return tuple(
        FactChange(label, was.get(label, ""), now.get(label, ""))
        for label in dict.fromkeys([*was, *now])
        if was.get(label, "") != now.get(label, "")
    )
