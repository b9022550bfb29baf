"""Counting words, sentences and syllables."""

import pytest

from plans.reading import counts, grade


@pytest.mark.parametrize(
    ("text", "words", "sentences"),
    [
        ("Lift your arm.", 3, 1),
        ("Lift your arm. Lower it!", 5, 2),
        ("Lift your arm; lower it", 5, 2),
        ("Hold 10 seconds", 3, 1),
        ("Don't pull. It's heavy.", 4, 2),
        ("One line\nanother line", 4, 2),
        ("Up... and down.", 3, 2),
    ],
)
def test_words_and_sentences_are_counted(text, words, sentences):
    found = counts(text)
    assert (found.words, found.sentences) == (words, sentences)


def test_longer_words_and_longer_sentences_are_harder():
    short = "Lift your arm. Bring it down."
    assert grade(short) < grade("Lift your arm and bring it down.")
    assert grade(short) < grade("Elevate your extremity. Bring it down.")


@pytest.mark.parametrize("text", ["", "  ", "...", "¿?"])
def test_a_text_without_words_is_refused(text):
    with pytest.raises(ValueError, match="without words"):
        grade(text)
