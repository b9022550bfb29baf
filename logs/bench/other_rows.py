"""Rows that need no patient: the trend, the arm model, a figure, the catalogue."""

import gzip
from collections.abc import Iterator
from random import Random
from statistics import median
from time import process_time

import numpy as np
from django.urls import reverse

from logs.bench.clinic import BenchClinic
from logs.bench.measuring import Row, in_turns, ratio, times
from logs.bench.review_rows import signed_in
from logs.trend import trend
from patients.motions import Effort, Side
from plans.arm import Floats
from plans.catalogue import Exercise, Kind
from plans.exercise import DEFAULT_BODY, movement_of
from plans.figure import moving_data, moving_svg, still_svg
from plans.moments import demands_nm
from plans.queries import searchable_exercises

TREND_POINTS = 182
TRENDS_A_ROUND = 10
POSES = 50
STILL_S = 0.005
STILL_ROUNDS = 3
LOADED = "elbow_bend_sitting"


def other_rows(clinic: BenchClinic, rounds: int) -> Iterator[Row]:
    """The rows, on the catalogue that is shipped."""
    yield _trend(rounds)
    exercises = {entry.exercise.key: entry.exercise for entry in searchable_exercises()}
    yield _moments(exercises[LOADED], rounds)
    yield from _figures(exercises)
    yield _search(clinic, rounds)


def plain_trend(times: list[float], values: list[float]) -> tuple[float, int]:
    """The median slope and S by a plain double loop over all pairs, and no more."""
    slopes, s = [], 0
    for later in range(len(values)):
        for earlier in range(later):
            rise = values[later] - values[earlier]
            s += (rise > 0) - (rise < 0)
            slopes.append(rise / (times[later] - times[earlier]))
    return median(slopes), s


def _trend(rounds: int) -> Row:
    rng = Random(TREND_POINTS)  # noqa: S311 (invented scores)
    days = [float(day) for day in range(TREND_POINTS)]
    scores = [float(min(10, max(0, round(rng.gauss(5 - day / 60, 1.5))))) for day in days]
    return ratio(
        f"trend of {TREND_POINTS} points ÷ plain double loop (median slope and S only), "
        f"{TRENDS_A_ROUND} a round",
        times(TRENDS_A_ROUND, lambda: trend(days, scores)),
        times(TRENDS_A_ROUND, lambda: plain_trend(days, scores)),
        limit=0.15,
        rounds=rounds,
    )


def _moments(exercise: Exercise, rounds: int) -> Row:
    step = next(step for step in exercise.steps if step.effort is Effort.ACTIVE)
    movement = movement_of(exercise, step)
    times_s = np.linspace(0.0, movement.own_pace_s, POSES)

    def evaluate() -> Floats:
        arm = movement.chain(movement.coordinates_at(times_s))
        return demands_nm(arm, DEFAULT_BODY.arm)

    (taken,) = in_turns(evaluate, rounds=rounds)
    name = f"moments at every axis in {POSES} poses of one repetition ÷ 1 ms"
    return Row(name, taken, 1, f"{taken:.2f} ms")


def _figures(exercises: dict[str, Exercise]) -> Iterator[Row]:
    """What the figures of the catalogue weigh, and how long its stills take."""
    movements = [
        movement_of(exercise, step)
        for exercise in exercises.values()
        if exercise.kind is Kind.POSES
        for step in exercise.steps
    ]
    stills, moving, times_s = [], [], []
    for movement in movements:
        taken_s = []
        for _ in range(STILL_ROUNDS):
            began = process_time()
            still = still_svg(movement, Side.RIGHT)
            taken_s.append(process_time() - began)
        times_s.append(median(taken_s))
        stills.append(len(gzip.compress(still.encode())))
        sent = moving_svg(movement, Side.RIGHT) + moving_data(movement, Side.RIGHT)
        moving.append(len(gzip.compress(sent.encode())))
    for name, sizes in (("still", stills), ("moving", moving)):
        row = f"largest {name} figure of {len(sizes)}, SVG after gzip ÷ 8 kB"
        largest = max(sizes, default=0)
        yield Row(row, largest / 8000, 1, f"{largest} bytes, median {median(sizes):.0f}")
    spent_s = sum(times_s)
    note = f"{spent_s:.2f} s, median {1000 * median(times_s):.1f} ms a figure, processor time"
    yield Row(
        f"all {len(times_s)} still figures, made one after another ÷ 2 s", spent_s / 2, 1, note
    )
    slowest_s = max(times_s, default=0.0)
    above = sum(taken > STILL_S for taken in times_s)
    note = f"{1000 * slowest_s:.1f} ms; {above} of {len(times_s)} take longer than 5 ms"
    yield Row("slowest still figure ÷ 5 ms", slowest_s / STILL_S, 1, note)


def _search(clinic: BenchClinic, rounds: int) -> Row:
    client = signed_in(clinic)
    address, bare = reverse("exercises"), reverse("bare_page")
    return ratio(
        "catalogue search, by a word as one types ÷ empty signed-in page",
        lambda: client.get(address, {"q": "elbow"}, headers={"HX-Request": "true"}),
        lambda: client.get(bare),
        limit=3,
        rounds=rounds,
    )
