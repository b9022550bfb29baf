"""Timing two things in turns, and the row that comes of it."""

import gc
from collections.abc import Callable
from dataclasses import asdict, dataclass
from statistics import median
from time import perf_counter

type Job = Callable[[], object]


@dataclass(frozen=True)
class Row:
    """One ratio with its limit: at most it, or with ``at_least`` no less.

    ``note`` says what was divided by what, in milliseconds.
    """

    name: str
    ratio: float
    limit: float
    note: str = ""
    at_least: bool = False

    @property
    def is_met(self) -> bool:
        """Whether the ratio keeps its limit."""
        return self.ratio >= self.limit if self.at_least else self.ratio <= self.limit

    def as_json(self) -> dict[str, object]:
        """The row for a machine to read; ``at_least`` stands only where more is better."""
        row = asdict(self)
        del row["note"]
        if not self.at_least:
            del row["at_least"]
        return row


def in_turns(*jobs: Job, rounds: int, clock: Callable[[], float] = perf_counter) -> list[float]:
    """Run the jobs in turns and return the median time of each in milliseconds.

    What is held against a time and not against another job is better read on the processor's
    ``clock`` (`time.process_time`), which stands still while other programs run. A first round
    that is not counted warms what the jobs keep. The collector of cycles runs between rounds and
    not inside them; as it leaves the caches cold, the last job follows it once uncounted, so that
    each is timed after another one of them.
    """
    times: list[list[float]] = [[] for _ in jobs]
    for job in jobs:
        job()
    for _ in range(rounds):
        gc.collect()
        gc.disable()
        try:
            jobs[-1]()
            for job, taken in zip(jobs, times, strict=True):
                began = clock()
                job()
                taken.append(1000 * (clock() - began))
        finally:
            gc.enable()
    return [median(taken) for taken in times]


def times(number: int, job: Job) -> Job:
    """A job so many times over, where once is too short to be timed well."""

    def over_and_over() -> None:
        for _ in range(number):
            job()

    return over_and_over


def ratio(
    name: str, ours: Job, other: Job, *, limit: float, rounds: int, at_least: bool = False
) -> Row:
    """Return our time over the other one's, or the other way round where more is better."""
    mine, theirs = in_turns(ours, other, rounds=rounds)
    found = theirs / mine if at_least else mine / theirs
    words = f"{theirs:.2f} ÷ {mine:.2f} ms" if at_least else f"{mine:.2f} ÷ {theirs:.2f} ms"
    return Row(name, found, limit, words, at_least)
