"""What is true of a day, counted from what happened on it and from nothing that was computed."""

from collections.abc import Callable, Sequence
from datetime import date

from logs.counting import Performance
from logs.simulator.people import DayTruth, LineTruth, SimulatedEntry
from plans.schedule import PrescribedLine

type Due = list[list[PrescribedLine]]
"""The lines of each session due on a day, lowest number first."""


def counted(
    *,
    day: date,
    version: int | None,
    due: Due,
    sessions: Sequence[int | None],
    told: Sequence[SimulatedEntry],
    is_heard: bool,
    load_g: Callable[[int, str], int],
) -> DayTruth:
    """Count a day.

    ``sessions`` are the numbers of those that really took place; ``told`` those of which word has
    come in, in the order done. ``load_g`` gives what a version prescribes for a line's key.
    """
    each_once: dict[object, SimulatedEntry] = {}
    for entry in told:
        each_once.setdefault(entry.occasion or entry.uuid, entry)
    ledger = _Ledger(due, load_g)
    done, kinds = 0, {"whole": 0, "part": 0, "unconfirmed": 0}
    for entry in each_once.values():
        performances = entry.revisions[-1].performances
        for performance in performances:
            ledger.add(entry.version, performance)
        if entry.occasion is not None and entry.occasion <= len(due):
            done += 1
            kinds[_kind(due[entry.occasion - 1], performances)] += 1
    pains = [score for entry in told for score in entry.revisions[-1].scores[1:3]]
    return DayTruth(
        day=day,
        version=version,
        due=len(due),
        done=done,
        really_done=sum(number is not None and number <= len(due) for number in sessions),
        extra=len(each_once) - done,
        doubles=len(told) - len(each_once),
        is_heard=is_heard,
        lines=ledger.lines,
        pain_peak=max((score for score in pains if score is not None), default=None),
        **kinds,
    )


def _kind(lines: Sequence[PrescribedLine], performances: Sequence[Performance]) -> str:
    """Whether a session had a full set of each line due in it."""
    done = {performance.line_key: performance for performance in performances}
    full = [
        done[line.key].confirmed
        for line in lines
        if line.key in done and max(done[line.key].amounts) >= line.amount_low
    ]
    if len(full) < len(lines):
        return "part"
    return "whole" if all(full) else "unconfirmed"


class _Ledger:
    """A day's lines: what was prescribed, and what each session adds."""

    def __init__(self, due: Due, load_g: Callable[[int, str], int]) -> None:
        self.load_g = load_g
        self.low = {line.key: line.sets * line.amount_low for lines in due for line in lines}
        self.open = dict.fromkeys(self.low, 0)
        for lines in due:
            for line in lines:
                self.open[line.key] += 1
        self.lines = {
            key: LineTruth(prescribed=times * self.low[key]) for key, times in self.open.items()
        }

    def add(self, seen: int, performance: Performance) -> None:
        """Add what was done for one line by someone who saw the version ``seen``."""
        key, load_g = performance.line_key, performance.load_g
        was, amount = self.lines.get(key, LineTruth()), sum(performance.amounts)
        counts = amount if performance.confirmed else 0
        credit = 0
        if performance.confirmed and self.open.get(key):
            self.open[key] -= 1
            credit = min(amount, self.low[key])
        # An easier step has no load of its own.
        asked_g = 0 if performance.step else self.load_g(seen, key)
        each_g = asked_g if load_g is None else load_g
        self.lines[key] = LineTruth(
            prescribed=was.prescribed,
            credited=was.credited + credit,
            performed=was.performed + counts,
            recorded=was.recorded + amount,
            load_volume_g=was.load_volume_g + counts * each_g,
        )
