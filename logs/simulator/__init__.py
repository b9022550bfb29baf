"""A clinic's weeks at home, simulated: people with known truths, what they told, and the count.

Pure and seeded: the same seed, day and cast give the same simulation. The simulator counts, day by
day, what it lets happen, and asks none of the modules that compute reviews: what they find in the
entries can be held against what was put into them. A simulation ends on the day before its today,
of which it has seen the morning: phones with signal have reported.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date, timedelta
from random import Random
from zoneinfo import ZoneInfo

from logs.simulator.cast import SPAN_WEEKS, Cast, Story
from logs.simulator.home import Home
from logs.simulator.people import SimulatedPerson
from plans.catalogue import Exercise


def simulate(
    *,
    seed: int,
    last_day: date,
    cast: Cast,
    exercises: Mapping[str, Exercise],
    people: int = 12,
    weeks: int = SPAN_WEEKS,
) -> Iterator[SimulatedPerson]:
    """Give one person after another, each with ``weeks`` whole weeks up to ``last_day``.

    Beyond the cast's own people, its stories are told again of others, with shares of their own.
    Lines whose exercise is not in ``exercises`` are left out.
    """
    if people < 0 or weeks < 1:
        raise ValueError("a simulation has at least one week and no less than nobody")
    zone = ZoneInfo(cast.clinic["time_zone"])
    for index in range(people):
        rng = Random(f"{seed}/{index}")  # noqa: S311 (a simulation, no secret)
        story = cast.stories[index % len(cast.stories)]
        if index >= len(cast.stories):
            story = _told_again(story, index, cast, rng)
        yield Home(story, rng, last_day, weeks, zone, exercises, cast.notes).lived()


def _told_again(story: Story, index: int, cast: Cast, rng: Random) -> Story:
    truth = story.truth
    return replace(
        story,
        name=f"{rng.choice(cast.given_names)} {rng.choice(cast.family_names)}",
        number=f"D-{index + 1:02}",
        born=story.born + timedelta(rng.randint(-1500, 1500)),
        truth=replace(
            truth,
            sessions=min(1.0, truth.sessions * rng.uniform(0.6, 1.1)),
            pain=min(9.0, max(0.0, truth.pain + rng.uniform(-1, 1))),
        ),
    )
