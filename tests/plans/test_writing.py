"""Exercises changed and copied on a screen: nobody's words are lost, nothing is overwritten."""

from dataclasses import replace

import pytest
from django.urls import reverse

from clinic.models import AuditRow
from patients.motions import Effort
from plans.catalogue import Words
from plans.catalogue_actions import save_exercise, stock_catalogue
from plans.models import ExerciseRevision, Line
from plans.queries import current_revision, exercise_of
from plans.typed import from_table
from tests.plans.typing_in import fields_of
from tests.world import shipped_exercises, stock

LIFT = "arm_lift_forward_lying"
EDIT, COPY = reverse("exercise_edit", args=[LIFT]), reverse("exercise_copy", args=[LIFT])


@pytest.fixture(autouse=True)
def neighbours(world):
    stock("table_slide_forward", "arm_lift_forward_sitting")


def typed(**changed):
    fields = fields_of(from_table(shipped_exercises()[LIFT].as_table()))
    return fields | {"after": "1", "act": "save"} | changed


def page(answer):
    return answer.content.decode()


@pytest.mark.parametrize("role", ["therapist", "supervisor"])
def test_a_change_is_a_new_revision_and_issued_lines_keep_theirs(as_staff, world, role):
    client = as_staff(getattr(world, role))
    line = Line.objects.get(version=world.version, revision__exercise__key=LIFT)
    answer = client.post(EDIT, typed(**{"steps.3.poses.1.elevation": "70"}))
    assert answer.status_code == 302
    newest = current_revision(LIFT)
    assert (newest.number, newest.added_by) == (2, getattr(world, role))
    assert exercise_of(newest).step(Effort.ACTIVE).poses[1]["elevation"] == 70
    line.refresh_from_db()
    assert line.revision.number == 1
    row = AuditRow.objects.get(verb="changed exercise")
    assert (row.subject, row.detail, row.user) == (LIFT, {"revision": 2}, getattr(world, role))


@pytest.mark.parametrize("role", ["student", "administrator"])
def test_others_look_and_cannot_save(as_staff, world, role):
    client = as_staff(getattr(world, role))
    assert 'value="save"' not in page(client.get(EDIT))
    for address in (EDIT, COPY):
        assert client.post(address, typed(key="of_mine")).status_code == 403
    assert client.post(reverse("take_shipped", args=[LIFT])).status_code == 302
    assert ExerciseRevision.objects.filter(added_by__isnull=False).count() == 0
    assert client.post(EDIT, typed(act="draw")).status_code == 200


def test_nobody_signed_out_sees_it(client, world):
    for address in (EDIT, COPY, reverse("exercises_shipped")):
        assert client.get(address).status_code == 302
        assert client.post(address, typed()).status_code == 302


def test_a_copy_has_a_key_of_its_own_and_leaves_the_first_alone(as_staff, world):
    client = as_staff(world.therapist)
    shown = page(client.get(COPY))
    assert f'value="{LIFT}_copy"' in shown
    words = {"words.en.name": "Arm lift, ours", "key": "arm_lift_ours"}
    assert client.post(COPY, typed(**words)).url == reverse("exercise", args=["arm_lift_ours"])
    assert exercise_of(current_revision("arm_lift_ours")).words("en").name == "Arm lift, ours"
    assert current_revision(LIFT).number == 1
    again = client.post(COPY, typed(**words | {"words.en.name": "Another"}))
    assert again.status_code == 422
    assert "There is an exercise arm_lift_ours already" in page(again)


def test_the_key_of_an_exercise_that_is_changed_stays(as_staff, world):
    as_staff(world.therapist).post(EDIT, typed(key="other_key", **{"dose.sets": "2"}))
    assert current_revision("other_key") is None
    assert current_revision(LIFT).number == 2


def test_what_is_wrong_is_told_by_exercise_step_and_pose_and_typing_is_kept(as_staff, world):
    wrong = {
        "steps.3.poses.1.elevation": "200",
        "dose.sets": "many",
        "words.en.name": "",
        "words.es.goal": "<b>Hola</b>",
    }
    answer = as_staff(world.therapist).post(EDIT, typed(**wrong))
    text = page(answer)
    assert answer.status_code == 422
    assert f"{LIFT}: active: pose 2: elevation 200 is not within -180 to 180 degrees" in text
    assert f"{LIFT}: dose.sets: must be a whole number from 1 to 20" in text
    assert "words.en.name: must be words" in text
    assert 'value="200"' in text
    assert 'value="many"' in text
    assert "&lt;b&gt;Hola" in text
    assert "<b>Hola" not in text
    assert current_revision(LIFT).number == 1


def test_two_who_write_at_once_do_not_overwrite_each_other(as_staff, world):
    client = as_staff(world.therapist)
    client.post(EDIT, typed(**{"dose.sets": "2"}))
    late = client.post(EDIT, typed(**{"dose.sets": "3"}))
    assert late.status_code == 422
    assert "Somebody else changed" in page(late)
    assert 'name="dose.sets" value="3"' in page(late)
    assert current_revision(LIFT).number == 2


def test_saving_what_did_not_change_adds_nothing(as_staff, world):
    answer = as_staff(world.therapist).post(EDIT, typed())
    assert "Nothing differs" in page(answer)
    assert current_revision(LIFT).number == 1


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"easier": "no_such"}, "there is no exercise &quot;no_such&quot;"),
        ({"easier": "arm_lift_forward_sitting"}, "go round in a circle"),
        ({"harder": LIFT}, "must be another exercise"),
        ({"words.en.name": "arm lift to the front, sitting"}, "has this name too"),
    ],
)
def test_neighbours_and_names_fit_the_catalogue(as_staff, world, changed, told):
    answer = as_staff(world.therapist).post(EDIT, typed(**changed))
    assert answer.status_code == 422
    assert told in page(answer)


def test_as_one_types_the_figure_comes_back_with_what_is_wrong_at_its_pose(as_staff, world):
    client = as_staff(world.student)
    headers = {"HX-Request": "true", "HX-Target": "drawing-3"}
    first = page(client.post(EDIT, typed(act="draw.3"), headers=headers))
    assert first.lstrip().startswith('<div class="drawing" id="drawing-3"><svg')
    fields = typed(act="draw.3", **{"steps.3.poses.1.elevation": "40"})
    other = page(client.post(EDIT, fields, headers=headers))
    assert other[: other.index("</svg>")] != first[: first.index("</svg>")]
    fields["steps.3.poses.1.elevation"] = "200"
    wrong = page(client.post(EDIT, fields, headers=headers))
    assert "<svg" not in wrong
    first_said, second_said = (
        wrong.split(f'id="wrong-3-{pose}"')[1].split("</span>")[0] for pose in (1, 2)
    )
    assert ">Elevation 200 is not within -180 to 180" in second_said
    assert "within" not in first_said
    assert ExerciseRevision.objects.filter(exercise__key=LIFT).count() == 1


@pytest.mark.parametrize(
    "act", ["draw.9", "draw.x", "remove-pose.9.9", "add-pose.", "add-angle.1", "add-step", "zebra"]
)
def test_odd_requests_break_nothing(as_staff, world, act):
    client = as_staff(world.therapist)
    for headers in ({}, {"HX-Request": "true"}):
        fields = {"act": act, "steps.x.y": "1", "steps.1.poses.0.zebra": "1", "after": "-4"}
        assert client.post(EDIT, fields, headers=headers).status_code in (200, 404)


def test_without_script_poses_angles_and_steps_come_and_go(as_staff, world):
    client = as_staff(world.therapist)
    more = page(client.post(EDIT, typed(act="add-pose.3")))
    assert 'name="steps.3.poses.3.at" value="6"' in more
    wider = page(client.post(EDIT, typed(act="add-angle.3", **{"steps.3.angle": "wrist"})))
    assert 'name="steps.3.poses.0.wrist"' in wider
    less = page(client.post(EDIT, typed(act="remove-step.0")))
    assert 'name="steps.4.effort"' not in less


def test_an_upgrade_leaves_ours_and_offers_the_difference(as_staff, world):
    client = as_staff(world.therapist)
    address = reverse("exercises_shipped")
    assert "None differs" in page(client.get(address))
    changed = {"steps.3.poses.1.elevation": "70", "words.en.cue": "Softly."}
    client.post(EDIT, typed(**changed))
    stock_catalogue(by=None, exercises=[shipped_exercises()[LIFT]])
    assert current_revision(LIFT).number == 2, "an upgrade overwrites nothing"
    text = page(client.get(address))
    assert "Active, pose 2, elevation" in text
    assert "Words, en, cue" in text
    assert "Softly." in text
    client.post(reverse("take_shipped", args=[LIFT]))
    newest = current_revision(LIFT)
    assert newest.number == 3
    assert exercise_of(newest) == shipped_exercises()[LIFT]
    assert newest.added_by == world.therapist
    assert "None differs" in page(client.get(address))


def test_queries_do_not_grow_with_the_catalogue(as_staff, world, django_assert_max_num_queries):
    client = as_staff(world.therapist)
    stock("wrist_bend_back", "grip_squeeze", "forearm_turn")
    own = shipped_exercises()
    client.get(EDIT)
    with django_assert_max_num_queries(10):
        client.get(EDIT)
    for key in ("wrist_bend_back", "grip_squeeze", "forearm_turn"):
        words = dict(own[key].words_in)
        words["en"] = Words(f"Our {key}", "To move.", words["en"].cautions, "Softly.")
        mine = replace(own[key], words_in=words)
        save_exercise(by=world.therapist, exercise=mine, after=1)
    with django_assert_max_num_queries(10):
        assert "Our grip_squeeze" in page(client.get(reverse("exercises_shipped")))
