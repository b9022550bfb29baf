"""How hard an English text is to read: the Flesch-Kincaid grade, with a syllable counter.

Pure. The grade is a school year of the United States; words for patients stay at 6 or below.

Source of the formula: Kincaid JP, Fishburne RP, Rogers RL, Chissom BS (1975), Derivation of new
readability formulas for Navy enlisted personnel, Research Branch Report 8-75.

The counter works by spelling, with a table for words that spelling misleads. It is an estimate:
it speaks for a text, not for a single rare word.
"""

import re
from dataclasses import dataclass

_WORD = re.compile(r"[A-Za-z]+(?:['’][A-Za-z]+)*|\d+")
_SENTENCE_END = re.compile(r"[.!?:;]+(?=\s|$)|\n+")

# wide, raised, sides, safely, movement; but not ta-ble, lif-ted, fin-ish-es.
_SILENT_E = re.compile(
    r"(?:[^aeioulry]|[aeiouy][lr]|rl)e$"
    r"|[^aeioutd]r?ed$(?<!led)|[aeiouyrl]led$"
    r"|(?:[^aeioulszxcgh]|[aeiouy]l|th)es$"
    r"|[^aeiou]e(?:ly|less|ful|fully|ments?)$"
)
# ly-ing, med-i-um, ra-di-o; but not spe-cial, ac-tion, re-gion, fa-mil-iar.
_TWO_VOWELS_APART = re.compile(
    r"(?:[aeioy]|(?<![gq])u)(?=ing$)|(?<![tcsgxl])i(?=a|o|um)|u(?=al|ity)"
)

# What spelling alone gets wrong, by the CMU Pronouncing Dictionary.
_SPELLING_MISLEADS = {
    "area": 3,
    "being": 2,
    "eye": 1,
    "eyes": 1,
    "create": 2,
    "doing": 2,
    "every": 2,
    "everyday": 3,
    "going": 2,
    "idea": 3,
    "people": 2,
    "quiet": 2,
    "safety": 2,
    "sideways": 2,
    "something": 2,
    "sometimes": 2,
    "someone": 2,
}


@dataclass(frozen=True)
class Counts:
    """Words, sentences and syllables of a text."""

    words: int
    sentences: int
    syllables: int

    @property
    def grade(self) -> float:
        """The Flesch-Kincaid grade.

        >>> round(Counts(words=100, sentences=10, syllables=140).grade, 2)
        4.83
        """
        return 0.39 * self.words / self.sentences + 11.8 * self.syllables / self.words - 15.59


def counts(text: str) -> Counts:
    """Return the counts of an English text; ValueError where it has no words.

    A full stop, question or exclamation mark, colon, semicolon or line end closes a sentence.
    A number is one word of as many syllables as it has digits.

    >>> counts("Sit at a table. Lift your hand.")
    Counts(words=7, sentences=2, syllables=8)
    """
    sentences = [found for part in _SENTENCE_END.split(text) if (found := _WORD.findall(part))]
    if not sentences:
        raise ValueError("a text without words has no reading grade")
    words = [word for sentence in sentences for word in sentence]
    return Counts(
        words=len(words),
        sentences=len(sentences),
        syllables=sum(syllables(word) for word in words),
    )


def grade(text: str) -> float:
    """Return the Flesch-Kincaid grade of an English text; ValueError where it has no words."""
    return counts(text).grade


def syllables(word: str) -> int:
    """Return how many syllables an English word (or a number, by digits) has, at least 1.

    >>> [syllables(word) for word in ("arm", "elbow", "exercise", "clothes", "little", "raised")]
    [1, 2, 3, 1, 2, 1]
    """
    if word.isdigit():
        return len(word)
    letters = re.sub(r"['’](?:s|ll|re|ve|d|t|m)?$", "", word.lower())
    if letters in _SPELLING_MISLEADS:
        return _SPELLING_MISLEADS[letters]
    found = len(re.findall(r"[aeiouy]+", letters))
    found -= bool(_SILENT_E.search(letters))
    found += len(_TWO_VOWELS_APART.findall(letters))
    return max(found, 1)
