"""The suggested order of lines, against every order there is and against a solver from outside."""

from itertools import pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plans.duration import CHANGE_POSITION_S, CHANGE_WEIGHT_S, session_seconds
from plans.order import (
    OrderedLine,
    TooManyToArrange,
    arranged,
    order_cost,
    position_changes,
    weight_changes,
)

JOINTS = [frozenset({joint}) for joint in ("shoulder", "elbow", "wrist")]
LINES = st.builds(
    OrderedLine,
    position=st.sampled_from(["lying_back", "sitting", "standing"]),
    load_g=st.sampled_from([0, 500, 1000]),
    effort=st.integers(1, 4),
    joints=st.sampled_from([*JOINTS, JOINTS[0] | JOINTS[1]]),
)


@given(st.lists(LINES, max_size=6), st.booleans())
@settings(max_examples=60, deadline=None)
def test_up_to_six_lines_no_order_at_all_is_better(lines, apart):
    found = arranged(lines, joints_apart=apart)
    costs = {
        order: order_cost(lines, order, joints_apart=apart)
        for order in permutations(range(len(lines)))
    }
    assert sorted(found) == list(range(len(lines)))
    assert costs[found] == min(costs.values())


def fewest_change_seconds(lines):
    """The least time of changes, by SciPy's mixed-integer solver (HiGHS).

    A path through all lines: a tour with a start from which, and to which, going is free; tours of
    a part are ruled out by places in the order (Miller, Tucker and Zemlin 1960, J ACM 7:326-329).
    """
    np, optimize = pytest.importorskip("numpy"), pytest.importorskip("scipy.optimize")
    count = len(lines) + 1
    arcs = [(i, j) for i in range(count) for j in range(count) if i != j]
    cost = [
        0
        if 0 in (i, j)
        else session_seconds([(lines[k - 1].position, lines[k - 1].load_g, 0) for k in (i, j)])
        for i, j in arcs
    ]
    width = len(arcs) + count
    rows, low, high = [], [], []

    def rule(terms, least, most):
        row = np.zeros(width)
        for at, factor in terms:
            row[at] += factor
        rows.append(row)
        low.append(least)
        high.append(most)

    for node in range(count):
        for end in (0, 1):
            rule([(k, 1) for k, arc in enumerate(arcs) if arc[end] == node], 1, 1)
    for k, (i, j) in enumerate(arcs):
        if 0 not in (i, j):
            rule([(len(arcs) + i, 1), (len(arcs) + j, -1), (k, count)], -np.inf, count - 1)
    answer = optimize.milp(
        c=np.array([*cost, *[0] * count]),
        constraints=optimize.LinearConstraint(np.array(rows), low, high),
        integrality=np.array([1] * len(arcs) + [0] * count),
        bounds=optimize.Bounds(0, np.array([1] * len(arcs) + [count] * count)),
    )
    assert answer.success
    return round(answer.fun)


@pytest.mark.reference
@given(st.lists(LINES, min_size=7, max_size=8))
@settings(max_examples=8, deadline=None)
def test_changes_are_as_few_as_an_integer_solver_finds(lines):
    pytest.importorskip("scipy")
    order = arranged(lines)
    assert order_cost(lines, order)[0] == fewest_change_seconds(lines)


@given(st.lists(LINES, min_size=13, max_size=20))
@settings(max_examples=15, deadline=None)
def test_long_plans_change_no_oftener_than_they_must(lines):
    order = arranged(lines)
    placed = [lines[place] for place in order]
    assert sorted(order) == list(range(len(lines)))
    # Each position and each weight in it is set up once: fewer changes of position there can't be.
    set_ups = [line for line, after in pairwise(placed) if changes(line, after)]
    assert len(set_ups) == len({(line.position, line.load_g) for line in lines}) - 1
    assert position_changes(placed) == len({line.position for line in lines}) - 1
    assert order_cost(lines, order) <= order_cost(lines, range(len(lines)))


def changes(one, other):
    return (one.position, one.load_g) != (other.position, other.load_g)


@given(st.lists(LINES, min_size=1, max_size=9))
@settings(max_examples=25, deadline=None)
def test_arranging_what_is_arranged_changes_nothing(lines):
    placed = [lines[place] for place in arranged(lines)]
    assert arranged(placed) == tuple(range(len(lines)))


def test_a_joint_comes_twice_running_only_where_asked():
    shoulder, elbow = JOINTS[:2]
    lines = [OrderedLine("sitting", 0, 3, joints) for joints in (shoulder, shoulder, elbow)]
    assert arranged(lines) == (0, 2, 1)
    assert arranged(lines, joints_apart=False) == (0, 1, 2)


def test_twelve_lines_are_exact_and_more_set_ups_than_that_refused():
    lines = [OrderedLine("sitting", place * 100, 5, frozenset()) for place in range(13)]
    assert weight_changes([lines[place] for place in arranged(lines[:12])]) == 11
    with pytest.raises(TooManyToArrange):
        arranged(lines)


def test_a_change_of_position_costs_more_than_one_of_weight():
    assert CHANGE_POSITION_S > CHANGE_WEIGHT_S
    lines = [
        OrderedLine("sitting", 0, 3, frozenset()),
        OrderedLine("lying_back", 500, 3, frozenset()),
        OrderedLine("sitting", 500, 3, frozenset()),
    ]
    assert arranged(lines) == (0, 2, 1)
