"""The MRC grades 0 to 5 and the steps that fit them.

Medical Research Council, Aids to the Investigation of Peripheral Nerve Injuries (1943), as given at
getm.sen.es/escalas-de-valoracion/medical-research-council-scale-motor-testing and
wjgnet.com/2218-5836/full/v8/i1/21-T10.htm. Half grades and the stages that fit are common
practice, no source.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from patients.assessment import GRADES, Grade, ReadingError, read_grade

MRC = {
    "0": "no contraction",
    "1": "flicker",
    "2": "gravity taken away",
    "3": "against gravity, none against resistance",
    "4": "against gravity and some resistance",
    "5": "full strength",
}


@pytest.mark.parametrize(("text", "words"), MRC.items())
def test_each_grade_means_what_the_scale_says(text, words):
    assert words in Grade.from_text(text).meaning


def test_grades_are_in_order():
    assert " ".join(grade.text for grade in sorted(GRADES)) == "0 1 2- 2 2+ 3- 3 3+ 4- 4 4+ 5- 5"


@given(st.sampled_from(GRADES), st.sampled_from(GRADES))
def test_grades_compare_but_never_add_or_average(one, two):
    assert (one < two) == (one.rank < two.rank)
    with pytest.raises(TypeError):
        one + two
    with pytest.raises(TypeError):
        sum([one, two])
    with pytest.raises(TypeError):
        one / 2


@pytest.mark.parametrize(
    ("typed", "text"), [("3−", "3-"), (" 4+ ", "4+"), ("2-", "2-"), ("5", "5")]
)
def test_either_minus_is_read(typed, text):
    assert read_grade(typed).grade == Grade.from_text(text)
    assert Grade.from_text("3-").label == "3−"


@pytest.mark.parametrize("typed", ["6", "3.5", "5+", "0-", "1+", "3--", "strong", "-3", "35"])
def test_what_is_no_grade_is_refused(typed):
    with pytest.raises(ReadingError, match="A grade is"):
        read_grade(typed)
