"""The stop signs: complete in both languages, plain, and refused where a clinic's file is wrong."""

import re
import tomllib

import pytest

from clinic.languages import LANGUAGES
from plans.catalogue import CatalogueError
from plans.reading import grade
from plans.stop_signs import TIERS, read_stop_signs
from tests.world import FIXTURES

FILE = FIXTURES / "stop_signs.toml"
SHIPPED = read_stop_signs(FILE)


def test_the_tiers_stand_from_the_most_urgent_down():
    assert [(tier.key, tier.calls, tier.number) for tier in SHIPPED] == [
        ("emergency", "emergency", 1),
        ("today", "clinic", 2),
        ("next_visit", "clinic", 3),
    ]


@pytest.mark.parametrize("tier", SHIPPED, ids=TIERS)
def test_all_languages_have_the_same_signs(tier):
    assert set(tier.words_in) == set(LANGUAGES)
    assert len({len(words.signs) for words in tier.words_in.values()}) == 1
    with_limit = [
        [n for n, sign in enumerate(words.signs) if "{pain_limit}" in sign]
        for words in tier.words_in.values()
    ]
    assert all(places == with_limit[0] for places in with_limit)


@pytest.mark.parametrize("tier", SHIPPED, ids=TIERS)
def test_the_english_reads_at_grade_6_or_below(tier):
    words = tier.words("en", 4)
    said = (f"{words.heading}. {words.do}", *words.signs)
    assert all(grade(sentence) <= 6 for sentence in said)


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_plan_s_pain_limit_stands_in_the_words(language):
    said = [sign for tier in SHIPPED for sign in tier.words(language, 3).signs]
    assert not any("{" in sign for sign in said)
    assert len([sign for sign in said if re.search(r"\b3\b", sign)]) == 2


def test_another_language_falls_back_on_english():
    assert SHIPPED[0].words("fr", 5) == SHIPPED[0].words("en", 5)


def test_what_the_tiers_must_hold_is_there():
    """Common practice, no source: what each tier has to name at the least."""
    emergency, today, later = (" ".join(tier.words("en", 5).signs).lower() for tier in SHIPPED)
    for sign in ("chest", "breath", "faint", "face", "numb", "speak", "headache", "blue", "cast"):
        assert sign in emergency
    for sign in ("pop", "numb", "wound", "fever", "above 5", "next morning", "night", "sweat"):
        assert sign in today
    for sign in ("5 or less", "stiff", "missed"):
        assert sign in later


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ('key = "today"', 'key = "next_visit"', "tiers: must be emergency, today, next_visit"),
        ('calls = "clinic"', 'calls = "nobody"', "calls: 'nobody' is not one of"),
        ('heading = "Ring the clinic today"', 'haeding = "Ring"', "heading: is missing"),
        ("[tiers.words.es]", "[tiers.words.fr]", "words.es: is missing"),
        ('source = "common practice, no source"', "", "source: is missing"),
        ("signs = [", "signs = [3,", "signs[1]: must be words"),
        ("[[tiers]]", "[[tiers", "line"),
    ],
)
def test_a_slip_is_named(tmp_path, old, new, problem):
    text = FILE.read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "stop_signs.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    tomllib.loads(text)
    with pytest.raises(CatalogueError) as refused:
        read_stop_signs(path)
    assert problem in str(refused.value)
    assert "stop_signs.toml" in str(refused.value)
