"""Three invented people taken through the served pages, from assessment to sheet.

What is asserted is what a senior therapist would look for: what is barred and why, where each
exercise starts and why, what stops short, the dose, the minutes, and what the sheet says.
"""

import re
from io import BytesIO

import pytest
from pypdf import PdfReader

from plans.models import PlanVersion
from plans.plan_page import ShownVersion, shown_version
from tests.plans.cases import CUFF, STROKE, TODAY, WRIST, Journey
from tests.world import stock


def flat(text):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text))


def text_of(pdf):
    return flat(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages))


def journey(case, client, world):
    """Take a case up to its draft: precautions, assessment, a plan begun, its exercises added."""
    stock(*case.chosen)
    taken = Journey.begin(case, client, world.therapist)
    taken.limit()
    taken.assess()
    taken.start()
    for exercise in case.chosen:
        taken.add(exercise)
    return taken


def shown(taken) -> ShownVersion:
    return shown_version(taken.draft or taken.issued, TODAY)


def lines(taken):
    return {item.exercise.key: item for item in shown(taken).lines}


def proposal(taken, exercise):
    """Return what the builder says of an exercise that is found by its name."""
    name = lines(taken)[exercise].words.name
    page = taken.page("draft", q=name)
    hit = next(part for part in page.split('<li class="hit">')[1:] if name in part)
    return flat(hit)


@pytest.mark.django_db
class TestAWeakArmAfterAStroke:
    @pytest.fixture
    def taken(self, client, world):
        return journey(STROKE, client, world)

    def test_each_exercise_starts_where_the_muscle_that_its_pose_calls_on_can_bear_it(self, taken):
        assert {key: item.step.effort.key for key, item in lines(taken).items()} == {
            "arm_lift_forward_lying": "gravity_reduced",  # flexors 2: on the sound side
            "arm_slide_sideways_lying": "gravity_reduced",  # abductors 2: along the bed
            "rotation_lying": "self_assisted",  # external rotators 2: against gravity 77 %
            "elbow_bend_sitting": "active",  # flexors 3+
            "forearm_turn": "active",  # gravity asks next to nothing on the table
            "wrist_bend_back": "gravity_reduced",  # extensors 2+
            "finger_straighten": "active",  # no gravity-reduced step: what it has
            "arm_rest_sitting": "passive",
            "two_hand_tasks": "active",
        }
        lift = proposal(taken, "arm_lift_forward_lying")
        assert "Start gravity-reduced. Shoulder flexors 2: lying on the side" in lift
        assert "a smooth board or cloth" in lift
        assert "Active: no. Shoulder flexors 2: lying on the back this asks for 100 %" in lift
        assert "Resisted: no." in proposal(taken, "wrist_bend_back")

    def test_nobody_turns_the_painful_shoulder_out_past_where_it_hurts(self, taken):
        rotation = lines(taken)["rotation_lying"]
        assert rotation.line.stop == ("shoulder_external_rotation", 30)
        assert "the range measured, painful at its end" in proposal(taken, "rotation_lying")
        assert all(
            item.line.stop is None for key, item in lines(taken).items() if key != "rotation_lying"
        )

    def test_the_plan_keeps_the_precautions_and_begins_with_the_low_pain_limit(self, taken):
        assert not shown(taken).hard
        assert taken.draft.pain_limit == 2
        assert {item.exercise.key for item in shown(taken).unchecked} == {
            "arm_rest_sitting",
            "two_hand_tasks",
        }
        # Raising the arm beyond 90 is barred where another hand moves it, and only there.
        page = flat(taken.page("draft"))
        assert "left shoulder flexion no further than 90° when moved" in page

    def test_arranged_the_patient_lies_down_once_and_gets_up_once(self, taken):
        taken.send("lines_arrange")
        positions = [item.step.position.value for item in shown(taken).lines]
        lying = [position.startswith("lying") for position in positions]
        assert lying == sorted(lying, reverse=True)
        assert shown(taken).position_changes == shown(taken).least_position_changes

    def test_resting_the_arm_is_not_counted_among_the_minutes_of_exercise(self, taken):
        assert shown(taken).time.session_high_s <= 30 * 60

    def test_the_sheet(self, taken):
        version = taken.issue()
        assert version.state == PlanVersion.State.ISSUED
        text = text_of(taken.sheet())
        assert "Your pain limit is 2" in text
        assert "Stop an exercise when your pain goes above 2." in text
        assert "Only up to here: the forearm turned out by 30°." in text
        assert "Do not let your left arm hang with no rest. Nobody may pull on it." in text
        assert "8 to 10 times." in text
        assert "Thistle" not in text
        assert "stroke" not in text.lower()


@pytest.mark.django_db
class TestWeekThreeAfterACuffRepair:
    @pytest.fixture
    def taken(self, client, world):
        return journey(CUFF, client, world)

    def test_the_shoulder_is_moved_by_a_helper_and_by_nothing_else(self, taken):
        steps = {key: item.step.effort.key for key, item in lines(taken).items()}
        for exercise in (
            "arm_lift_forward_lying",
            "rotation_lying",
            "pendulum_forward",
            "table_slide_forward",
        ):
            assert steps[exercise] == "passive", exercise
        lift = proposal(taken, "arm_lift_forward_lying")
        assert "Start passive. Shoulder flexors not graded (not allowed yet)" in lift
        barred = "Self-assisted. Precaution: right shoulder: passive at most."
        assert f"Not self-assisted: {barred}" in lift
        assert f"Self-assisted: no. {barred}" in lift
        swing = proposal(taken, "pendulum_forward")
        assert "Gravity-reduced, which counts as active." in swing

    def test_what_is_far_from_the_repair_moves_by_itself_without_a_weight(self, taken):
        steps = {key: item.step.effort.key for key, item in lines(taken).items()}
        assert steps["elbow_bend_sitting"] == "active"
        assert steps["wrist_bend_back"] == "active"  # extensors 4, but a weight is barred
        assert "Precaution: right shoulder: no load." in proposal(taken, "wrist_bend_back")
        assert steps["shoulder_blade_set"] == "gravity_reduced"
        assert not shown(taken).hard

    def test_what_a_helper_does_stops_where_it_hurts_short_of_the_surgeon_s_limits(self, taken):
        stops = {key: item.line.stop for key, item in lines(taken).items() if item.line.stop}
        assert stops == {
            "arm_lift_forward_lying": ("shoulder_flexion", 85),
            "rotation_lying": ("shoulder_external_rotation", 20),
        }

    def test_a_harder_step_is_found_against_the_precautions_with_what_would_pass(self, taken):
        lift = lines(taken)["arm_lift_forward_lying"].line
        taken.send("line_step", lift.pk, "harder")
        page = flat(taken.page("draft"))
        assert "A hard precaution blocks the issue." in page
        assert "Would pass: the passive step" in page
        refused = taken.send(
            "draft_issue",
            effective_day=TODAY.isoformat(),
            pain_limit="2",
            seen_edits=str(taken.draft.edits),
        )
        assert taken.draft is not None, refused
        taken.send("line_instead", lift.pk, offer="step:passive")
        assert not shown(taken).hard

    def test_the_helper_is_named_in_one_press_each(self, taken):
        assert [gap for _, gap in shown(taken).gaps] == ["name the helper"] * 4
        assert "Medlar Harrowgate has shown it safely" in taken.page("draft")
        taken.name_helpers()
        assert shown(taken).gaps == ()

    def test_the_sheet(self, taken):
        taken.name_helpers()
        taken.issue()
        text = text_of(taken.sheet())
        assert "With the help of Medlar Harrowgate." in text
        assert "Only up to here: 85° at the shoulder, arm to the ceiling." in text
        assert "Only up to here: the forearm turned out by 20°." in text
        for rule in (
            "Do not move your right shoulder by its own strength. A helper moves it for you.",
            "Do not lift, carry or pull anything with your right arm.",
            "Do not lean or push on your right arm",
            "Do not lift your right shoulder to the front past 90°.",
            "Do not turn your right shoulder out past 30°.",
        ):
            assert rule in text, rule
        assert "Your pain limit is 2" in text
        assert shown(taken).time.session_high_s <= 20 * 60


@pytest.mark.django_db
class TestAWristOutOfPlaster:
    @pytest.fixture
    def taken(self, client, world):
        return journey(WRIST, client, world)

    def test_it_moves_by_itself_through_what_it_has_and_nothing_resists(self, taken):
        steps = {key: item.step.effort.key for key, item in lines(taken).items()}
        assert set(steps.values()) == {"active"}
        bend = proposal(taken, "wrist_bend_back")
        assert "Wrist extensors 3−" in bend
        assert "Stop wrist extension at 20°: its available arc." in bend
        assert "Resisted: no." in bend
        assert "Precaution: left" in bend
        # One's own range is its own end: it is to be worked into, and nothing is cut short.
        assert all(item.line.stop is None for item in lines(taken).values())

    def test_a_weight_is_found_against_the_precautions(self, taken):
        bend = lines(taken)["wrist_bend_back"].line
        taken.send("line_step", bend.pk, "harder")
        page = flat(taken.page("draft"))
        assert "left wrist: active at most" in page.lower()
        assert "the active step" in page

    def test_what_is_not_graded_is_asked_and_leads_to_its_assessment(self, taken):
        use = proposal(taken, "light_hand_use")
        assert "The elbow extensors are not graded." in use
        assert "Assess the elbow" in use
        assert "active: settle first" in flat(taken.page("draft"))

    def test_the_sheet_is_spanish_through_and_through(self, taken):
        taken.issue()
        text = text_of(taken.sheet())
        assert "Su límite de dolor es 2" in text
        assert "No levante, cargue ni tire de nada con el brazo izquierdo." in text
        assert "No empuje, tire ni apriete fuerte con la muñeca izquierda." in text
        assert "8 a 10 veces." in text
        for english in ("Take care", "times", "wrist", "Ring", "Page"):
            assert english not in text, english

    @pytest.mark.parametrize("letter", ["0", "1"])
    def test_large_print_in_english_too(self, taken, letter):
        taken.patient.language = "en"
        taken.patient.save()
        taken.issue()
        text = text_of(taken.sheet(large="1", letter=letter))
        assert "Your pain limit is 2" in text
        assert "Do not push, pull or squeeze hard with your left wrist." in text
