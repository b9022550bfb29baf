"""The catalogue's pages, and finding exercises."""

import pytest
from django.urls import reverse

from clinic.languages import LANGUAGES
from patients.motions import Effort, Joint
from plans.catalogue import Position
from plans.models import Exercise
from plans.search import Wanted, found_exercises, indexed
from tests.world import shipped_exercises, stock


@pytest.fixture(scope="module")
def shipped():
    return [indexed(exercise) for exercise in shipped_exercises().values()]


def keys(shipped, **wanted):
    return [hit.exercise.key for hit in found_exercises(shipped, Wanted(**wanted))]


@pytest.mark.parametrize(
    ("words", "first"),
    [
        ("elbow", "elbow_bend_sitting"),
        ("lift hand wrist", "wrist_bend_back"),
        ("lift the hand at", "wrist_bend_back"),
        ("swing circ", "pendulum_circles"),
        ("arm lift to the front s", "arm_lift_forward_sitting"),
    ],
)
def test_what_is_meant_comes_first(shipped, words, first):
    assert keys(shipped, words=words)[0] == first


@pytest.mark.parametrize(
    "words",
    ["supine", "shoulder flexion", "er", "stick", "omóplato", "omoplato", "helper", "activity"],
)
def test_the_trades_words_find_something_and_not_everything(shipped, words):
    assert 0 < len(keys(shipped, words=words)) < len(shipped)


def test_every_word_must_fit(shipped):
    assert keys(shipped, words="elbow zebra") == []


def test_no_words_find_all_by_name(shipped):
    hits = found_exercises(shipped, Wanted())
    names = [hit.exercise.words("en").name for hit in hits]
    assert len(hits) == len(shipped)
    assert names == sorted(names)


def test_choices_narrow(shipped):
    for hit in found_exercises(shipped, Wanted(joint=Joint.WRIST)):
        assert any(motion.startswith("wrist") for motion in hit.exercise.moves)
    for hit in found_exercises(shipped, Wanted(position=Position.LYING_BACK)):
        positions = {hit.exercise.position} | {step.position for step in hit.exercise.steps}
        assert Position.LYING_BACK in positions
    hits = found_exercises(shipped, Wanted(effort=Effort.RESISTED))
    assert hits
    assert {hit.effort for hit in hits} == {Effort.RESISTED}


def test_a_step_named_among_the_words_is_the_one_meant(shipped):
    hit = found_exercises(shipped, Wanted(words="elbow bend active"))[0]
    assert (hit.exercise.key, hit.effort) == ("elbow_bend_sitting", Effort.ACTIVE)


def test_without_a_step_named_the_lowest_is_meant(shipped):
    hit = found_exercises(shipped, Wanted(words="elbow bend"))[0]
    assert hit.effort is hit.exercise.steps[0].effort


def test_the_list_names_every_exercise_and_finds(as_staff, world):
    client = as_staff(world.therapist)
    stock("wrist_bend_back")
    text = client.get(reverse("exercises")).content.decode()
    assert "3 exercises." in text
    found = client.get(reverse("exercises"), {"q": "wrist"}).content.decode()
    assert reverse("exercise", args=["wrist_bend_back"]) in found
    assert reverse("exercise", args=["elbow_bend_sitting"]) not in found
    nothing = client.get(reverse("exercises"), {"q": "zebra"}).content.decode()
    assert "No exercise fits." in nothing


def test_as_one_types_only_the_list_comes_back(as_staff, world):
    answer = as_staff(world.therapist).get(
        reverse("exercises"), {"q": "elbow"}, headers={"HX-Request": "true", "HX-Target": "found"}
    )
    assert answer.content.decode().lstrip().startswith('<div id="found">')


def test_an_exercise_shows_its_ladder_and_its_words_in_every_language(as_staff, world):
    text = as_staff(world.therapist).get(reverse("exercise", args=["elbow_bend_sitting"]))
    text = text.content.decode()
    exercise = shipped_exercises()["elbow_bend_sitting"]
    for language in LANGUAGES:
        words = exercise.words(language)
        for sentence in (words.name, words.goal, words.cue, *words.cautions):
            assert sentence in text
        for step in exercise.steps:
            for sentence in step.words(language).do:
                assert sentence in text
    for step in exercise.steps:
        assert step.effort.label.capitalize() in text
    assert "common practice, no source" in text


def test_an_exercise_that_is_unknown_or_retired_is_not_found(as_staff, world):
    client = as_staff(world.therapist)
    assert client.get(reverse("exercise", args=["no_such_thing"])).status_code == 404
    Exercise.objects.filter(key="elbow_bend_sitting").update(is_retired=True)
    assert client.get(reverse("exercise", args=["elbow_bend_sitting"])).status_code == 404
    text = client.get(reverse("exercises")).content.decode()
    assert "elbow_bend_sitting" not in text
