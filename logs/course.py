"""A patient's whole course, a week each, drawn from what is kept ready. Pure."""

from collections.abc import Sequence

from logs.chart import Chart, Marks, Shape, Stems, Stroke, Word
from logs.figures import Week
from logs.together import LEFT, RIGHT, SESSIONS, WIDTH, Axis, session_bars, ticks
from plans.schedule import Window

WEEKS = 26
TOP, PAIN, GAP = 8, 70, 24


def begun(weeks: Sequence[Week]) -> tuple[Week, ...]:
    """The weeks from the first on in which anything was due, held or told."""
    for place, week in enumerate(weeks):
        if any(week.sessions) or week.worst_pains:
            return tuple(weeks[place:])
    return ()


def course_chart(weeks: Sequence[Week]) -> Chart:
    """Sessions a week as in the review's chart, and below them pain: its highest, and its median.

    ValueError without a week.
    """
    axis = Axis(Window(weeks[0].first_day, weeks[-1].last_day))
    base = TOP + SESSIONS + PAIN + GAP
    groups = [(week.first_day, week.last_day, week.sessions) for week in weeks]
    shapes: list[Shape] = [
        *session_bars("Sessions a week", groups, axis, TOP + SESSIONS),
        Word("Worst pain, 0 to 10", 4, base - PAIN + 12),
        Stroke(LEFT, base, WIDTH - RIGHT, base, "line"),
        Word("10", LEFT - 6, base - PAIN + 4, "end"),
        Stroke(LEFT, base - PAIN, WIDTH - RIGHT, base - PAIN, "line"),
    ]
    highest, medians = [], []
    for week in weeks:
        middle = week.pain_median
        if middle is None:
            continue
        span = axis.span(week.first_day, week.last_day)
        if span is None:
            continue
        x = span[0] + span[1] / 2
        highest.append((x, base - PAIN * max(week.worst_pains) / 10))
        medians.append((x, base - PAIN * middle / 10))
    shapes += [Stems(base, highest), Marks("dot", highest), Marks("bar", medians)]
    shapes += ticks(axis, base)
    return Chart(tuple(shapes), WIDTH, base + 26, names_to=LEFT - 5)
