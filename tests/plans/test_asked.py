"""What a plan asks of each joint in a week, against the version before, and in all."""

from dataclasses import fields
from datetime import timedelta

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from clinic.http import today_in
from logs.volume import volume
from patients.motions import Joint, Side
from plans.actions import start_draft
from plans.asked import (
    AskLimits,
    Weekly,
    asked_of_joints,
    asks_much,
    folded,
    jumps,
    read_ask_limits,
)
from plans.dose import PlanTime
from plans.schedule import Unit, Version, Window, occasions
from plans.threshold import ThresholdsError
from tests.plans.building import MONDAY, line
from tests.world import FIXTURES, make_line, stock

LIMITS = read_ask_limits(FIXTURES / "asks.toml")
WEEK = Window(MONDAY, MONDAY + timedelta(days=6))


def row_of(rows, joint, motion=None, side=Side.LEFT):
    return next(r for r in rows if r.place[:3] == (joint, motion, side))


class TestAsked:
    def test_a_week_is_sets_by_low_end_by_sessions_by_days(self):
        """2 sets × 8 × twice a day × 3 days = 96; with 0.5 kg 48 kg × repetitions."""
        rows = asked_of_joints([], [line(weekdays=frozenset({0, 2, 4}), load_g=500)])
        assert row_of(rows, Joint.SHOULDER).now == Weekly(96, 0, 48_000, 500)
        assert row_of(rows, Joint.SHOULDER, "shoulder_flexion").now.load_volume_kg == 48.0

    def test_two_motions_of_one_joint_count_once_for_the_joint(self):
        both = ("shoulder_flexion", "shoulder_abduction")
        rows = asked_of_joints([], [line(moves=both)])
        assert row_of(rows, Joint.SHOULDER).now.repetitions == 2 * 8 * 2 * 7
        assert row_of(rows, Joint.SHOULDER, both[1]).now.repetitions == 2 * 8 * 2 * 7

    def test_both_sides_count_once_on_each_and_what_only_carries_is_told_apart(self):
        rows = asked_of_joints([], [line(side=Side.BOTH, loads=("wrist",))])
        assert row_of(rows, Joint.SHOULDER, side=Side.RIGHT).now.repetitions == 224
        wrist = row_of(rows, Joint.WRIST)
        assert not wrist.place.is_moved
        assert wrist.place.words == "left wrist, carrying"

    def test_a_hold_counts_seconds_and_an_activity_nothing(self):
        hold = line(unit=Unit.SECONDS, amount_low=5)
        rows = asked_of_joints([], [hold, line("b", unit=Unit.MINUTES)])
        assert row_of(rows, Joint.SHOULDER).now == Weekly(0, 2 * 5 * 2 * 7, 0, 0)

    def test_a_change_is_in_per_cent_and_from_nothing_it_is_none(self):
        rows = asked_of_joints([line(load_g=500)], [line(sets=3, load_g=750), line("b", loads=())])
        row = row_of(rows, Joint.SHOULDER)
        assert row.repetitions_percent == pytest.approx(150)
        assert row.heaviest_percent == pytest.approx(50)
        assert row_of(asked_of_joints([], [line()]), Joint.SHOULDER).repetitions_percent is None

    def test_what_is_no_longer_asked_is_there_with_none(self):
        (whole, _) = asked_of_joints([line()], [])
        assert whole.now == Weekly()
        assert whole.repetitions_percent == -100

    def test_a_motion_asked_for_as_its_joint_is_stands_in_the_joints_row(self):
        bend = line(moves=("elbow_flexion", "elbow_extension"))
        reach = line("b", moves=("elbow_extension", "shoulder_flexion"))
        (shoulder,) = folded(asked_of_joints([], [line()]))
        assert shoulder.words == "left shoulder: flexion"
        rows = folded(asked_of_joints([], [bend, reach]))
        assert [row.words for row in rows] == [
            "left shoulder: flexion",
            "left elbow: extension",
            "left elbow flexion",
        ]

    @given(
        st.lists(
            st.builds(
                line,
                st.uuids().map(str),
                sets=st.integers(1, 4),
                amount_low=st.integers(1, 12),
                load_g=st.integers(0, 3000),
                sessions_per_day=st.integers(1, 4),
                weekdays=st.frozensets(st.integers(0, 6), min_size=1),
                side=st.sampled_from(Side),
                moves=st.sampled_from([("elbow_flexion",), ("elbow_flexion", "wrist_flexion")]),
                loads=st.sampled_from([(), ("shoulder",)]),
            ),
            max_size=5,
        )
    )
    def test_it_is_what_the_week_of_a_report_prescribes(self, lines):
        """The same repetitions and load volume as the report counts from the days themselves."""
        plan = [Version(1, MONDAY, tuple(lines))]
        found = volume(
            versions=plan,
            occasions=occasions(plan, [], WEEK),
            sessions=[],
            window=WEEK,
            today=WEEK.last_day + timedelta(days=1),
        )
        reported = {
            row[:4]: (row.prescribed.repetitions, row.prescribed.load_volume_g)
            for row in (*found.rows, *found.joints)
        }
        asked = {
            tuple(row.place): (row.now.repetitions, row.now.load_volume_g)
            for row in asked_of_joints([], lines)
        }
        assert asked == reported


class TestNotes:
    def test_a_jump_is_noted_above_its_limit_and_not_at_it(self):
        assert LIMITS.volume_jump_percent.value == 30
        before = [line(amount_low=10, amount_high=10)]
        at = asked_of_joints(before, [line(amount_low=13, amount_high=13)])
        above = asked_of_joints(before, [line(amount_low=14, amount_high=14)])
        assert jumps(at, LIMITS) == ()
        (note,) = jumps(above, LIMITS)
        assert note.words == (
            "Left shoulder: repetitions up by 40 %, to 392 a week (looked at above 30 %)."
        )
        assert note.source == LIMITS.volume_jump_percent.source

    def test_a_weight_may_rise_by_ten_per_cent(self):
        """Ratamess et al. 2009: by 2 to 10 per cent."""
        before = [line(load_g=1000)]
        assert jumps(asked_of_joints(before, [line(load_g=1100)]), LIMITS) == ()
        (note,) = jumps(asked_of_joints(before, [line(load_g=1250)]), LIMITS)
        assert "heaviest weight up by 25 %, to 1.25 kg" in note.words
        assert "2009" in note.source

    def test_less_and_new_are_no_jump(self):
        assert jumps(asked_of_joints([line()], [line(sets=1)]), LIMITS) == ()
        assert jumps(asked_of_joints([], [line()]), LIMITS) == ()

    def test_much_is_said_with_where_it_comes_from(self):
        little = PlanTime(0, 30 * 60, 0, 300 * 60)
        assert asks_much(7, little, LIMITS) is None
        found = asks_much(8, PlanTime(0, 31 * 60, 0, 301 * 60), LIMITS)
        assert found.words == (
            "8 exercises, 0–31 min a session, 0–301 min a week: this asks much, and long plans are "
            "not done."
        )
        assert "Henry, Rosemond and Eckert 1999" in found.source
        assert found.source.count("common practice, no source") == 1
        session = asks_much(2, PlanTime(0, 31 * 60, 0, 0), LIMITS)
        assert session.words.startswith("0–31 min a session: ")

    def test_every_limit_is_read_and_a_wrong_one_is_named(self, tmp_path):
        assert [limit.value for limit in LIMITS.all()] == [30, 10, 7, 30, 300]
        assert len(fields(AskLimits)) == len(LIMITS.all())
        text = (FIXTURES / "asks.toml").read_text(encoding="utf-8")
        path = tmp_path / "asks.toml"
        for wrong, said in (
            (text.replace("value = 7", "value = 0"), r"many_exercises.*from 1 to 60"),
            (text.replace("[many_exercises]", "[few]"), "no limit called few"),
            (text.replace('source = "common practice, no source"', "", 1), "value, meaning and"),
        ):
            path.write_text(wrong, encoding="utf-8")
            with pytest.raises(ThresholdsError, match=said):
                read_ask_limits(path)


class TestTheBuilder:
    @pytest.fixture
    def draft(self, world):
        today = today_in("Europe/London")
        return start_draft(by=world.therapist, patient=world.patient, today=today)

    def page(self, as_staff, world):
        address = reverse("draft", args=[world.patient.pk])
        return " ".join(as_staff(world.therapist).get(address).content.decode().split())

    def test_the_draft_stands_against_the_version_in_force(self, as_staff, world, draft):
        page = self.page(as_staff, world)
        assert "What it asks of each joint in a week, against version 1" in page
        assert "a jump" not in page
        bend = draft.lines.get(revision__exercise__key="elbow_bend_sitting")
        bend.sets = 2
        bend.save()
        page = self.page(as_staff, world)
        assert "Left elbow: repetitions up by 100 %, to 224 a week" in page
        assert "+100 %" in page

    def test_a_long_plan_is_said_to_ask_much(self, as_staff, world, draft):
        stock()
        for number in range(7):
            make_line(draft, key=f"more-{number}")
        page = self.page(as_staff, world)
        assert "9 exercises: this asks much, and long plans are not done." in page

    def test_the_usual_dose_stands_with_its_source_and_a_load_with_its_means(
        self, as_staff, world, draft
    ):
        line = make_line(draft, "elbow_bend_sitting", key="x", step="resisted")
        line.load_means, line.load_g = "held", 500
        line.save()
        address = reverse("draft", args=[world.patient.pk]) + f"?open={line.pk}"
        page = " ".join(as_staff(world.therapist).get(address).content.decode().split())
        assert "Load: 0.5 kg held in the hand; elbow" in page
        usual = "1 × 8–10, 6 s each, twice a day, every day. Source: common practice, no source."
        assert usual in page
