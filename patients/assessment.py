"""Measures of an assessment as values: grades, ranges as they are typed, grip, activities. Pure.

A measure that was not taken is an answer too: :class:`NotTested` says why.

>>> read_range("95p", "shoulder_flexion")
RangeReading(value_deg=95, pain=True, not_tested=None)
>>> read_range("n", "shoulder_flexion").not_tested.label
'not allowed yet'
>>> read_grade("3-").grade < Grade.from_text("3")
True
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from patients.motions import MOTIONS


class NotTested(StrEnum):
    """Why a measure was not taken."""

    NOT_ALLOWED = "not_allowed"
    PAIN = "pain"
    CANNOT_FOLLOW = "cannot_follow"
    TONE = "tone"

    @property
    def label(self) -> str:
        """The reason in words."""
        return _REASON_WORDS[self]


_REASON_WORDS = {
    NotTested.NOT_ALLOWED: "not allowed yet",
    NotTested.PAIN: "pain",
    NotTested.CANNOT_FOLLOW: "cannot follow",
    NotTested.TONE: "tone",
}

REASON_LETTERS = {
    "n": NotTested.NOT_ALLOWED,
    "p": NotTested.PAIN,
    "f": NotTested.CANNOT_FOLLOW,
    "t": NotTested.TONE,
}
"""What is typed in place of a number; common practice has no letters of its own for this."""


class Method(StrEnum):
    """What an angle was read with."""

    GONIOMETER = "goniometer"
    INCLINOMETER = "inclinometer"
    BY_EYE = "by_eye"
    SELF_MEASURED = "self_measured"

    @property
    def label(self) -> str:
        """The method in words."""
        return "phone or self-measured" if self is Method.SELF_MEASURED else self.replace("_", " ")


class ReadingError(ValueError):
    """Something typed that is no measure; the message tells a person what is."""


@dataclass(frozen=True, order=True)
class Grade:
    """A grade of muscle strength, 0 to 5 with minus and plus.

    Grades are in order and nothing more: they can be compared, never added or averaged, so
    ``rank`` is a place in that order and not a size. Their meaning is that of the MRC grades
    (Medical Research Council, Aids to the Investigation of Peripheral Nerve Injuries, 1943).
    """

    rank: int
    text: str

    @classmethod
    def from_text(cls, text: str) -> "Grade":
        """Return the grade that "3", "3-", "3−" or "3+" names; KeyError if it names none."""
        return _GRADES[text.replace("−", "-")]

    @property
    def label(self) -> str:
        """The grade as it is printed, with a true minus sign."""
        return self.text.replace("-", "−")

    @property
    def meaning(self) -> str:
        """What the whole grade means, for a muscle group."""
        return _MEANINGS[int(self.text[0])]


_TEXTS = ("0", "1", "2-", "2", "2+", "3-", "3", "3+", "4-", "4", "4+", "5-", "5")
_GRADES = {text: Grade(rank, text) for rank, text in enumerate(_TEXTS)}
GRADES: tuple[Grade, ...] = tuple(_GRADES.values())
"""Every grade, the weakest first."""

_MEANINGS = (
    "no contraction",
    "a flicker, no movement",
    "full movement only with gravity taken away",
    "full movement against gravity, none against resistance",
    "movement against gravity and some resistance",
    "full strength",
)

_GROUPS = {
    "flexion": "flexors",
    "extension": "extensors",
    "abduction": "abductors",
    "adduction": "adductors",
    "rotation": "rotators",
    "supination": "supinators",
    "pronation": "pronators",
    "deviation": "deviators",
    "protraction": "protractors",
    "retraction": "retractors",
    "elevation": "elevators",
    "depression": "depressors",
    "opposition": "opposers",
}


def muscle_group(motion: str) -> str:
    """Return the name of the muscles that make a motion.

    >>> muscle_group("shoulder_external_rotation"), muscle_group("finger_flexion")
    ('shoulder external rotators', 'finger flexors')
    """
    start, _, end = MOTIONS[motion].label.rpartition(" ")
    return f"{start} {_GROUPS[end]}"


@dataclass(frozen=True)
class RangeReading:
    """A range as typed: degrees and whether its end hurt, or why it was not measured."""

    value_deg: int | None = None
    pain: bool = False
    not_tested: NotTested | None = None


@dataclass(frozen=True)
class GradeReading:
    """A grade as typed, or why it was not tested."""

    grade: Grade | None = None
    not_tested: NotTested | None = None


_RANGE = re.compile(r"([-−]?[0-9]{1,3})\s*°?\s*(p?)")
_LETTERS = ", ".join(f"{letter} ({why.label})" for letter, why in REASON_LETTERS.items())


def range_limits_deg(motion: str) -> tuple[int, int]:
    """Return the least and greatest plausible angle of a motion.

    A negative angle says that the neutral position is not reached; it can go as far as the
    opposite motion does. Plausibility limits of our own.

    >>> range_limits_deg("elbow_extension"), range_limits_deg("thumb_opposition")
    ((-165, 20), (0, 90))
    """
    this = MOTIONS[motion]
    lowest = -MOTIONS[this.opposite].reject_beyond_deg if this.opposite else 0
    return lowest, this.reject_beyond_deg


def read_range(text: str, motion: str) -> RangeReading:
    """Return what was typed for a range; ReadingError with what would do.

    Degrees, with p after them where the end of range hurts; or one letter for why not.
    """
    typed = text.strip().lower()
    if not typed:
        return RangeReading()
    if typed in REASON_LETTERS:
        return RangeReading(not_tested=REASON_LETTERS[typed])
    found = _RANGE.fullmatch(typed)
    if not found:
        raise ReadingError(f"Type degrees, with p after them for pain at the end, or {_LETTERS}.")
    value_deg = int(found[1].replace("−", "-"))
    lowest, highest = range_limits_deg(motion)
    if not lowest <= value_deg <= highest:
        label = MOTIONS[motion].label
        raise ReadingError(f"{label.capitalize()} is between {lowest}° and {highest}°.")
    return RangeReading(value_deg=value_deg, pain=bool(found[2]))


def read_grade(text: str) -> GradeReading:
    """Return what was typed for a grade; ReadingError with what would do."""
    typed = text.strip().lower()
    if not typed:
        return GradeReading()
    if typed in REASON_LETTERS:
        return GradeReading(not_tested=REASON_LETTERS[typed])
    try:
        return GradeReading(grade=Grade.from_text(typed))
    except KeyError:
        raise ReadingError(
            f"A grade is 0, 1, 2, 3, 4 or 5, with − or + on 2 to 4 (and 5−), or {_LETTERS}."
        ) from None


@dataclass(frozen=True)
class ScoreReading:
    """A 0 to 10 score as typed, or why there is none."""

    score: int | None = None
    not_tested: NotTested | None = None


def read_score(text: str) -> ScoreReading:
    """Return a whole number from 0 to 10, or why not; 0 is an answer and blank is none."""
    typed = text.strip().lower()
    if not typed:
        return ScoreReading()
    if typed in REASON_LETTERS:
        return ScoreReading(not_tested=REASON_LETTERS[typed])
    if re.fullmatch(r"[0-9]{1,2}", typed) and int(typed) <= 10:
        return ScoreReading(score=int(typed))
    raise ReadingError(f"Type a whole number from 0 to 10, or {_LETTERS}.")


GREATEST_TRIAL = {"kg": Decimal(120), "lb": Decimal(265)}
"""Beyond this a grip trial is taken for a slip of the finger; a limit of our own."""


def read_trial(text: str, unit: str) -> Decimal | None:
    """Return one grip trial in the unit shown, to a tenth; None where nothing was typed."""
    typed = text.strip().replace(",", ".")
    if not typed:
        return None
    if not re.fullmatch(r"[0-9]{1,3}(\.[0-9])?", typed):
        raise ReadingError("Type what the meter shows, with at most one decimal.")
    value = Decimal(typed)
    if value > GREATEST_TRIAL[unit]:
        raise ReadingError(f"A grip is at most {GREATEST_TRIAL[unit]} {unit}. Check the unit.")
    return value


def activity_mean(scores: Sequence[int]) -> Fraction | None:
    """Return the mean of activities scored 0 to 10, exactly; None without any.

    Stratford et al. (1995), Physiotherapy Canada 47:258-263: the score is the mean of the
    patient's own activities.

    >>> activity_mean([3, 4, 2]), float(activity_mean([6, 5, 5]))
    (Fraction(3, 1), 5.333333333333333)
    """
    return Fraction(sum(scores), len(scores)) if scores else None
