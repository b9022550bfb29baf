import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from logs.volume import Amounts, Demand, volume
from patients.motions import Joint, Side
from plans.schedule import Unit, occasions
from tests.logs.building import done, session
from tests.logs.test_adherence import cases
from tests.plans.building import day, line, version, window


def found(*lines, versions=None, span=(1, 7), today=8, pauses=(), **changes):
    versions = versions or [version(1, day(1), *lines)]
    given = {
        "versions": versions,
        "occasions": occasions(versions, pauses, window(*span)),
        "sessions": (),
        "window": window(*span),
        "today": day(today),
    }
    return volume(**given | changes)


def only(rows, **wanted):
    """The one row that has these values."""
    (row,) = [r for r in rows if all(getattr(r, name) == v for name, v in wanted.items())]
    return row


class TestMeasures:
    def test_repetitions_load_volume_and_tension(self):
        lift = line(load_g=1500, pace_s=6, hold_s=2)
        row = only(found(lift, sessions=[session(1, 1, done("a", 9, 10))]).rows)
        assert row.prescribed == Amounts(
            repetitions=7 * 2 * 16,
            load_volume_g=224 * 1500,
            tension_s=224 * 8,
            unmodelled_repetitions=224,
        )
        assert row.performed == Amounts(
            repetitions=19, load_volume_g=19 * 1500, tension_s=19 * 8, unmodelled_repetitions=19
        )
        assert row.performed.load_volume_kg == 28.5

    def test_the_load_said_counts_else_the_prescribed_one(self):
        sessions = [
            session(1, 1, done("a", 8, load_g=1000)),
            session(1, 2, done("a", 4, load_g=0)),
            session(2, 1, done("a", 2)),
        ]
        row = only(found(line(load_g=500), sessions=sessions).rows)
        assert row.performed.load_volume_g == 8000 + 0 + 1000
        assert row.performed.repetitions == 14

    def test_a_hold_is_tension_and_no_repetition(self):
        hold = line(unit=Unit.SECONDS, sets=2, amount_low=30, load_g=1000, pace_s=3)
        row = only(found(hold, sessions=[session(1, 1, done("a", 30, 20))]).rows)
        assert row.performed == Amounts(tension_s=50.0)
        assert row.prescribed == Amounts(tension_s=7 * 2 * 60.0)

    def test_holds_and_repetitions_of_one_motion_stand_beside_each_other(self):
        lines = (line("a", unit=Unit.SECONDS), line("b", pace_s=4))
        row = only(found(*lines, sessions=[session(1, 1, done("a", 20), done("b", 5))]).rows)
        assert (row.performed.repetitions, row.performed.tension_s) == (5, 20 + 5 * 4)

    @pytest.mark.parametrize("unit", [Unit.MINUTES, Unit.TIMES])
    def test_activities_are_no_volume(self, unit):
        assert found(line(unit=unit), sessions=[session(1, 1)]).rows == ()

    def test_unconfirmed_counts_and_nothings_are_left_out(self):
        sessions = [session(1, 1, done("a", 8, confirmed=False)), session(1, 2, done("a", 0, 0))]
        assert only(found(line(), sessions=sessions).rows).performed == Amounts()

    def test_extra_and_uncredited_repetitions_count(self):
        sessions = [session(1, n, done("a", 30)) for n in (1, 2, 3)] + [session(1, None)]
        assert only(found(line(), sessions=sessions).rows).performed.repetitions == 90 + 16

    def test_perhaps_the_same_counts_once(self):
        sessions = [session(1, 1), session(1, 1, source="paper", device=None)]
        assert only(found(line(), sessions=sessions).rows).performed.repetitions == 16
        apart = [frozenset(s.entry for s in sessions)]
        twice = found(line(), sessions=sessions, told_apart=apart)
        assert only(twice.rows).performed.repetitions == 32

    def test_held_occasions_prescribe_nothing_but_what_was_done_counts(self):
        row = only(found(line(), held=[(day(2), 1)], sessions=[session(2, 1)]).rows)
        assert row.prescribed.repetitions == 13 * 16
        assert row.performed.repetitions == 16


class TestChangeFromWeekToWeek:
    @staticmethod
    def changes(*amounts, span=(1, 21), of=None):
        sessions = [session(1 + 7 * week, 1, done("a", *each)) for week, each in enumerate(amounts)]
        volume_found = found(of or line(), sessions=sessions, span=span, today=span[1] + 1)
        return [volume_found.change_percent(row) for row in volume_found.rows]

    def test_it_is_in_per_cent_of_the_week_before(self):
        assert self.changes((20,), (25,), (10,)) == [None, 25.0, -60.0]

    def test_from_nothing_there_is_no_percentage(self):
        assert self.changes((0,), (8,), (8,)) == [None, None, 0.0]

    def test_a_week_that_the_window_cuts_is_not_compared(self):
        assert self.changes((20,), (25,), (10,), span=(2, 20)) == [None, None, None]

    def test_holds_compare_their_seconds(self):
        hold = line(unit=Unit.SECONDS, amount_low=30)
        assert self.changes((30,), (45,), (45,), of=hold) == [None, 50.0, 0.0]


class TestModel:
    @staticmethod
    def demand_of(of_line, load_g):
        if of_line.key == "unknown":
            return {}
        return {
            "shoulder_flexion": Demand(work_j=2.0 + load_g / 1000, peak_moment_nm=10.0),
            "shoulder": Demand(work_j=4.0, peak_moment_nm=11.0),
        }

    def test_work_is_by_repetition_and_the_moment_is_the_peak(self):
        sessions = [session(1, 1, done("a", 10, load_g=1000))]
        row = only(found(line(), sessions=sessions, demand_of=self.demand_of).rows)
        assert (row.performed.work_j, row.performed.peak_moment_nm) == (30.0, 10.0)
        assert row.prescribed.work_j == 224 * 2.0
        assert row.performed.unmodelled_repetitions == 0

    def test_a_motion_has_its_own_muscles_work_and_the_joint_all_of_it(self):
        sessions = [session(1, 1, done("a", 10))]
        of = found(line(), sessions=sessions, demand_of=self.demand_of)
        assert only(of.rows).performed.work_j == 20.0
        joint = only(of.joints)
        assert (joint.performed.work_j, joint.performed.peak_moment_nm) == (40.0, 11.0)

    def test_the_highest_moment_of_the_week_counts(self):
        def by_load(of_line, load_g):
            return {"shoulder_flexion": Demand(1.0, load_g / 1000)}

        sessions = [
            session(1, 1, done("a", 8, load_g=900)),
            session(2, 1, done("a", 8, load_g=300)),
        ]
        row = only(found(line(), sessions=sessions, demand_of=by_load).rows)
        assert row.performed.peak_moment_nm == 0.9

    def test_a_hold_does_no_work_but_has_a_moment(self):
        hold = line(unit=Unit.SECONDS, amount_low=30)
        row = only(found(hold, sessions=[session(1, 1)], demand_of=self.demand_of).rows)
        assert (row.performed.work_j, row.performed.peak_moment_nm) == (None, 10.0)

    def test_what_the_model_does_not_know_is_said(self):
        sessions = [session(1, 1, done("a", 10), done("unknown", 7))]
        row = only(found(line(), line("unknown"), sessions=sessions, demand_of=self.demand_of).rows)
        assert row.performed.work_j == 20.0
        assert row.performed.unmodelled_repetitions == 7

    def test_without_a_model_there_is_neither_work_nor_moment(self):
        row = only(found(line(), sessions=[session(1, 1)]).rows)
        assert (row.performed.work_j, row.performed.peak_moment_nm) == (None, None)


class TestPlaces:
    WIDE = line(
        side=Side.RIGHT,
        moves=("shoulder_flexion", "shoulder_external_rotation", "elbow_extension"),
        loads=("wrist", "shoulder"),
    )

    def test_moved_and_merely_loaded_are_told_apart(self):
        rows = found(self.WIDE, sessions=[session(1, 1)]).rows
        assert [(r.joint, r.motion, r.is_moved) for r in rows] == [
            (Joint.SHOULDER, "shoulder_external_rotation", True),
            (Joint.SHOULDER, "shoulder_flexion", True),
            (Joint.ELBOW, "elbow_extension", True),
            (Joint.WRIST, None, False),
        ]
        assert {r.performed.repetitions for r in rows} == {16}

    def test_a_line_counts_once_for_a_joint_that_it_moves_in_two_motions(self):
        joints = found(self.WIDE, sessions=[session(1, 1)]).joints
        assert [(r.joint, r.motion, r.is_moved, r.performed.repetitions) for r in joints] == [
            (Joint.SHOULDER, None, True, 16),
            (Joint.ELBOW, None, True, 16),
            (Joint.WRIST, None, False, 16),
        ]

    def test_a_joint_moved_by_one_line_and_loaded_by_another_has_both(self):
        lines = (line("a", moves=("wrist_flexion",)), line("b", moves=(), loads=("wrist",)))
        joints = found(*lines, sessions=[session(1, 1, done("a", 5), done("b", 3))]).joints
        assert [(r.is_moved, r.performed.repetitions) for r in joints] == [(True, 5), (False, 3)]

    def test_both_counts_once_on_each_side(self):
        rows = found(line(side=Side.BOTH), sessions=[session(1, 1)]).rows
        assert [(r.side, r.performed.repetitions) for r in rows] == [
            (Side.LEFT, 16),
            (Side.RIGHT, 16),
        ]

    def test_lines_of_one_motion_add_up(self):
        lines = (line("a"), line("b", load_g=1000))
        row = only(found(*lines, sessions=[session(1, 1, done("a", 5), done("b", 3))]).rows)
        assert (row.performed.repetitions, row.performed.load_volume_g) == (8, 3000)


class TestWeeks:
    def test_weeks_are_iso_weeks_as_far_as_they_lie_in_the_window(self):
        sessions = [session(n, 1) for n in (5, 6, 7, 8, 12)]
        rows = found(line(), span=(6, 9), today=20, sessions=sessions).rows
        assert [(r.week, r.prescribed.repetitions, r.performed.repetitions) for r in rows] == [
            ("2026-W10", 64, 32),
            ("2026-W11", 64, 16),
        ]

    def test_days_to_come_prescribe_nothing(self):
        row = only(found(line(), today=3).rows)
        assert row.prescribed.repetitions == 3 * 2 * 16
        assert found(line(), today=0).rows == ()

    def test_a_week_without_anything_due_shows_what_was_done(self):
        versions = [version(1, day(8), line())]
        row = only(found(versions=versions, sessions=[session(2, 1)]).rows)
        assert (row.prescribed, row.performed.repetitions) == (Amounts(), 16)


class TestVersions:
    def test_a_line_counts_as_the_patient_saw_it(self):
        versions = [
            version(1, day(1), line(load_g=500)),
            version(2, day(4), line(load_g=2000)),
        ]
        sessions = [session(5, 1, done("a", 10), version=1), session(5, 2, done("a", 1), version=2)]
        row = only(found(versions=versions, sessions=sessions).rows)
        assert row.performed.load_volume_g == 5000 + 2000

    def test_else_as_the_version_in_force_has_it(self):
        versions = [version(1, day(1), line(load_g=500)), version(2, day(4), line(load_g=2000))]
        sessions = [session(2, 1, done("a", 10))]
        row = only(found(versions=versions, sessions=sessions).rows)
        assert row.performed.load_volume_g == 5000

    def test_prescribed_follows_the_versions(self):
        versions = [version(1, day(1), line(load_g=500)), version(2, day(4), line(load_g=2000))]
        row = only(found(versions=versions).rows)
        assert row.prescribed.load_volume_g == 16 * 2 * (3 * 500 + 4 * 2000)


def totals(result):
    return {
        (r.joint, r.motion, r.side, r.is_moved, r.week): (
            r.prescribed.repetitions,
            r.prescribed.tension_s,
            r.performed.repetitions,
            r.performed.load_volume_g,
            r.performed.tension_s,
        )
        for r in result.rows
    }


def _volume_of(case):
    return found(**{name: value for name, value in case.items() if name != "heard"})


@given(cases(), st.randoms(use_true_random=False))
@hypothesis_settings(max_examples=40, deadline=None)
def test_the_order_and_repeats_of_entries_change_nothing(case, random):
    shuffled = case["sessions"] * 2
    random.shuffle(shuffled)
    assert _volume_of(case) == _volume_of(case | {"sessions": shuffled})


@given(cases(), st.integers(1, 13))
@hypothesis_settings(max_examples=40, deadline=None)
def test_a_window_split_in_two_adds_up_to_the_whole(case, cut):
    whole = totals(_volume_of(case))
    added = {}
    for span in ((1, cut), (cut + 1, 14)):
        for place, values in totals(_volume_of(case | {"span": span})).items():
            before = added.get(place, (0,) * len(values))
            added[place] = tuple(a + b for a, b in zip(before, values, strict=True))
    assert added == whole
