"""The order of a plan's lines, part by part, against NetworkX's shortest paths on random plans.

NetworkX 3 (Hagberg, Schult and Swart 2008, Proc SciPy 2008:11-15), Dijkstra's algorithm. A plan is
a graph whose nodes say which lines are done and which one was last; its edges cost what the next
line adds, told from the definition of the cost and not by the code under test. The cheapest way
from nothing done to all done is the best order there is.
"""

import random

import pytest

from plans.order import OrderedLine, arranged, order_cost

networkx = pytest.importorskip("networkx")
pytestmark = pytest.mark.reference

LYING = {"lying_back", "lying_side"}
ABOVE = 10_000
"""More than any of the parts after it can come to in these plans."""


def random_plan(seed, count):
    chosen = random.Random(seed)
    joints = ("left shoulder", "left elbow", "left wrist", "right elbow")
    return [
        OrderedLine(
            position=chosen.choice(["lying_back", "lying_side", "sitting", "standing"]),
            load_g=chosen.choice([0, 0, 500, 1000]),
            effort=chosen.randint(1, 5),
            joints=frozenset(chosen.sample(joints, chosen.randint(1, 2))),
        )
        for _ in range(count)
    ]


def added(lines, done, last, following):
    """What one more line adds to an order: one number in which each part outweighs the next."""
    line = lines[following]
    seconds = repeats = 0
    if last is not None:
        before = lines[last]
        if before.position != line.position:
            seconds = 30 if {before.position, line.position} == LYING else 60
        seconds += 20 * (before.load_g != line.load_g)
        repeats = int(not before.joints.isdisjoint(line.joints))
    harder_first = sum(lines[place].effort > line.effort for place in done)
    out_of_place = sum(place > following for place in done)
    return ((int(seconds) * ABOVE + harder_first) * ABOVE + repeats) * ABOVE + out_of_place


def cheapest(lines):
    """The least cost of any order of lines, by NetworkX."""
    graph = networkx.DiGraph()
    everything = frozenset(range(len(lines)))
    states = {(frozenset(), None)}
    while states:
        reached = set()
        for done, last in states:
            for following in everything - done:
                state = (done | {following}, following)
                cost = added(lines, done, last, following)
                graph.add_edge((done, last), state, weight=cost)
                reached.add(state)
        states = reached
    for last in everything:
        graph.add_edge((everything, last), "all done", weight=0)
    return networkx.dijkstra_path_length(graph, (frozenset(), None), "all done")


def as_one_number(cost):
    total = 0
    for part in cost:
        total = total * ABOVE + int(part)
    return total


@pytest.mark.parametrize("count", [2, 3, 5, 7, 8, 9])
@pytest.mark.parametrize("seed", range(6))
def test_no_order_of_up_to_nine_lines_is_cheaper(count, seed):
    lines = random_plan(seed, count)
    assert as_one_number(order_cost(lines, arranged(lines))) == cheapest(lines)


def test_nor_of_twelve():
    lines = random_plan(2026, 12)
    assert as_one_number(order_cost(lines, arranged(lines))) == cheapest(lines)


def least_seconds(set_ups):
    """The least time of changes through every set-up once, by NetworkX."""
    bare = [OrderedLine(position, load_g, 0, frozenset()) for position, load_g in set_ups]
    return cheapest(bare) // ABOVE**3


@pytest.mark.parametrize("count", [13, 16, 25, 40])
@pytest.mark.parametrize("seed", range(4))
def test_a_longer_plan_spends_the_least_time_on_changes_that_its_set_ups_allow(count, seed):
    lines = random_plan(seed, count)
    set_ups = sorted({(line.position, line.load_g) for line in lines})[:9]
    lines = [line for line in lines if (line.position, line.load_g) in set_ups]
    seconds, *_ = order_cost(lines, arranged(lines))
    assert seconds == least_seconds(set_ups)
