"""The two sentences of a review: every number in them is one of the figures, in its place."""

import re
from types import SimpleNamespace

from hypothesis import given
from hypothesis import strategies as st

from clinic.templatetags.words import percent, short_day
from logs.adherence import session_adherence
from logs.pain import PainReport, Series, pain_days, pain_trend, trend_of_days
from logs.pain_words import short_trend_words, signed
from logs.review_words import summary
from logs.trend import Shown
from plans.schedule import occasions
from tests.logs.test_adherence import cases
from tests.plans.building import day, window

NUMBER = re.compile(r"[−+]?\d+(?:\.\d+)?")
_scores = st.lists(
    st.tuples(st.integers(1, 14), st.none() | st.integers(0, 10), st.none() | st.integers(0, 10)),
    max_size=14,
)


def numbers(text):
    return NUMBER.findall(text)


def expected_of_sessions(found):
    extra = [str(found.extra)] if found.extra else []
    if not found.due:
        return extra
    if not found.heard.due:
        return [str(found.done), str(found.due), *extra]
    said = [str(found.heard.done), str(found.heard.due), *numbers(percent(found.percent))]
    if found.unheard:
        said += numbers(percent(found.lower_percent)) + numbers(percent(found.upper_percent))
        said.append(str(found.unheard))
    return said + extra


def expected_of_pain(days, trend):
    peaks = {each.day: each.peak for each in days if each.peak is not None}
    if not peaks:
        return []
    highest = max(peaks.values())
    on = [there for there, peak in peaks.items() if peak == highest]
    said = [str(highest), "10"]
    said += numbers(short_day(on[0])) if len(on) == 1 else [str(len(on))]
    if trend.shows is not Shown.TOO_FEW and trend.per_week is not None:
        said += numbers(signed(trend.per_week))
        if trend.lower_per_week is not None and trend.upper_per_week is not None:
            ends = signed(trend.lower_per_week), signed(trend.upper_per_week)
            said += ["95", *numbers(ends[0]), *numbers(ends[1])]
    return said


@given(cases(), _scores)
def test_every_number_is_a_figure_of_the_review(case, scores):
    shown = window(*case["span"])
    sessions = session_adherence(
        versions=case["versions"],
        occasions=occasions(case["versions"], case["pauses"], shown),
        sessions=case["sessions"],
        heard=case["heard"],
        held=case["held"],
        window=shown,
        today=day(case["today"]),
    )
    reports = [
        PainReport(str(place), day(number), worst=worst, after=after)
        for place, (number, worst, after) in enumerate(scores)
    ]
    pain = pain_days(reports, shown)
    worst = pain_trend(pain, Series.WORST)
    told, hurts = summary(SimpleNamespace(sessions=sessions, pain=pain, worst_trend=worst))
    assert numbers(told) == expected_of_sessions(sessions)
    assert numbers(hurts) == expected_of_pain(pain, worst)
    assert (told + hurts).count(".") - sum("." in n for n in numbers(told + hurts)) == 2


def test_a_trend_in_short_says_its_way_and_slope_only_where_there_is_one():
    days = [day(n) for n in range(1, 29)]

    def said(scores):
        points = zip(days, scores, strict=False)
        return short_trend_words(trend_of_days(points, Series.WORST))

    assert short_trend_words(None) == said([]) == said([3, 4, 5]) == said([3] * 28) == ""
    assert said(range(8)) == "rising +7 a week"
    assert said(range(8, 0, -1)) == "falling −7 a week"
    # Most days alike, and yet a trend: 22 of 28 at one score, the six others first.
    assert said([4] * 6 + [3] * 22) == "falling"
