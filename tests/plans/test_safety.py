"""Lines against precautions, over the shipped catalogue."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from patients.assessment import Grade
from patients.motions import MOTIONS, Effort, Joint, Side
from patients.precautions import POSITIONS, Beyond, Kind, Limit
from plans import clinical
from plans.catalogue import Position
from plans.exercise import movement_of
from plans.line_checks import CheckedLine
from plans.safety import Strength, findings, step_bounds
from plans.segments import Body
from tests.world import shipped_exercises

CATALOGUE = shipped_exercises()


def line(exercise, effort, side="left", **fields):
    described_by = CATALOGUE[exercise]
    step = described_by.step(Effort.from_key(effort))
    return CheckedLine(key=exercise, exercise=described_by, step=step, side=Side(side), **fields)


def limit(kind, side="left", **fields):
    return Limit(key=1, kind=Kind(kind), side=Side(side), **fields)


def angle(motion, limit_deg, **fields):
    return limit("angle", motion=motion, limit_deg=limit_deg, **fields)


def effort(highest, **fields):
    return limit("effort", effort=highest, **fields)


def found(lines, *limits, **more):
    lines = lines if isinstance(lines, list) else [lines]
    return findings(lines, limits, neighbours=CATALOGUE, **more)


def hard(lines, *limits):
    return [finding for finding in found(lines, *limits) if finding.is_hard]


def test_positions_are_the_catalogues():
    assert {place.value: place.label for place in Position} == POSITIONS


class TestAngles:
    def test_a_finding_says_which_pose_and_by_how_much(self):
        # The file lifts the arm to 88 degrees at 3 s.
        [finding] = hard(line("arm_lift_forward_lying", "active"), angle("shoulder_flexion", 60))
        assert (finding.at_s, round(finding.angle_deg), round(finding.beyond_deg)) == (3.0, 88, 28)
        assert finding.words == "At 3.0 s shoulder flexion is 88°, 28° beyond 60°."
        assert finding.line_key == "arm_lift_forward_lying"

    def test_at_the_limit_is_within_it(self):
        lift = line("arm_lift_forward_lying", "active")
        assert not found(lift, angle("shoulder_flexion", 88))
        assert found(lift, angle("shoulder_flexion", 87))

    def test_the_other_arms_limit_is_not_this_arms(self):
        assert not found(
            line("arm_lift_forward_lying", "active"),
            angle("shoulder_flexion", 60, side="right"),
        )
        assert found(
            line("arm_lift_forward_lying", "active", side="both"),
            angle("shoulder_flexion", 60, side="right"),
        )

    def test_an_extension_may_be_limited_short_of_straight(self):
        straightens = line("elbow_bend_sitting", "active")
        [finding] = hard(straightens, angle("elbow_extension", -30))
        assert "beyond −30°" in finding.words

    def test_only_when_moved_leaves_active_motion_alone(self):
        moved_only = angle("shoulder_flexion", 60, only_when_moved=True)
        assert hard(line("arm_lift_forward_lying", "passive"), moved_only)
        assert hard(line("arm_lift_forward_lying", "self_assisted"), moved_only)
        assert not hard(line("arm_lift_forward_lying", "active"), moved_only)

    def test_a_stop_is_offered_and_passes(self):
        lift = line("arm_lift_forward_lying", "active")
        limited = angle("shoulder_flexion", 60)
        [finding] = hard(lift, limited)
        stop = next(each for each in finding.passes if each.kind == "stop")
        assert (stop.stop_motion, stop.stop_deg) == ("shoulder_flexion", 60)
        assert not found(
            replace(lift, stop_motion=stop.stop_motion, stop_deg=stop.stop_deg), limited
        )
        assert hard(replace(lift, stop_motion="shoulder_flexion", stop_deg=61), limited)

    def test_an_easier_step_keeps_the_stop_and_is_offered_with_it(self):
        stopped = line(
            "arm_lift_forward_lying", "resisted", stop_motion="shoulder_flexion", stop_deg=60
        )
        limits = (angle("shoulder_flexion", 60), effort("active", joint=Joint.SHOULDER))
        [finding] = hard(stopped, *limits)
        assert "the active step" in [each.words for each in finding.passes]

    def test_a_stop_of_a_movement_that_begins_beyond_it_stops_nothing(self):
        circles = line("ceiling_circles", "active", stop_motion="shoulder_flexion", stop_deg=60)
        assert hard(circles, angle("shoulder_flexion", 60))

    def test_advice_is_not_hard(self):
        lift = line("arm_lift_forward_lying", "active")
        [finding] = found(lift, angle("shoulder_flexion", 60, is_hard=False))
        assert not finding.is_hard


class TestEfforts:
    @pytest.mark.parametrize(
        ("highest", "barred"),
        [
            ("passive", {"self_assisted", "gravity_reduced", "active", "resisted"}),
            ("self_assisted", {"gravity_reduced", "active", "resisted"}),
            ("active", {"resisted"}),
        ],
    )
    def test_they_are_ordered_and_gravity_reduced_counts_as_active(self, highest, barred):
        limited = effort(highest, joint=Joint.SHOULDER)
        exercise = CATALOGUE["arm_lift_forward_lying"]
        barred_by = step_bounds(exercise, [limited], Side.LEFT).barred
        assert {step.key for step in barred_by} == barred

    def test_a_pendulum_that_one_starts_oneself_counts_as_active(self):
        passive_only = effort("passive", joint=Joint.SHOULDER)
        [finding] = hard(line("pendulum_forward", "gravity_reduced"), passive_only)
        assert "counts as active" in finding.words
        assert not hard(line("pendulum_forward", "passive"), passive_only)

    def test_isometric_counts_as_resisted_unless_the_protocol_says_otherwise(self):
        press = line("rotation_out_press", "resisted")
        [finding] = hard(press, effort("active", joint=Joint.SHOULDER))
        assert finding.words == "Isometric, which counts as resisted."
        assert not hard(press, effort("active", joint=Joint.SHOULDER, isometric_is_active=True))

    def test_a_joint_that_only_carries_works_too(self):
        passive_only = effort("passive", joint=Joint.SHOULDER)
        assert hard(line("elbow_straighten_lying", "active"), passive_only)
        assert not hard(line("elbow_bend_sitting", "active"), passive_only)

    def test_a_joint_that_no_file_names_but_gravity_bends_works_too(self):
        # The elbow is held at a right angle while the arm turns out.
        [finding] = hard(
            line("rotation_out_sitting", "active"), effort("passive", motion="elbow_flexion")
        )
        assert "holds the arm's weight" in finding.words

    def test_a_limit_on_one_motion_leaves_its_opposite(self):
        no_resisted_turning_in = effort("active", motion="shoulder_internal_rotation")
        assert hard(line("rotation_in_sitting", "resisted"), no_resisted_turning_in)
        assert not hard(line("rotation_out_sitting", "resisted"), no_resisted_turning_in)

    def test_passive_that_nobody_helps_with_counts_as_active(self):
        # Both hands press each other's wrist back: the elbows do it.
        [*_, finding] = hard(
            line("wrist_prayer_stretch", "passive", side="both"),
            effort("passive", joint=Joint.ELBOW),
        )
        assert "counts as active" in finding.words

    def test_an_activity_is_judged_by_what_it_says_and_asks_for_confirmation(self):
        use = line("light_hand_use", "active")
        first, second = found(use, effort("passive", joint=Joint.FINGERS))
        assert first.is_hard
        assert second.is_unchecked
        assert "Not checked by the model" in second.words
        assert not found(use)


class TestLoads:
    def test_a_weight_above_the_limit(self):
        curl = line("elbow_bend_sitting", "resisted", load_g=1500, load_means="held")
        [finding] = hard(curl, limit("load", limit_g=1000))
        assert finding.words == "1.5 kg, 0.5 kg above 1 kg."
        assert not found(curl, limit("load", limit_g=1500))

    @pytest.mark.parametrize("exercise", ["row_pull", "rotation_out_press", "elbow_bend_sitting"])
    def test_an_unknown_load_counts_as_the_higher(self, exercise):
        [finding] = hard(line(exercise, "resisted"), limit("load", limit_g=5000))
        assert "unknown load" in finding.words

    def test_a_cuff_does_not_load_the_hand(self):
        lift = line("arm_open_close_lying", "resisted", load_g=500, load_means="cuff")
        assert not hard(lift, limit("load", limit_g=0, joint=Joint.WRIST))
        assert hard(lift, limit("load", limit_g=0, joint=Joint.SHOULDER))


class TestTheRest:
    def test_bearing_leaning_and_pushing(self):
        no_bearing = limit("bearing")
        assert hard(line("wall_slide_forward", "active"), no_bearing)
        assert hard(line("rotation_in_press", "resisted"), no_bearing)
        assert not hard(line("arm_lift_forward_sitting", "active"), no_bearing)

    def test_the_arm_that_leans_beside_a_pendulum(self):
        pendulum = line("pendulum_forward", "gravity_reduced")
        [finding] = hard(pendulum, limit("bearing", side="right"))
        assert finding.is_other_arm
        assert finding.words == "The right arm leans."

    def test_a_forbidden_position_is_the_steps_own(self):
        no_side = limit("position", position="lying_side")
        assert hard(line("arm_lift_forward_lying", "gravity_reduced"), no_side)
        assert not hard(line("arm_lift_forward_lying", "active"), no_side)

    def test_hanging_traction(self):
        no_traction = limit("traction")
        assert hard(line("pendulum_circles", "gravity_reduced"), no_traction)
        assert hard(
            line("elbow_bend_sitting", "resisted", load_g=500, load_means="held"), no_traction
        )
        assert not hard(line("elbow_bend_sitting", "active"), no_traction)

    def test_motions_forbidden_together(self):
        behind_the_back = limit(
            "together",
            together=(Beyond("shoulder_extension", 15), Beyond("elbow_flexion", 60)),
        )
        rowed = hard(line("row_pull", "active"), behind_the_back)
        assert "shoulder extension" in rowed[0].words
        assert not hard(line("arm_back_standing", "active"), behind_the_back)  # elbow straight
        assert not hard(line("hand_to_mouth", "active"), behind_the_back)  # arm to the front

    def test_orthosis(self):
        stays_on = limit("orthosis", is_hard=False)
        finger = line("finger_lifts", "active")
        assert not found(replace(finger, orthosis="on"), stays_on)
        [unsaid] = found(finger, stays_on)
        assert not unsaid.is_hard
        [off] = found(replace(finger, orthosis="off"), stays_on)
        assert off.is_hard
        assert "the same with the orthosis on" in [each.words for each in off.passes]


class TestTheOtherArm:
    def test_helping_counts_as_resisted_and_lifts_the_arm(self):
        lift = line("arm_lift_forward_lying", "self_assisted")
        [finding] = hard(lift, effort("active", joint=Joint.WRIST, side="right"))
        assert finding.is_other_arm
        # Winter: a whole arm is 0.050 of the body; the other hand takes half.
        half_kg = round(0.050 * Body().body_mass_kg / 2, 1)
        assert f"about {half_kg:g} kg (an estimate)" in finding.words
        assert hard(lift, limit("load", limit_g=1000, side="right"))
        assert not hard(lift, limit("load", limit_g=3000, side="right"))
        assert not hard(line("arm_lift_forward_lying", "active"), effort("active", side="right"))

    def test_its_angles_are_not_in_the_model(self):
        lift = line("arm_lift_forward_lying", "self_assisted")
        [finding] = found(lift, angle("shoulder_flexion", 60, side="right"))
        assert finding.is_unchecked
        assert not finding.is_hard

    def test_done_on_each_side_in_turn_each_arm_helps_once(self):
        lift = line("arm_lift_forward_lying", "self_assisted", side="both")
        assert any(f.is_other_arm for f in hard(lift, effort("active", side="right")))


class TestCare:
    def test_a_held_weight_above_the_face_unless_the_grip_is_firm(self):
        press = line("arm_lift_forward_lying", "resisted", load_g=1000, load_means="held")
        [finding] = found(press)
        assert "above the face" in finding.words
        assert not finding.is_hard
        firm = Strength({}, {Side.LEFT: Grade.from_text("4")})
        assert not found(press, strength=firm)
        assert not found(replace(press, load_means="cuff"))

    def test_a_weak_elbow_under_an_arm_overhead(self):
        weak = Strength({Side.LEFT: Grade.from_text("3")}, {})
        lift = line("arm_lift_forward_lying", "active")
        [finding] = found(lift, strength=weak)
        assert "may give way" in finding.words
        assert not found(lift)  # not graded: nothing is known
        assert not found(line("arm_lift_forward_lying", "self_assisted"), strength=weak)


def test_what_is_offered_passes_every_hard_limit():
    limits = [
        effort("self_assisted", joint=Joint.SHOULDER),
        angle("shoulder_flexion", 100),
        limit("bearing"),
    ]
    offered = 0
    for exercise in CATALOGUE.values():
        for step in exercise.steps:
            checked = CheckedLine(exercise.key, exercise, step, Side.LEFT)
            for finding in hard(checked, *limits):
                for each in finding.passes:
                    offered += 1
                    other = replace(checked, stop_motion=each.stop_motion, stop_deg=each.stop_deg)
                    if each.effort:
                        instead = CATALOGUE[each.exercise or exercise.key]
                        effort_kept = Effort.from_key(each.effort)
                        assert effort_kept <= step.effort
                        other = replace(
                            other, exercise=instead, step=instead.step(effort_kept), load_means=""
                        )
                    assert not hard(other, *limits), (exercise.key, step.effort, each)
    assert offered > 40


# Independent of the checks: poses at times that they don't sample, and angles of the commonest
# limits from the places of shoulder, elbow and wrist alone.

WITH_POSES = sorted(
    (exercise.key, step.effort.key)
    for exercise in CATALOGUE.values()
    for step in exercise.steps
    if step.poses
)
LIMITED = [motion for motion in MOTIONS if MOTIONS[motion].usual_range_deg is not None]
HALF_A_DEGREE = 0.5
"""How far a pose between two that were looked at may be beyond a limit: a tenth of what one rater
can measure (about 5 degrees)."""

some_limits = st.lists(
    st.builds(
        angle,
        st.sampled_from(LIMITED),
        st.integers(-40, 120),
        is_hard=st.booleans(),
        side=st.sampled_from(["left", "right", "both"]),
    ),
    min_size=1,
    max_size=6,
)
some_plans = st.lists(
    st.tuples(
        st.sampled_from(WITH_POSES),
        st.sampled_from(["left", "right", "both"]),
        st.one_of(st.none(), st.tuples(st.sampled_from(LIMITED), st.integers(0, 120))),
    ),
    min_size=1,
    max_size=4,
)


def poses_of(checked, times):
    """Angles of a line's poses at some moments, up to where it is told to stop."""
    movement = movement_of(checked.exercise, checked.step)
    times_s = np.sort(np.array(times)) * movement.own_pace_s
    rows = movement.coordinates_at(times_s)
    arm = movement.chain(rows)
    angles = {motion: high for motion, (_, high) in clinical.motion_angles(rows, arm).items()}
    upper, fore = arm.elbow - arm.shoulder, arm.wrist - arm.elbow
    cosine = np.einsum("ij,ij->i", upper, fore) / np.linalg.norm(upper, axis=1)
    bent = np.degrees(np.arccos(np.clip(cosine / np.linalg.norm(fore, axis=1), -1, 1)))
    assert np.allclose(bent, angles["elbow_flexion"], atol=1e-4)
    angles["elbow_flexion"], angles["elbow_extension"] = bent, -bent
    if checked.stop_deg is not None:
        start = movement.coordinates_at(np.array([0.0]))
        at_start = clinical.motion_angles(start, movement.chain(start))[checked.stop_motion][1][0]
        beyond = np.flatnonzero(angles[checked.stop_motion] > checked.stop_deg)
        if beyond.size and not at_start > checked.stop_deg:
            angles = {motion: high[: beyond[0]] for motion, high in angles.items()}
    return angles


@settings(max_examples=120)
@given(
    plan=some_plans,
    limits=some_limits,
    times=st.lists(st.floats(0, 1), min_size=25, max_size=25),
)
def test_no_pose_is_outside_a_hard_limit_but_where_it_is_found(plan, limits, times):
    limits = [replace(each, key=number) for number, each in enumerate(limits)]
    lines = [
        line(
            exercise,
            step,
            side,
            stop_motion=stop[0] if stop else "",
            stop_deg=stop[1] if stop else None,
        )
        for (exercise, step), side, stop in plan
    ]
    lines = [replace(each, key=str(number)) for number, each in enumerate(lines)]
    found_in = {
        (finding.line_key, finding.limit.key, finding.side)
        for finding in findings(lines, limits)
        if finding.is_hard
    }
    for checked in lines:
        angles = poses_of(checked, times)
        for each in limits:
            high = angles[each.motion]
            is_outside = bool(np.any(high > each.limit_deg + HALF_A_DEGREE))
            for side in checked.side.parts:
                if is_outside and each.is_hard and each.concerns(side):
                    assert (checked.key, each.key, side) in found_in


@settings(max_examples=60)
@given(step=st.sampled_from(WITH_POSES), side=st.sampled_from(["left", "right"]), data=st.data())
def test_what_is_found_is_there(step, side, data):
    checked = line(*step, side)
    motion = data.draw(st.sampled_from(LIMITED))
    limited = angle(motion, data.draw(st.integers(-40, 120)), side=side)
    found_here = hard(checked, limited)
    assume(found_here)
    movement = movement_of(checked.exercise, checked.step)
    row = movement.coordinates_at(np.array([found_here[0].at_s]))
    shown = clinical.motion_angles(row, movement.chain(row))[motion][1][0]
    assert shown == pytest.approx(found_here[0].angle_deg, abs=1e-6)
    assert shown > limited.limit_deg
