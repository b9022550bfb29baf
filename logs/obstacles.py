"""What stood in the way of single lines, as patients said it: skipped, stopped, too hard, easier.

Pure. A line that was named too hard, or done in its easier step, is no evidence for stepping up.
What was done in an easier step that the line allows counts as done, and is credited like the
prescribed one; its volume is that of the step done.

>>> monday, tuesday = date(2026, 3, 2), date(2026, 3, 3)
>>> found = line_obstacles(
...     [
...         (monday, SaidOfLine("a", Ended.SKIPPED, Obstacle.TIRED)),
...         (tuesday, SaidOfLine("a", None, Obstacle.TOO_HARD)),
...     ]
... )
>>> found["a"].skipped == (monday,), found["a"].too_hard == (tuesday,)
(True, True)
>>> found["a"].holds_back
True
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import NamedTuple


class Ended(StrEnum):
    """How a line ended short of what was asked."""

    SKIPPED = "skipped"
    STOPPED = "stopped"


class Obstacle(StrEnum):
    """Why a line was skipped, stopped or done otherwise; as for a missed session, and too hard."""

    PAIN = "pain"
    TOO_HARD = "too_hard"
    TIRED = "tired"
    NO_TIME = "no_time"
    UNWELL = "unwell"
    NOT_UNDERSTOOD = "not_understood"

    @property
    def label(self) -> str:
        """The reason in words."""
        return _LABELS.get(self, self.value.replace("_", " "))


_LABELS = {Obstacle.NOT_UNDERSTOOD: "did not understand"}


class SaidOfLine(NamedTuple):
    """What a session says of one line beside the amounts; None where nothing was said.

    ``step`` is the key of an easier step that was done instead of the prescribed one.
    """

    line_key: str
    ended: str | None = None
    why: str | None = None
    step: str | None = None


@dataclass(frozen=True, slots=True)
class LineObstacles:
    """The days of the sessions in which something stood in a line's way, a day for each session."""

    skipped: tuple[date, ...]
    stopped: tuple[date, ...]
    easier: tuple[date, ...]
    reasons: Mapping[str, tuple[date, ...]]

    @property
    def too_hard(self) -> tuple[date, ...]:
        """When it was named too hard."""
        return self.reasons.get(Obstacle.TOO_HARD, ())

    @property
    def holds_back(self) -> bool:
        """Whether these days are no evidence for stepping up."""
        return bool(self.too_hard or self.easier)


def line_obstacles(said: Iterable[tuple[date, SaidOfLine]]) -> dict[str, LineObstacles]:
    """Return what stood in the way of each line that anything was said of, days in order."""
    days: dict[str, dict[str, list[date]]] = defaultdict(lambda: defaultdict(list))
    reasons: dict[str, dict[str, list[date]]] = defaultdict(lambda: defaultdict(list))
    for day, line in sorted(said, key=lambda each: each[0]):
        of_line = days[line.line_key]
        if line.ended:
            of_line[line.ended].append(day)
        if line.step:
            of_line["easier"].append(day)
        if line.why:
            reasons[line.line_key][line.why].append(day)
    return {
        key: LineObstacles(
            skipped=tuple(found[Ended.SKIPPED]),
            stopped=tuple(found[Ended.STOPPED]),
            easier=tuple(found["easier"]),
            reasons={
                why: tuple(when)
                for why, when in sorted(reasons[key].items(), key=lambda item: -len(item[1]))
            },
        )
        for key, found in days.items()
    }
