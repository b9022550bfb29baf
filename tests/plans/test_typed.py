"""An exercise as typed on the screen: nothing is lost on the way there and back."""

import pytest

from patients.motions import Effort
from plans import typed
from plans.arm import FINGERS
from plans.catalogue import CatalogueError, read_exercise
from plans.exercise import MovementError, movement_of
from plans.typed_angles import ANGLES
from tests.plans.typing_in import fields_of
from tests.world import shipped_exercises

LIFT = "arm_lift_forward_lying"


@pytest.mark.parametrize("key", sorted(shipped_exercises()))
def test_every_exercise_comes_back_from_the_screen_as_it_was(key):
    exercise = shipped_exercises()[key]
    sent = typed.from_fields(fields_of(typed.from_table(exercise.as_table())))
    assert read_exercise(sent.table(), where="screen") == exercise
    for step, typed_step in zip(exercise.steps, sent.steps, strict=True):
        if step.poses:
            want = movement_of(exercise, step)
            assert sent.movement(typed_step) == want


def lift() -> typed.TypedExercise:
    return typed.from_table(shipped_exercises()[LIFT].as_table())


def problems_of(text: typed.TypedExercise, step: int) -> str:
    try:
        text.movement(text.steps[step])
    except MovementError as error:
        return str(error)
    return ""


def test_what_is_no_number_is_kept_and_refused_by_its_pose():
    text = typed.from_fields(fields_of(lift()) | {"steps.3.poses.1.elevation": "8O"})
    assert text.steps[3].poses[1]["elevation"] == "8O"
    with pytest.raises(MovementError) as refused:
        text.movement(text.steps[3])
    assert refused.value.problems == (
        f"{LIFT}: active: pose 2: elevation must be a number, not '8O'",
    )
    assert list(typed.problems_by_pose(refused.value.problems)) == [2]


@pytest.mark.parametrize("text", ["nan", "inf", "1e9", "12345", "٣", "--4", "0x10"])
def test_odd_numbers_are_refused(text):
    sent = typed.from_fields(fields_of(lift()) | {"steps.3.poses.1.elevation": text})
    with pytest.raises(MovementError, match="pose 2: elevation must be a number"):
        sent.movement(sent.steps[3])


def test_a_dose_in_words_is_refused_and_kept():
    sent = typed.from_fields(fields_of(lift()) | {"dose.sets": "two"})
    assert sent.said["dose.sets"] == "two"
    with pytest.raises(CatalogueError, match=r"dose\.sets: must be a whole number"):
        read_exercise(sent.table(), where="screen")


def test_poses_come_and_go():
    more = lift().with_pose(3)
    assert [pose["at"] for pose in more.steps[3].poses] == ["0", "3", "4.5", "6"]
    assert len(more.steps[2].poses) == 3
    assert more.without_pose(3, 2).table() == lift().table()
    assert more.without_pose(3, 0) == more, "the first pose stays"


def test_an_angle_gets_its_column():
    wider = lift().with_angle(3, "wrist")
    assert wider.steps[3].angles == ("elevation", "elbow", "wrist")
    assert wider.table() == lift().table(), "an empty column says nothing"
    assert typed.from_fields(fields_of(wider)).steps[3].angles == wider.steps[3].angles
    assert lift().with_angle(3, "knee") == lift()


def test_a_step_comes_in_its_place_and_goes():
    less = lift().without_step(2)
    efforts = [step.said["effort"] for step in less.steps]
    assert efforts == ["passive", "self_assisted", "active", "resisted"]
    again = less.with_step(Effort.GRAVITY_REDUCED)
    assert [step.effort for step in again.steps] == list(Effort)
    assert [step.number for step in again.steps] == [0, 1, 2, 3, 4]
    assert read_exercise(again.table(), where="screen").key == LIFT
    assert lift().with_step(Effort.ACTIVE) == lift()


@pytest.mark.parametrize("angle", ANGLES, ids=lambda angle: angle.name)
def test_every_offered_angle_is_one_that_a_pose_may_give(angle):
    text = lift().with_angle(3, angle.name)
    value = {"hand": "fist", "thumb": "35 5 0 0 0", "thumb_out": "35"}.get(angle.name, "0")
    value = "0 0 0" if angle.name in ("fingers", *FINGERS) else value
    sent = typed.from_fields(fields_of(text) | {f"steps.3.poses.0.{angle.name}": value})
    problems = problems_of(sent, 3)  # what is claimed to move may now rest
    assert "is no joint angle" not in problems
    assert "must be" not in problems


@pytest.mark.parametrize(
    ("name", "within", "beyond"),
    [("elbow", 150, 151), ("wrist", 80, 81), ("deviation", -30, -31), ("rotation", 90, 91)],
)
def test_limits_shown_are_those_checked(name, within, beyond):
    shown = {angle.name: angle.limits for angle in ANGLES}[name]
    assert f"{within}" in shown
    fields = fields_of(lift().with_angle(3, name)) | {"steps.3.poses.1.elevation": "40"}
    for degrees, is_refused in ((within, False), (beyond, True)):
        sent = typed.from_fields(fields | {f"steps.3.poses.1.{name}": str(degrees)})
        assert ("is beyond" in problems_of(sent, 3)) is is_refused


def test_a_position_and_a_motion_that_are_none_are_told():
    fields = fields_of(lift()) | {"steps.3.position": "floating", "moves": "knee flexion"}
    sent = typed.from_fields(fields)
    with pytest.raises(MovementError) as refused:
        sent.movement(sent.steps[3])
    assert "position 'floating' is not known" in str(refused.value)
    assert "'knee_flexion' is not known" in str(refused.value)
