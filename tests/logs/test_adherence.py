from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logs.adherence import Performance, dose_adherence, session_adherence
from logs.counting import counted_sessions
from patients.motions import Joint
from plans.schedule import PauseSpan, Unit, occasions
from tests.logs.building import done, session
from tests.plans.building import day, line, version, window

TWICE_A_DAY = [version(1, day(1), line())]  # 2 sets of 8 to 10


def week(count=session_adherence, versions=TWICE_A_DAY, pauses=(), span=(1, 7), today=8, **changes):
    """Adherence over days 1 to 7, all heard, but for the changes."""
    given = {
        "versions": versions,
        "occasions": occasions(versions, pauses, window(*span)),
        "sessions": (),
        "heard": window(1, 7).days(),
        "window": window(*span),
        "today": day(today),
    }
    return count(**given | changes)


def dose(**changes):
    return week(dose_adherence, **changes)


def on(result, day_number):
    """The one day of a result."""
    (found,) = [d for d in result.days if d.day == day(day_number)]
    return found


class TestSessions:
    def test_extra_sessions_do_not_make_up_for_a_missed_day(self):
        result = week(sessions=[session(1, n) for n in (1, 2, 3, 4, 5)])
        assert (result.done, result.due, result.extra) == (2, 14, 3)
        assert result.percent == pytest.approx(100 * 2 / 14)
        assert result.uncapped_percent == pytest.approx(100 * 5 / 14)

    def test_a_session_beside_any_occasion_is_extra_even_when_one_is_left(self):
        tally = on(week(sessions=[session(1, 1), session(1, None)]), 1)
        assert (tally.due, tally.done, tally.extra) == (2, 1, 1)

    def test_a_session_beside_any_occasion_does_not_hide_a_later_one(self):
        tally = on(week(sessions=[session(1, None, order=1), session(1, 1, order=2)]), 1)
        assert (tally.done, tally.extra) == (1, 1)

    def test_a_session_numbered_above_what_is_due_takes_the_lowest_left(self):
        tally = on(week(sessions=[session(1, 1), session(1, 3)]), 1)
        assert (tally.done, tally.extra) == (2, 0)

    def test_sessions_where_nothing_is_due_are_extra(self):
        paused = week(pauses=[PauseSpan(day(1), day(2))], sessions=[session(1, 1)])
        assert (paused.due, paused.done, paused.extra) == (10, 0, 1)
        before = week(versions=[version(1, day(3), line())], sessions=[session(1, 1)])
        assert (before.due, before.done, before.extra) == (10, 0, 1)
        assert on(before, 1).version is None

    def test_an_entry_without_a_repetition_is_no_session(self):
        result = week(sessions=[session(1, 1, done("a", 0, 0)), session(1, 2, done("a", 0, 1))])
        assert result.done == 1
        assert on(result, 1).entries == ("1/2/phone/p",)

    def test_an_unconfirmed_count_makes_a_session(self):
        assert week(sessions=[session(1, 1, done("a", 8, 8, confirmed=False))]).done == 1

    def test_sessions_outside_the_window_are_left_out(self):
        result = week(sessions=[session(0, 1), session(8, 1)], today=9)
        assert (result.done, result.extra) == (0, 0)


class TestHearing:
    def test_the_percentage_is_of_heard_days_and_the_bounds_of_all(self):
        told = ((1, 1), (1, 2), (2, 1), (3, 1), (3, 2), (4, 1))
        result = week(sessions=[session(*one) for one in told], heard=[day(1), day(2)])
        assert result.percent == pytest.approx(75)
        assert result.unheard == 7
        assert result.lower_percent == pytest.approx(100 * 6 / 14)
        assert result.upper_percent == pytest.approx(100 * 13 / 14)

    def test_unheard_is_what_is_due_and_not_done(self):
        often = [version(1, day(1), line(sessions_per_day=4))]
        sessions = [session(1, 1), session(1, 2)]
        result = week(versions=often, sessions=sessions, heard=[], span=(1, 1))
        assert (result.due, result.done, result.unheard) == (4, 2, 2)

    def test_nothing_heard_due_has_no_percentage(self):
        result = week(heard=[])
        assert result.percent is None
        assert result.uncapped_percent is None
        assert (result.lower_percent, result.upper_percent) == (0, 100)

    def test_nothing_due_has_no_percentage_at_all(self):
        result = week(versions=[], sessions=[session(1, 1)])
        assert (result.due, result.extra) == (0, 1)
        assert result.percent is None
        assert result.lower_percent is None
        assert result.upper_percent is None

    def test_today_is_never_heard(self):
        result = week(today=7)
        assert on(result, 6).is_heard
        assert not on(result, 7).is_heard
        assert (result.due, result.unheard) == (14, 2)
        assert on(dose(today=7), 6).is_heard
        assert not on(dose(today=7), 7).is_heard

    def test_days_to_come_are_left_out(self):
        result = week(today=4, sessions=[session(6, 1)])
        assert [d.day for d in result.days] == list(window(1, 4).days())
        assert (result.due, result.done, result.extra) == (8, 0, 0)

    def test_a_window_of_the_future_is_empty(self):
        for result in (week(today=0), dose(today=0)):
            assert result.days == ()
        assert week(today=0).percent is None


class TestHeld:
    def test_held_occasions_are_neither_due_nor_missed(self):
        result = week(held=[(day(2), 2), (day(3), 1), (day(3), 2)])
        assert (result.due, result.held) == (11, 3)
        assert (on(result, 2).due, on(result, 2).held) == (1, 1)

    def test_sessions_done_while_held_are_extra(self):
        result = week(held=[(day(2), 2)], sessions=[session(2, 2)])
        assert (on(result, 2).due, on(result, 2).done, on(result, 2).extra) == (1, 0, 1)

    def test_what_was_done_while_held_is_no_dose(self):
        result = dose(held=[(day(2), 2)], sessions=[session(2, 2)])
        assert (on(result, 2).prescribed, on(result, 2).credited) == (16, 0)
        assert on(result, 2).performed == 16

    def test_a_number_that_was_held_without_being_due_counts_nowhere(self):
        result = week(held=[(day(2), 5)])
        assert (result.due, result.held) == (14, 0)


class TestWhole:
    TWO_LINES = [version(1, day(1), line("a"), line("b", sessions_per_day=1))]

    def whole(self, *performances, number=1):
        tally = on(week(versions=self.TWO_LINES, sessions=[session(1, number, *performances)]), 1)
        return (tally.whole, tally.part, tally.unconfirmed)

    def test_a_full_set_of_each_line_due_makes_a_session_whole(self):
        assert self.whole(done("a", 3, 8), done("b", 8)) == (1, 0, 0)
        assert self.whole(done("a", 10), done("b", 9, 0)) == (1, 0, 0)

    def test_a_line_without_a_full_set_makes_it_part(self):
        assert self.whole(done("a"), done("b", 7, 7)) == (0, 1, 0)
        assert self.whole(done("a")) == (0, 1, 0)
        assert self.whole(done("a"), replace(done("b"), amounts=())) == (0, 1, 0)

    def test_lines_not_due_on_that_occasion_are_not_asked_for(self):
        assert self.whole(done("a"), number=2) == (1, 0, 0)

    def test_lines_that_the_version_does_not_have_make_nothing_whole(self):
        assert self.whole(done("a"), done("gone")) == (0, 1, 0)

    def test_unconfirmed_counts_leave_it_open(self):
        assert self.whole(done("a"), done("b", 8, confirmed=False)) == (0, 0, 1)
        assert self.whole(done("a", 2), done("b", 8, confirmed=False)) == (0, 1, 0)

    def test_the_share_is_of_those_known(self):
        sessions = [
            session(1, 1, done("a"), done("b")),
            session(2, 1, done("a")),
            session(3, 1, done("a"), done("b", 8, confirmed=False)),
            session(4, 1, done("a"), done("b")),
            session(5, 1, done("a"), done("b")),
        ]
        assert week(versions=self.TWO_LINES, sessions=sessions).whole_percent == 75
        assert week(versions=self.TWO_LINES).whole_percent is None


class TestPerhapsSame:
    def test_two_sources_for_one_occasion_count_once_and_are_listed(self):
        pair = [session(1, 1), session(1, 1, source="paper", device=None)]
        result = week(sessions=pair)
        assert result.done == 1
        assert result.perhaps_same == (("1/1/phone/p", "1/1/paper/None"),)
        assert dose(sessions=pair).by_plan()[Unit.REPETITIONS].performed == 16

    def test_two_phones_are_two_sources(self):
        result = week(sessions=[session(1, 1), session(1, 1, device="q")])
        assert (result.done, len(result.perhaps_same)) == (1, 1)

    def test_told_apart_they_are_two(self):
        pair = [session(1, 1), session(1, 1, source="paper", device=None)]
        apart = [frozenset(s.entry for s in pair)]
        result = week(sessions=pair, told_apart=apart)
        assert (result.done, result.perhaps_same) == (2, ())

    def test_two_entries_of_one_device_with_one_number_are_two_sessions(self):
        result = week(sessions=[session(1, 1, entry="x"), session(1, 1, entry="y")])
        assert (result.done, result.perhaps_same) == (2, ())

    def test_each_entry_is_perhaps_the_same_as_at_most_one_of_another_source(self):
        sessions = [
            session(1, 1, entry="x"),
            session(1, 1, entry="y"),
            session(1, 1, entry="paper", source="paper", device=None),
            session(1, 1, entry="told", source="telephone", device=None),
        ]
        result = week(sessions=sessions)
        assert result.done == 2
        assert result.perhaps_same == (("x", "paper"), ("x", "told"))

    def test_other_numbers_and_sessions_beside_any_occasion_are_never_the_same(self):
        sessions = [
            session(1, 1),
            session(1, 2, source="paper", device=None),
            session(1, None),
            session(1, None, source="paper", device=None),
        ]
        result = week(sessions=sessions)
        assert (result.done, result.extra, result.perhaps_same) == (2, 2, ())

    def test_the_phone_counts_before_paper_whatever_the_order(self):
        phone = session(1, 1, done("a", 5, 5), order=9)
        paper = session(1, 1, done("a", 8, 8), source="paper", device=None, order=1)
        told = session(1, 1, done("a", 7, 7), source="telephone", device=None, order=0)
        for given_order in ([phone, paper, told], [told, paper, phone]):
            assert on(dose(sessions=given_order), 1).performed == 10
        assert on(dose(sessions=[told, paper]), 1).performed == 16

    def test_an_entry_with_nothing_done_is_the_same_as_none(self):
        nothing = session(1, 1, done("a", 0), source="paper", device=None)
        result = week(sessions=[session(1, 1), nothing])
        assert (result.done, result.perhaps_same) == (1, ())

    def test_two_states_of_one_entry_are_refused_whichever_comes_first(self):
        states = [session(1, 1, entry="x"), session(1, 2, entry="x")]
        for given_order in (states, states[::-1]):
            with pytest.raises(ValueError, match="entry x was given in two different states"):
                counted_sessions(given_order, window(1, 7))


class TestDose:
    def test_credit_ends_at_what_is_prescribed_for_an_occasion(self):
        result = dose(sessions=[session(1, 1, done("a", 12, 12)), session(1, 2, done("a", 5, 5))])
        assert on(result, 1)[3:7] == (32, 26, 34, 34)

    def test_a_count_is_confirmed_unless_it_says_otherwise(self):
        assert on(dose(sessions=[session(1, 1, Performance("a", (8, 8)))]), 1).credited == 16

    def test_credit_is_summed_over_sets(self):
        assert on(dose(sessions=[session(1, 1, done("a", 16, 0))]), 1).credited == 16

    def test_performances_fill_due_occasions_in_the_order_done(self):
        """Two are due: a third performance is left over, even where the first fell short."""
        sessions = [
            session(1, 1, done("a", 2, 2), order=1),
            session(1, 2, done("a", 8, 8), order=3),
            session(1, 3, done("a", 6, 6), order=2),
        ]
        assert on(dose(sessions=sessions), 1).credited == 4 + 12

    def test_a_line_due_once_is_credited_whichever_session_it_was_done_in(self):
        versions = [version(1, day(1), line("a"), line("b", sessions_per_day=1))]
        result = dose(versions=versions, sessions=[session(1, 1), session(1, 2, done("b"))])
        assert result.by_line()["b", Unit.REPETITIONS].credited == 16

    def test_a_line_done_beside_any_occasion_is_dose_of_that_day(self):
        assert on(dose(sessions=[session(1, None)]), 1).credited == 16

    def test_neither_nothing_nor_an_unconfirmed_count_uses_up_an_occasion(self):
        versions = [version(1, day(1), line(sessions_per_day=1))]
        sessions = [
            session(1, 1, done("a", 0, 0)),
            session(1, 2, done("a", 8, 8, confirmed=False)),
            session(1, 3, done("a", 7, 7)),
        ]
        assert on(dose(versions=versions, sessions=sessions), 1)[3:7] == (16, 14, 14, 30)

    def test_a_key_passes_on_to_the_next_version(self):
        versions = [
            version(1, day(1), line("a", amount_low=4)),
            version(2, day(4), line("a", amount_low=10), line("new")),
        ]
        result = dose(versions=versions, sessions=[session(4, 1, done("a", 4, 4), version=1)])
        by_version = result.by_version()
        assert by_version[1, Unit.REPETITIONS].prescribed == 3 * 2 * 8
        assert by_version[2, Unit.REPETITIONS].prescribed == 4 * 2 * (20 + 16)
        assert by_version[2, Unit.REPETITIONS].credited == 8

    def test_a_line_that_is_gone_is_performed_but_not_credited(self):
        versions = [
            version(1, day(1), line("old")),
            version(2, day(3), line("a")),
        ]
        result = dose(versions=versions, sessions=[session(4, 1, done("old"), version=1)])
        (tally,) = [d for d in result.days if d.line.key == "old" and d.day == day(4)]
        assert (tally.prescribed, tally.credited, tally.performed, tally.version) == (0, 0, 16, 2)

    def test_a_line_of_no_version_is_refused(self):
        with pytest.raises(ValueError, match="no version that was given has a line strange"):
            dose(sessions=[session(1, 1, done("strange"))])

    def test_units_are_never_added(self):
        versions = [
            version(1, day(1), line("a"), line("hold", unit=Unit.SECONDS, sets=1, amount_low=30))
        ]
        result = dose(versions=versions, sessions=[session(1, 1, done("a"), done("hold", 45))])
        plan = result.by_plan()
        assert (plan[Unit.REPETITIONS].prescribed, plan[Unit.REPETITIONS].credited) == (224, 16)
        assert (plan[Unit.SECONDS].prescribed, plan[Unit.SECONDS].credited) == (420, 30)
        assert set(result.by_joint()) == {
            (Joint.SHOULDER, Unit.REPETITIONS),
            (Joint.SHOULDER, Unit.SECONDS),
        }

    def test_a_line_counts_once_for_each_joint_that_it_moves(self):
        versions = [
            version(
                1,
                day(1),
                line(
                    moves=("shoulder_flexion", "shoulder_abduction", "elbow_flexion"),
                    loads=("wrist",),
                ),
            )
        ]
        by_joint = dose(versions=versions, sessions=[session(1, 1)]).by_joint()
        assert {joint: tally.credited for (joint, _), tally in by_joint.items()} == {
            Joint.SHOULDER: 16,
            Joint.ELBOW: 16,
        }

    def test_bounds_and_percentage(self):
        sessions = [session(1, 1), session(5, 1), session(6, 1, done("a", 7, 6))]
        result = dose(sessions=sessions, heard=[day(1), day(2)])
        tally = result.by_plan()[Unit.REPETITIONS]
        assert tally.percent == pytest.approx(100 * 16 / 64)
        assert tally.unheard == 5 * 32 - 16 - 13
        assert tally.lower_percent == pytest.approx(100 * 45 / 224)
        assert tally.upper_percent == pytest.approx(100 * (45 + 131) / 224)
        assert tally.uncapped_percent == pytest.approx(25)

    def test_uncapped_takes_all_that_was_confirmed_on_heard_days(self):
        sessions = [session(1, 1, done("a", 20, 20)), session(2, 1, done("a", 20, 20))]
        tally = dose(sessions=sessions, heard=[day(1)]).by_plan()[Unit.REPETITIONS]
        assert tally.uncapped_percent == pytest.approx(100 * 40 / 32)
        assert tally.performed == 80

    def test_by_week_is_by_iso_week(self):
        result = dose(span=(6, 9), today=10, sessions=[session(7, 1), session(8, 1)])
        weeks = result.by_week()
        assert {w: t.prescribed for (w, _), t in weeks.items()} == {"2026-W10": 64, "2026-W11": 64}
        assert {w: t.credited for (w, _), t in weeks.items()} == {"2026-W10": 16, "2026-W11": 16}


class TestOverdoing:
    def test_is_judged_by_line_and_day_above_the_top_of_the_range(self):
        most = 2 * 10 * 2
        at_most = dose(sessions=[session(1, 1, done("a", most))])
        assert at_most.overdone == ()
        above = dose(sessions=[session(1, 1, done("a", most)), session(1, 2, done("a", 1))])
        assert [d.day for d in above.overdone] == [day(1)]

    def test_counts_what_was_not_confirmed(self):
        sessions = [session(1, n, done("a", 10, 10, confirmed=False)) for n in (1, 2, 3)]
        assert len(dose(sessions=sessions).overdone) == 1


class TestGroups:
    def test_sessions_by_week_and_version_are_parts_of_the_whole(self):
        versions = [version(1, day(1), line(sessions_per_day=1)), version(2, day(9), line())]
        result = week(
            versions=versions,
            span=(1, 14),
            today=20,
            sessions=[session(2, 1), session(9, 1), session(9, 2)],
            heard=window(1, 14).days(),
        )
        assert {k: (v.done, v.due) for k, v in result.by_week().items()} == {
            "2026-W10": (1, 7),
            "2026-W11": (2, 1 + 12),
        }
        assert {k: (v.done, v.due) for k, v in result.by_version().items()} == {
            1: (1, 8),
            2: (2, 12),
        }


# What a random clinic's patient may look like: a plan of up to two versions, pauses, sessions.

_lines = st.lists(
    st.builds(
        lambda key, often, weekdays, unit: line(
            key, sessions_per_day=often, weekdays=frozenset(weekdays), unit=unit
        ),
        st.sampled_from("ab"),
        st.integers(1, 3),
        st.sets(st.integers(0, 6), min_size=3),
        st.just(Unit.REPETITIONS),
    ),
    max_size=2,
    unique_by=lambda made: made.key,
)
_versions = st.builds(
    lambda first, second, later: [
        version(1, day(1), line("a"), line("b")),
        version(2, day(first), *second),
        version(3, day(first + 3), *later),
    ],
    st.integers(2, 8),
    _lines,
    _lines,
)
_sessions = st.lists(
    st.builds(
        lambda day_number, number, amounts, source, confirmed, order: session(
            day_number,
            number,
            done("a", *amounts, confirmed=confirmed),
            done("b", *reversed(amounts)),
            source=source,
            device="p" if source == "phone" else None,
            order=order,
            entry=f"{day_number}/{number}/{source}/{amounts}/{order}",
        ),
        st.integers(1, 14),
        st.none() | st.integers(1, 4),
        st.lists(st.integers(0, 12), min_size=1, max_size=3),
        st.sampled_from(["phone", "paper"]),
        st.booleans(),
        st.integers(1, 3),
    ),
    max_size=25,
    unique_by=lambda made: made.entry,
)
_days = st.sets(st.integers(1, 14))
_held = st.sets(st.tuples(st.integers(1, 14), st.integers(1, 3)), max_size=3)
_pauses = st.lists(
    st.builds(lambda a, b: PauseSpan(day(a), day(a + b)), st.integers(1, 14), st.integers(0, 5)),
    max_size=2,
)


@st.composite
def cases(draw):
    held = draw(_held)
    return {
        "versions": draw(_versions),
        "pauses": draw(_pauses),
        "sessions": draw(_sessions),
        "heard": [day(n) for n in draw(_days)],
        "held": [(day(n), number) for n, number in held],
        "span": (1, 14),
        "today": draw(st.integers(1, 16)),
    }


def sums(result):
    """Every additive figure of a result."""
    return (result.due, result.done, result.extra, result.unheard, result.held)


@given(cases(), st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_the_order_and_repeats_of_entries_change_nothing(case, random):
    shuffled = case["sessions"] * 2
    random.shuffle(shuffled)
    for count in (session_adherence, dose_adherence):
        assert week(count, **case) == week(count, **case | {"sessions": shuffled})


@given(cases(), st.integers(1, 13))
@settings(max_examples=60, deadline=None)
def test_a_window_split_in_two_adds_up_to_the_whole(case, cut):
    for count in (session_adherence, dose_adherence):
        whole = week(count, **case)
        parts = [week(count, **case | {"span": s}) for s in ((1, cut), (cut + 1, 14))]
        assert whole.days == parts[0].days + parts[1].days
    whole = week(**case)
    assert sums(whole) == tuple(
        a + b
        for a, b in zip(
            *(sums(week(**case | {"span": s})) for s in ((1, cut), (cut + 1, 14))), strict=True
        )
    )


@given(cases(), st.integers(1, 14), st.none() | st.integers(1, 5))
@settings(max_examples=60, deadline=None)
def test_one_more_session_never_raises_done_above_due_nor_lowers_anything(case, n, number):
    more = case["sessions"] + [session(n, number, entry="more", device="another")]
    before, after = week(**case), week(**case | {"sessions": more})
    assert before.due == after.due
    assert before.done <= after.done <= after.due
    assert 0 <= after.done + after.extra - before.done - before.extra <= 1
    assert after.extra >= 0
    for tally in after.days:
        assert 0 <= tally.done <= tally.due
        assert tally.whole + tally.part + tally.unconfirmed == tally.done
    assert after.percent is None or 0 <= after.percent <= 100


@given(cases())
@settings(max_examples=60, deadline=None)
def test_the_bounds_hold_what_hearing_everything_would_give(case):
    case["today"] = 20
    known = week(**case)
    all_heard = week(**case | {"heard": window(1, 14).days()})
    if known.due:
        assert known.lower_percent == all_heard.percent == all_heard.upper_percent
        assert known.lower_percent <= known.upper_percent
        assert known.percent is None or known.percent <= known.upper_percent
    for tally in dose(**case).by_plan().values():
        assert 0 <= tally.credited <= tally.prescribed
        assert tally.credited <= tally.performed
        assert tally.credited + tally.unheard <= tally.prescribed


@given(cases(), st.integers(1, 14), st.integers(0, 4))
@settings(max_examples=60, deadline=None)
def test_a_pause_over_undone_days_never_lowers_the_percentage(case, first, length):
    pause = PauseSpan(day(first), day(first + length))
    case["sessions"] = [s for s in case["sessions"] if s.day not in pause]
    before = week(**case)
    after = week(**case | {"pauses": [*case["pauses"], pause]})
    if before.percent is not None and after.percent is not None:
        assert after.percent >= before.percent
    assert after.done == before.done
