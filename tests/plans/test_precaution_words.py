"""What a patient must not do yet, as the sheet says it."""

from itertools import product

import pytest
from django.urls import reverse

from patients.motions import MOTIONS, Joint, Side
from patients.precaution_protocols import read_protocols
from patients.precautions import EFFORTS, POSITIONS, Beyond, Kind, Limit
from plans.precaution_words import PRECAUTIONS, precaution_words, told
from plans.reading import grade
from tests.plans.test_safety_pages import limit as set_limit
from tests.world import FIXTURES

ENGLISH = PRECAUTIONS["en"]


def limits():
    """Yield limits of every kind, part and side."""
    for side, joint in product(Side, [None, *Joint]):
        for effort in EFFORTS:
            yield Limit(key=1, kind=Kind.EFFORT, side=side, joint=joint, effort=effort)
        yield Limit(key=1, kind=Kind.LOAD, side=side, joint=joint, limit_g=0)
        yield Limit(key=1, kind=Kind.LOAD, side=side, joint=joint, limit_g=500)
    for side in Side:
        for kind in (Kind.BEARING, Kind.TRACTION, Kind.ORTHOSIS):
            yield Limit(key=1, kind=kind, side=side)
        for motion in MOTIONS:
            yield Limit(key=1, kind=Kind.ANGLE, side=side, motion=motion, limit_deg=60)
    for position in POSITIONS:
        yield Limit(key=1, kind=Kind.POSITION, position=position)


@pytest.mark.parametrize("language", PRECAUTIONS)
def test_every_kind_is_said_whole_in_every_language(language):
    words = PRECAUTIONS[language]
    said = 0
    for each in limits():
        for sentence in told(words, [each]):
            said += 1
            assert sentence.endswith(".")
            assert "{" not in sentence
            assert "  " not in sentence
    assert said > 150
    for name, value in vars(ENGLISH).items():
        if isinstance(value, dict):
            assert getattr(words, name).keys() == value.keys(), name


def test_the_english_reads_at_grade_6_or_below():
    for each in limits():
        for sentence in told(ENGLISH, [each]):
            assert grade(sentence) <= 6, sentence
    assert grade(ENGLISH.until) <= 6


def test_advice_and_what_has_no_plain_words_is_not_told():
    together = Limit(key=1, kind=Kind.TOGETHER, together=(Beyond("shoulder_extension", 0),) * 2)
    advice = Limit(key=2, kind=Kind.LOAD, limit_g=0, is_hard=False)
    moved = Limit(
        key=3, kind=Kind.ANGLE, motion="shoulder_flexion", limit_deg=90, only_when_moved=True
    )
    assert told(ENGLISH, [together, advice, moved]) == ()


def test_of_several_efforts_of_one_part_the_lowest_is_told_once():
    efforts = [
        Limit(key=n, kind=Kind.EFFORT, side=Side.LEFT, joint=Joint.SHOULDER, effort=effort)
        for n, effort in enumerate(("active", "passive", "self_assisted"))
    ]
    assert told(ENGLISH, efforts) == (
        "Do not move your left shoulder by its own strength. A helper moves it for you.",
    )


def test_each_shipped_protocol_has_something_to_tell():
    protocols, problems = read_protocols(FIXTURES / "protocols")
    assert not problems
    for protocol in protocols:
        assert told(ENGLISH, [proposed.limit for proposed in protocol.precautions]), protocol.key


def test_an_unknown_language_is_english():
    assert precaution_words("fr") is ENGLISH


def test_the_web_sheet_says_it_before_the_exercises_and_not_without_precautions(as_staff, world):
    client = as_staff(world.therapist)
    address = reverse("sheet_web", args=[world.patient.pk, world.version.pk])
    assert ENGLISH.heading not in client.get(address).text
    set_limit(world, kind="bearing", motion="", limit_deg=None)
    text = client.get(address).text
    assert text.index(ENGLISH.heading) < text.index("Arm lift to the front")
    assert "Do not lean or push on your left arm" in text
    assert ENGLISH.until in text
