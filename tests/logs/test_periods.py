"""Weeks and versions of a review: parts of the same days, worked by hand."""

from hypothesis import given
from hypothesis import strategies as st

from logs.adherence import dose_adherence, session_adherence
from logs.pain import DayPain, PainReport
from logs.periods import by_version, by_week, dose_words
from plans.schedule import occasions
from tests.logs.building import done, session
from tests.plans.building import day, line, version, window

# From day 3 (a Wednesday) once a day, from day 9 twice: 2 sets of 8 to 10.
VERSIONS = [version(1, day(3), line(sessions_per_day=1)), version(2, day(9), line())]
SPAN = window(1, 14)
UNITS = {"repetitions": "repetitions"}


def periods(find, sessions=(), pain=(), heard=SPAN):
    facts = {
        "versions": VERSIONS,
        "occasions": occasions(VERSIONS, (), SPAN),
        "sessions": sessions,
        "heard": heard.days(),
        "window": SPAN,
        "today": day(15),
    }
    return find(session_adherence(**facts), dose_adherence(**facts), pain)


def pain_on(number, worst):
    return DayPain(day(number), (PainReport(str(number), day(number), worst=worst),))


SESSIONS = [session(3, 1), session(8, 1, done("a", 30, 11)), session(10, 1)]
PAIN = [pain_on(3, 4), pain_on(10, 6), pain_on(20, 9)]  # the last is outside


def test_weeks_and_versions_by_hand():
    def told(find):
        return [
            (
                each.name,
                (each.sessions.done, each.sessions.due),
                words(each),
                each.overdone,
                each.peak,
            )
            for each in periods(find, SESSIONS, PAIN)
        ]

    def words(each):
        return dose_words(each.doses, UNITS)

    assert told(by_week) == [
        # Days 3 to 7, then day 8 and six days of two: 16 repetitions a session.
        ("2026-W10", (1, 5), "16 of 80 repetitions (20\N{NO-BREAK SPACE}%)", 0, 4),
        ("2026-W11", (2, 13), "32 of 208 repetitions (15\N{NO-BREAK SPACE}%)", 1, 6),
    ]
    assert told(by_version) == [
        ("before any version", (0, 0), "–", 0, None),
        ("version 1", (2, 6), "32 of 96 repetitions (33\N{NO-BREAK SPACE}%)", 1, 4),
        ("version 2", (1, 12), "16 of 192 repetitions (8\N{NO-BREAK SPACE}%)", 0, 6),
    ]


def test_a_period_names_its_days_so_that_it_can_be_opened():
    assert [(each.first_day, each.last_day) for each in periods(by_version)] == [
        (day(1), day(2)),
        (day(3), day(8)),
        (day(9), day(14)),
    ]


def test_a_period_of_which_nothing_was_heard_has_no_percentage():
    first, second = periods(by_week, SESSIONS, heard=window(8, 14))
    assert dose_words(first.doses, UNITS) == "–"
    assert first.sessions.percent is None
    assert second.sessions.percent is not None


SOME = st.lists(
    st.builds(
        lambda number, occasion, amount: session(number, occasion, done("a", amount)),
        st.integers(1, 14),
        st.integers(1, 3),
        st.integers(0, 60),
    ),
    max_size=20,
    unique_by=lambda one: (one.day, one.number),
)


@given(sessions=SOME, peaks=st.dictionaries(st.integers(1, 14), st.integers(0, 10)))
def test_weeks_and_versions_each_add_up_to_the_whole(sessions, peaks):
    pain = [pain_on(number, worst) for number, worst in peaks.items()]
    weeks, versions = (periods(find, sessions, pain) for find in (by_week, by_version))
    for sum_of in (
        lambda each: each.sessions.due,
        lambda each: each.sessions.done,
        lambda each: each.sessions.extra,
        lambda each: each.overdone,
        lambda each: sum(tally.credited for tally in each.doses),
    ):
        assert sum(map(sum_of, weeks)) == sum(map(sum_of, versions))
    for found in (weeks, versions):
        assert max((p.peak for p in found if p.peak is not None), default=None) == max(
            peaks.values(), default=None
        )
