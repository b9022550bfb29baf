"""The pain chart: marks where the scores are, none where there is none, told apart by shape."""

import re
from datetime import date, timedelta
from xml.etree import ElementTree

from logs.pain import PainReport, Series, pain_days, pain_trend
from logs.pain_chart import BOTTOM, TOP, WIDTH, Band, Mark, Stroke, Word, pain_chart, svg
from plans.schedule import PauseSpan, Version, Window

MONDAY = date(2026, 3, 2)
WINDOW = Window(MONDAY, MONDAY + timedelta(days=13))


def chart(*reports, versions=(), pauses=(), window=WINDOW):
    days = pain_days(reports, window)
    return pain_chart(
        days=days,
        trend=pain_trend(days, Series.WORST),
        versions=versions,
        pauses=pauses,
        window=window,
    )


def report(number, **scores):
    return PainReport(str(number), MONDAY + timedelta(days=number), **scores)


def marks(shapes):
    """The marks below the legend."""
    return [shape for shape in shapes if isinstance(shape, Mark) and shape.y >= TOP]


def test_each_score_has_a_mark_at_its_height():
    found = marks(chart(report(0, before=0, worst=10, after=5, next_morning=2)))
    heights = {mark.kind: mark.y for mark in found}
    assert heights == {
        "bar": BOTTOM,
        "dot": TOP,
        "ring": (TOP + BOTTOM) / 2,
        "diamond": BOTTOM - (BOTTOM - TOP) / 5,
    }


def test_a_blank_has_no_mark_and_a_day_its_highest():
    found = marks(chart(report(0, worst=3), report(0, worst=6), report(5, after=None)))
    assert [(mark.kind, mark.y) for mark in found] == [("dot", BOTTOM - (BOTTOM - TOP) * 0.6)]


def test_days_run_from_left_to_right_inside_the_chart():
    found = marks(chart(*(report(n, worst=3) for n in range(14))))
    places = [mark.x for mark in found]
    assert places == sorted(places)
    assert all(0 < x < WIDTH for x in places)


def test_pauses_and_versions_are_drawn_at_their_days():
    versions = [
        Version(1, MONDAY - timedelta(days=9), ()),
        Version(2, MONDAY + timedelta(days=7), ()),
    ]
    pause = PauseSpan(MONDAY + timedelta(days=3), MONDAY + timedelta(days=4))
    shapes = chart(versions=versions, pauses=[pause])
    (band,) = [shape for shape in shapes if isinstance(shape, Band)]
    step = band.width / 2
    words = [shape.text for shape in shapes if isinstance(shape, Word)]
    assert "version 2" in words
    assert "version 1" not in words
    (line,) = [s for s in shapes if isinstance(s, Stroke) and s.dashed]
    assert round(line.x1 - band.x, 6) == round(4 * step, 6)


def test_a_trend_is_drawn_only_where_one_is_shown():
    def fitted(*scores):
        reports = [report(n, worst=score) for n, score in enumerate(scores)]
        return [
            s for s in chart(*reports) if isinstance(s, Stroke) and s.tone == "ink" and s.dashed
        ]

    assert fitted(9, 8, 8, 7, 6, 6, 5, 4, 3, 2)
    assert not fitted(5, 4, 5, 4, 5, 4, 5, 4, 5, 4)
    assert not fitted(9, 1)


def test_the_svg_is_well_formed_and_carries_no_style():
    text = svg(chart(report(0, worst=3)), "Pain <by> day")
    root = ElementTree.fromstring(text)  # noqa: S314
    assert root[0].text == "Pain <by> day"
    assert not re.search(r"style=|<script|href=", text)
