"""Where an exercise may start, from grades, range and pain, by the moments of its poses."""

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from patients.assessment import GRADES, Grade, NotTested
from patients.motions import MOTIONS, Effort
from plans.safety import StepBounds
from plans.start import MotionState, RulesError, propose, read_rules
from plans.step_load import ladder_loads
from tests.world import shipped_exercises

FILE = Path(__file__).resolve().parent.parent.parent / "fixtures" / "start.toml"
RULES = read_rules(FILE)
LOADS = {}


def loads_of(key):
    if key not in LOADS:
        LOADS[key] = ladder_loads(shipped_exercises()[key])
    return LOADS[key]


def state(value):
    return value if isinstance(value, MotionState) else MotionState(grade=Grade.from_text(value))


def start(key, *, pain=None, barred=None, stops=None, **grades):
    states = {motion: state(value) for motion, value in grades.items()}
    exercise = shipped_exercises()[key]
    bounds = StepBounds(barred or {}, stops or {})
    return propose(exercise, loads_of(key), states, RULES, pain_on_movement=pain, bounds=bounds)


def efforts(rows):
    return [row.effort.key for row in rows]


@pytest.mark.parametrize(
    ("key", "grades", "step"),
    [
        # The worked cases of the trade: abductors at 2 slide sideways along the bed; flexors at 2
        # go forward lying on the sound side, or on the back with the other hand's help.
        ("arm_slide_sideways_lying", {"shoulder_abduction": "2"}, "gravity_reduced"),
        ("arm_lift_sideways_sitting", {"shoulder_abduction": "2"}, "self_assisted"),
        ("arm_lift_forward_lying", {"shoulder_flexion": "2"}, "gravity_reduced"),
        ("arm_lift_forward_sitting", {"shoulder_flexion": "2"}, "self_assisted"),
        ("arm_lift_forward_lying", {"shoulder_flexion": "0"}, "passive"),
        ("arm_lift_forward_lying", {"shoulder_flexion": "1"}, "self_assisted"),
        ("arm_lift_forward_lying", {"shoulder_flexion": "2-"}, "gravity_reduced"),
        ("arm_lift_forward_lying", {"shoulder_flexion": "2+"}, "gravity_reduced"),
        ("arm_lift_forward_lying", {"shoulder_flexion": "3"}, "active"),
        ("arm_lift_forward_lying", {"shoulder_flexion": "3+"}, "active"),
        ("arm_lift_forward_lying", {"shoulder_flexion": "4-"}, "resisted"),
        ("elbow_straighten_lying", {"elbow_extension": "2"}, "self_assisted"),
        ("elbow_bend_sitting", {"elbow_flexion": "3", "elbow_extension": "5"}, "active"),
        ("wrist_side_to_side", {"wrist_radial_deviation": "2"}, "gravity_reduced"),
        # Fingers have no gravity-reduced step: at 2 they move through what they have.
        ("full_fist", {"finger_flexion": "2", "finger_extension": "2"}, "active"),
        ("full_fist", {"finger_flexion": "1", "finger_extension": "2"}, "self_assisted"),
    ],
)
def test_the_proposed_step(key, grades, step):
    assert start(key, **grades).effort.key == step


def test_the_position_decides_and_not_the_name_of_the_exercise():
    lying_side = start("arm_lift_forward_lying", shoulder_flexion="2")
    assert efforts(lying_side.forbidden) == ["active", "resisted"]
    why = lying_side.why_forbidden(Effort.ACTIVE)
    assert "lying on the back this asks for 100 % of holding the arm straight out" in why
    assert "at 0° of shoulder flexion" in why
    assert "lying on the side, gravity asks next to nothing" in lying_side.reason
    # Straight up at the ceiling the same flexors hold almost nothing, and may at 2.
    circles = start("ceiling_circles", shoulder_flexion="2", shoulder_horizontal_abduction="3")
    assert not circles.why_forbidden(Effort.ACTIVE)


def test_sliding_names_the_rubbing_that_is_left():
    # Of an arm that lies on the bed, its weight presses with its own lever: the coefficient of
    # friction (0.3) of what holding it straight out asks.
    assert (
        "Sliding rubs with up to 30 %"
        in start("arm_slide_sideways_lying", shoulder_abduction="2").reason
    )


def test_a_group_that_the_exercise_does_not_name_counts_too():
    # Turning the arm out in sitting needs the flexors to hold the bent forearm.
    found = start("rotation_out_sitting", shoulder_external_rotation="4", shoulder_flexion="2")
    assert found.effort is Effort.GRAVITY_REDUCED
    assert found.why_forbidden(Effort.ACTIVE).startswith("Shoulder flexors 2: sitting this asks")


def test_an_ungraded_group_is_taken_as_the_lowest_of_its_joint():
    # Turning the arm out in sitting needs the flexors, which nobody graded.
    found = start("rotation_out_sitting", shoulder_external_rotation="4", shoulder_abduction="2")
    why = found.why_forbidden(Effort.ACTIVE)
    assert why.startswith("Shoulder flexors, not graded, taken as 2, the lowest of the joint:")
    assert found.effort is Effort.GRAVITY_REDUCED


def test_without_a_grade_the_lowest_step_and_why():
    plain = start("arm_lift_forward_lying")
    assert plain.effort is Effort.PASSIVE
    assert plain.reason == "Shoulder flexors not graded: the lowest step allowed."
    told = start(
        "arm_lift_forward_lying",
        shoulder_flexion=MotionState(not_tested=NotTested.PAIN, passive_deg=70),
    )
    assert told.effort is Effort.PASSIVE
    assert "not graded (pain)" in told.reason
    assert [stop.at_deg for stop in told.stops] == [70]


@pytest.mark.parametrize(
    ("key", "step"),
    [("row_pull", Effort.ACTIVE), ("shoulder_blade_set", Effort.GRAVITY_REDUCED)],
)
def test_without_a_grade_the_lowest_step_is_there_to_be_tried_but_never_resistance(key, step):
    assert start(key).effort is step
    assert start("rotation_out_press").effort is None


def test_nothing_is_proposed_above_a_step_that_asks_or_is_too_much():
    found = start("rotation_lying", shoulder_external_rotation="3-", shoulder_internal_rotation="4")
    assert efforts(found.asks) == ["active"]
    assert found.effort is Effort.SELF_ASSISTED
    assert "Before active: Shoulder external rotators 3−: only through its" in found.reason


def test_a_motion_named_beside_the_first_needs_no_grade_of_its_own_for_a_small_load():
    known = {"shoulder_flexion": "3", "shoulder_abduction": "3"}
    assert start("pendulum_circles", **known).effort is Effort.GRAVITY_REDUCED
    flicker = known | {"shoulder_external_rotation": "1"}
    assert start("pendulum_circles", **flicker).effort is None


def test_three_minus_moves_only_through_its_available_arc():
    unmeasured = start("arm_lift_forward_lying", shoulder_flexion="3-")
    assert unmeasured.effort is Effort.GRAVITY_REDUCED
    assert "available arc, which is not measured" in unmeasured.asks[0].why
    measured = MotionState(grade=Grade.from_text("3-"), active_deg=60, passive_deg=80)
    found = start("arm_lift_forward_lying", shoulder_flexion=measured)
    assert found.effort is Effort.ACTIVE
    assert [stop.words for stop in found.stops] == [
        "stop shoulder flexion at 60°: its available arc"
    ]


def test_a_movement_stops_where_the_measured_range_ends():
    short = MotionState(grade=Grade.from_text("2"), passive_deg=80, painful=True)
    (stop,) = start("arm_lift_forward_lying", shoulder_flexion=short).stops
    assert stop.words == "stop shoulder flexion at 80°: the range measured, painful at its end"
    long = MotionState(grade=Grade.from_text("2"), passive_deg=175)
    assert start("arm_lift_forward_lying", shoulder_flexion=long).stops == ()


def test_added_resistance_waits_until_beyond_3_and_3_plus_asks():
    assert "no added resistance up to 3" in start(
        "elbow_bend_sitting", elbow_flexion="3", elbow_extension="5"
    ).why_forbidden(Effort.RESISTED)
    plus = start("elbow_bend_sitting", elbow_flexion="3+", elbow_extension="5")
    assert efforts(plus.asks) == ["resisted"]
    # A hand weight calls on the extensors not at all here, so their grade does not matter.
    assert start("elbow_bend_sitting", elbow_flexion="4", elbow_extension="2").effort.key == (
        "resisted"
    )
    # Turning the forearm asks little of gravity, yet what is added is added to its turners.
    assert start("forearm_turn", forearm_supination="2").why_forbidden(Effort.RESISTED)


def test_a_press_is_judged_by_the_joint_that_it_loads():
    weak = start("rotation_out_press", shoulder_external_rotation="3")
    assert weak.effort is None
    assert weak.reason == "No step of this ladder fits: choose another exercise."
    assert start("rotation_out_press", shoulder_external_rotation="4").effort is Effort.RESISTED


def test_much_pain_on_movement_asks_before_resistance():
    calm = start("arm_lift_forward_lying", pain=5, shoulder_flexion="4")
    sore = start("arm_lift_forward_lying", pain=6, shoulder_flexion="4")
    assert calm.effort is Effort.RESISTED
    assert sore.effort is Effort.ACTIVE
    assert "Pain on movement was 6" in sore.asks[0].why


def test_what_precautions_bar_is_never_proposed():
    barred = {Effort.ACTIVE: "passive only until week 6", Effort.RESISTED: "passive only"}
    found = start("arm_lift_forward_lying", barred=barred, shoulder_flexion="4")
    assert found.effort is Effort.GRAVITY_REDUCED
    assert found.why_forbidden(Effort.ACTIVE) == "passive only until week 6"


@pytest.mark.parametrize(
    ("grade", "step"),
    [
        ("0", "passive"),
        ("1", "self_assisted"),
        ("2", "gravity_reduced"),
        ("3-", "gravity_reduced"),
        ("3+", "active"),
        ("4", "resisted"),
    ],
)
def test_steps_without_poses_fall_back_to_the_order_of_the_ladder(grade, step):
    posed = shipped_exercises()["arm_lift_forward_lying"]
    exercise = replace(posed, steps=tuple(replace(each, poses=()) for each in posed.steps))
    found = propose(exercise, ladder_loads(exercise), {"shoulder_flexion": state(grade)}, RULES)
    assert (found.effort.key, found.is_checked) == (step, False)
    assert "Not checked by the model." in found.reason


@given(
    key=st.sampled_from(sorted(shipped_exercises())),
    grades=st.dictionaries(st.sampled_from(sorted(MOTIONS)), st.sampled_from(GRADES), max_size=29),
    pain=st.none() | st.integers(0, 10),
)
def test_what_is_proposed_breaks_no_rule(key, grades, pain):
    exercise = shipped_exercises()[key]
    states = {motion: MotionState(grade=grade) for motion, grade in grades.items()}
    found = propose(exercise, loads_of(key), states, RULES, pain_on_movement=pain)
    assert found.reason
    barred = {row.effort for row in (*found.forbidden, *found.asks)}
    if found.effort is None:
        assert barred == {step.effort for step in exercise.steps}
        return
    assert found.effort not in barred
    named = [grades[motion] for motion in exercise.moves if motion in grades]
    load = next(load for load in loads_of(key) if load.effort is found.effort)
    if not named and exercise.moves:
        lowest = min(step.effort for step in exercise.steps if step.effort not in barred)
        assert found.effort is lowest
    if found.effort is Effort.PASSIVE:
        return
    for motion in exercise.moves:
        grade, share = grades.get(motion), load.share_percent.get(motion)
        if grade is None or share is None:
            continue
        assert grade.rank > 0
        if found.effort > Effort.SELF_ASSISTED:
            assert grade.rank > 1
            if grade.text[0] == "2":
                assert share <= RULES.grade_2_share_percent
        if found.effort is Effort.RESISTED and motion in load.with_weight:
            assert grade > Grade.from_text("3+")


@given(key=st.sampled_from(sorted(shipped_exercises())), data=st.data())
def test_a_stronger_muscle_never_lowers_the_step(key, data):
    exercise = shipped_exercises()[key]
    lower = data.draw(st.sampled_from(GRADES))
    higher = data.draw(st.sampled_from([grade for grade in GRADES if grade >= lower]))

    def proposed(grade):
        # An arc is measured, so that 3- does not wait for one.
        states = {motion: MotionState(grade=grade, active_deg=20) for motion in MOTIONS}
        effort = propose(exercise, loads_of(key), states, RULES).effort
        return effort or 0

    assert proposed(lower) <= proposed(higher)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("grade_2_share_percent = 25", "grade_2_share_percent = 250", "from 0 to 100"),
        ("grade_2_share_percent = 25", "", "missing or unknown: grade_2_share_percent"),
        ("pain_asks_above = 5", "pain_asks_above = 11", "from 0 to 10"),
        ("pain_asks_above = 5", 'pain_asks_above = "5"', "from 0 to 10"),
        ("source =", "sauce =", "missing or unknown: sauce"),
    ],
)
def test_rules_that_cannot_be_read_say_why(tmp_path, old, new, message):
    edited = tmp_path / "start.toml"
    assert old in FILE.read_text()
    edited.write_text(FILE.read_text().replace(old, new))
    with pytest.raises(RulesError, match=r"start\.toml") as caught:
        read_rules(edited)
    assert message in str(caught.value)


def test_the_share_is_the_clinics_to_set(tmp_path):
    edited = tmp_path / "start.toml"
    edited.write_text(FILE.read_text().replace("= 25", "= 40"))
    exercise = shipped_exercises()["rotation_out_sitting"]
    states = {"shoulder_external_rotation": state("4"), "shoulder_flexion": state("2")}
    found = propose(exercise, loads_of(exercise.key), states, read_rules(edited))
    assert not found.why_forbidden(Effort.ACTIVE)  # the flexors hold 38 %


def test_a_stop_of_the_precautions_is_set_on_the_proposed_step_and_the_nearer_one_counts():
    at_60 = {Effort.ACTIVE: (("shoulder_flexion", 60), "precaution: no further than 60°")}
    found = start("arm_lift_forward_lying", stops=at_60, shoulder_flexion="3")
    assert [(stop.at_deg, stop.is_set, stop.why) for stop in found.stops] == [
        (60, True, "precaution: no further than 60°")
    ]
    short = MotionState(Grade.from_text("3"), active_deg=40, passive_deg=50)
    found = start("arm_lift_forward_lying", stops=at_60, shoulder_flexion=short)
    assert [(stop.at_deg, stop.is_set) for stop in found.stops] == [(50, True)]


def test_nobody_forces_a_joint_past_where_its_end_hurts():
    hurts = MotionState(Grade.from_text("2"), active_deg=0, passive_deg=20, painful=True)
    helped = start("rotation_lying", shoulder_external_rotation=hurts)
    assert helped.effort is Effort.SELF_ASSISTED
    assert [(stop.motion, stop.at_deg, stop.is_set) for stop in helped.stops] == [
        ("shoulder_external_rotation", 20, True)
    ]
    # Moving it oneself ends with what one has, and is what wins more.
    three = Grade.from_text("3")
    alone = start(
        "rotation_lying",
        shoulder_external_rotation=replace(hurts, grade=three),
        shoulder_internal_rotation="3",
    )
    assert alone.effort is Effort.ACTIVE
    assert [stop.is_set for stop in alone.stops] == [False]
