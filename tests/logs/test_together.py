"""The chart of sessions, volume and pain: what is drawn, where, and by both writers alike."""

import re
from xml.etree import ElementTree

import pytest
from reportlab.graphics.shapes import Drawing

from logs.adherence import session_adherence
from logs.chart import SIGNS, Band, Bar, Chart, Marks, Stems, Stroke, Word, drawing, svg
from logs.pain import PainReport, Series, pain_days, pain_trend
from logs.together import LEFT, PAIN, SESSIONS, TOP, WIDTH, Together, together
from logs.volume import volume
from plans.schedule import PauseSpan, occasions
from tests.logs.building import session
from tests.plans.building import day, line, version, window


def told(*reports, span=(1, 14), heard=(), sessions=(), pauses=(), versions=None, assessed=()):
    shown = window(*span)
    versions = versions if versions is not None else [version(1, day(1), line())]
    given = {
        "versions": versions,
        "occasions": occasions(versions, pauses, shown),
        "sessions": sessions,
        "window": shown,
        "today": day(span[1]),
    }
    pain = pain_days(reports, shown)
    return Together(
        window=shown,
        sessions=session_adherence(heard=[day(n) for n in heard], **given),
        volume=volume(**given).joints,
        pain=pain,
        trend=pain_trend(pain, Series.WORST),
        versions=versions,
        pauses=pauses,
        assessed=assessed,
    )


def report(number, **scores):
    return PainReport(str(number), day(number), **scores)


def shapes(kind, *args, **kwargs):
    return [shape for shape in together(told(*args, **kwargs)).shapes if isinstance(shape, kind)]


def marks(chart):
    """Each mark with its place."""
    return [(s.kind, x, y) for s in chart.shapes if isinstance(s, Marks) for x, y in s.at]


def pain_marks(*reports, **kwargs):
    """Marks within the panel of pain, as the scores they stand at."""
    chart = together(told(*reports, **kwargs))
    base = chart.height - 52
    found = [(kind, (base - y) * 10 / PAIN) for kind, _, y in marks(chart)]
    return [(kind, round(score, 6)) for kind, score in found if 0 <= score <= 10]


def test_each_score_has_a_mark_at_its_height():
    found = pain_marks(report(2, before=0, worst=10, after=5, next_morning=2))
    assert found == [("bar", 0), ("dot", 10), ("ring", 5), ("diamond", 2)]


def test_a_blank_has_no_mark_and_a_day_its_highest():
    found = pain_marks(report(2, worst=3), PainReport("x", day(2), worst=6), report(5, after=None))
    assert found == [("dot", 6)]


def session_bars(**kwargs):
    return [bar for bar in shapes(Bar, **kwargs) if bar.x >= LEFT and bar.y < TOP + SESSIONS]


def test_done_is_filled_in_an_outline_of_what_was_due():
    bars = session_bars(heard=[1, 2], sessions=[session(1, 1)], span=(1, 2))
    each = (SESSIONS - 14) / 2
    assert [(bar.filled, bar.dashed, bar.height) for bar in bars] == [
        (False, False, 2 * each),
        (True, False, each),
        (False, True, 2 * each),  # today is never heard
    ]


def test_extra_sessions_have_a_plus():
    def pluses(*sessions):
        found = marks(together(told(sessions=sessions)))
        return [kind for kind, _, y in found if kind == "plus" and y < TOP + SESSIONS]

    assert not pluses(session(1, 1))
    assert len(pluses(session(1, 1), session(1, 2), session(1, None))) == 1


def test_a_long_window_shows_sessions_by_week():
    assert "Sessions a day" in {word.text for word in shapes(Word, span=(1, 63))}
    assert "Sessions a week" in {word.text for word in shapes(Word, span=(1, 64))}
    assert len(session_bars(span=(1, 70))) == 10


def test_volume_stands_by_joint_and_week():
    words = {word.text for word in shapes(Word, sessions=[session(1, 1)])}
    assert "Shoulder, left" in words
    assert "224 a week" in words  # 7 days of 2 x 16


def test_pauses_versions_and_assessments_go_through_at_their_days():
    versions = [version(1, day(-9), line()), version(2, day(8), line())]
    pause = PauseSpan(day(4), day(5))
    chart = together(told(versions=versions, pauses=[pause], assessed=[day(2), day(99)]))
    step = (WIDTH - LEFT - 10) / 14
    (band,) = [s for s in chart.shapes if isinstance(s, Band)]
    assert (band.x, band.width) == (pytest.approx(LEFT + 3 * step), pytest.approx(2 * step))
    (change,) = [s for s in chart.shapes if isinstance(s, Stroke) and s.dashed]
    assert change.x1 == pytest.approx(LEFT + 7 * step)
    assert change.y2 - change.y1 > PAIN + SESSIONS
    triangles = [x for kind, x, _ in marks(chart) if kind == "triangle"]
    assert triangles[:1] == [pytest.approx(LEFT + 1.5 * step)]
    assert len(triangles) == 2  # the one of the legend besides
    words = [s.text for s in chart.shapes if isinstance(s, Word)]
    assert "version 2" in words
    assert "version 1" not in words


def test_a_trend_is_drawn_only_where_one_is_shown():
    def fitted(*scores):
        reports = [report(n + 1, worst=score) for n, score in enumerate(scores)]
        return [s for s in shapes(Stroke, *reports) if s.tone == "ink" and s.dashed]

    assert fitted(9, 8, 8, 7, 6, 6, 5, 4, 3, 2)
    assert not fitted(5, 4, 5, 4, 5, 4, 5, 4, 5, 4)
    assert not fitted(9, 1)


@pytest.mark.parametrize("span", [(1, 1), (1, 14), (1, 56), (1, 400)])
def test_all_of_it_lies_inside(span):
    chart = together(told(report(1, worst=3), span=span, sessions=[session(1, 1)]))
    for shape in chart.shapes:
        match shape:
            case Stroke(x1, y1, x2, y2):
                places = [(x1, y1), (x2, y2)]
            case Marks(_, at):
                places = at
            case Stems(base, at):
                places = [*at, *((x, base) for x, _ in at)]
            case _:
                places = [(shape.x, shape.y), (shape.x + getattr(shape, "width", 0), shape.y)]
        for x, y in places:
            assert 0 <= x <= WIDTH
            assert 0 <= y <= chart.height


def single(chart):
    """How many there are, marks and stems counted one by one."""
    return sum(len(s.at) if isinstance(s, Marks | Stems) else 1 for s in chart.shapes)


def test_the_markup_has_every_shape():
    chart = together(told(report(1, worst=3, after=2), assessed=[day(2)], sessions=[session(1, 1)]))
    text = svg(chart, "Sessions <and> pain")
    root = ElementTree.fromstring(text)  # noqa: S314
    names, plot = root
    assert plot[0].text == "Sessions <and> pain"
    words = sum(isinstance(s, Word) for s in chart.shapes)
    assert len(names[0]) + len(plot[2]) == words
    drawn = [path.get("d") for path in plot[1]]
    assert sum(d.count("M") for d in drawn) == single(chart) - words
    assert not re.search(r"style=|<script|href=", text)


def test_what_names_the_rows_stands_beside_the_chart():
    chart = together(told(report(1, worst=3), sessions=[session(1, 1)]))
    names, plot = ElementTree.fromstring(svg(chart, "Pain"))  # noqa: S314
    rows = {text.text for text in names[0]}
    assert {"Sessions a day", "Shoulder, left", "224 a week", "Pain, 0 to 10", "10"} <= rows
    assert {text.text for text in plot[2]} >= {"2 Mar", "done", "next morning"}
    (left, *_, width, _), (begins, _, rest, _) = (
        map(float, part.get("viewBox").split()) for part in (names, plot)
    )
    assert (left, begins, begins + rest) == (0, width, chart.width)


@pytest.mark.parametrize("kind", SIGNS)
def test_a_mark_is_drawn_around_its_place(kind):
    chart = Chart((Marks(kind, [(50, 20)]),), 100, 40)
    path = ElementTree.fromstring(svg(chart, ""))[1][1][0].get("d")  # noqa: S314
    x, y = map(float, re.match(r"M([\d.]+) ([\d.]+)", path).groups())
    assert abs(x - 50) <= 4.5
    assert abs(y - 20) <= 4.5


def test_a_drawing_has_every_shape():
    chart = together(told(report(1, worst=3, after=2), assessed=[day(2)], sessions=[session(1, 1)]))
    drawn = drawing(chart, 500, "Helvetica")
    assert isinstance(drawn, Drawing)
    assert drawn.width == 500
    pluses = sum(kind == "plus" for kind, *_ in marks(chart))
    assert len(drawn.contents[0].contents) == single(chart) + pluses  # two strokes each
