"""The sheet's own words: each language says all of it, with the same gaps, in its own plurals."""

import re
from dataclasses import fields, replace

import pytest

from clinic.languages import FALLBACK, LANGUAGES
from plans.sheet_language import SheetWords
from plans.sheet_words import ARABIC, ENGLISH, sheet_words
from tests.plans.test_sheet import dose

OTHERS = [code for code in LANGUAGES if code != FALLBACK]
GAP = re.compile(r"\{[^}]*\}")
NAMES = [field.name for field in fields(SheetWords) if field.name != "language"]


def texts(value):
    """Every text in a field."""
    if isinstance(value, dict):
        return [text for each in value.values() for text in texts(each)]
    return list(value) if isinstance(value, tuple) else [value]


@pytest.mark.parametrize("code", LANGUAGES)
def test_each_language_that_we_offer_has_words_of_its_own(code):
    assert sheet_words(code).language == code
    assert sheet_words(f"{code}-xx").language == code


@pytest.mark.parametrize("code", OTHERS)
@pytest.mark.parametrize("name", NAMES)
def test_a_field_has_the_keys_and_gaps_of_the_english(code, name):
    ours, english = getattr(sheet_words(code), name), getattr(ENGLISH, name)
    assert type(ours) is type(english)
    if isinstance(english, dict):
        assert ours.keys() == english.keys()
    assert all(texts(ours))
    gaps = {gap.partition(":")[0].rstrip("}") for text in texts(ours) for gap in GAP.findall(text)}
    assert gaps == {
        gap.partition(":")[0].rstrip("}") for text in texts(english) for gap in GAP.findall(text)
    }


@pytest.mark.parametrize("name", NAMES)
def test_the_arabic_is_in_arabic(name):
    for text in texts(getattr(ARABIC, name)):
        assert not re.search("[A-Za-z\u0660-\u0669]", GAP.sub("", text)), text


@pytest.mark.parametrize(
    ("count", "said"),
    [
        (1, "مرة واحدة."),
        (2, "مرتين."),
        (3, "3 مرات."),
        (10, "10 مرات."),
        (11, "11 مرة."),
        (99, "99 مرة."),
        (100, "100 مرة."),
        (102, "102 مرة."),
        (103, "103 مرات."),
    ],
)
def test_arabic_counts_as_cldr_says(count, said):
    """CLDR 46, cardinal rules for ar: few for n % 100 in 3..10, many for 11..99, else other."""
    asked = ARABIC.dose(dose(sets=1, amount_low=count, amount_high=count)).sentences[0]
    assert asked == said


def test_a_dose_in_arabic():
    said = ARABIC.dose(dose(sets=3, weekdays=frozenset({0, 2, 4})))
    assert said.sentences[0] == "3 مجموعات من 8 إلى 10 مرات."
    assert said.glance.replace("\N{NO-BREAK SPACE}", " ") == "3 مجموعات من 8 إلى 10"
    assert said.often == "مرتين في اليوم، أيام الاثنين والأربعاء والجمعة."


def test_a_language_without_words_of_its_own_gets_english():
    assert sheet_words("fr") is ENGLISH
    assert replace(ARABIC, language="ar").direction == "rtl"
