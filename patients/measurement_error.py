"""When two measures differ by more than measuring itself can explain. Pure.

The limits are the clinic's, in fixtures/measurement_error.toml, each with its source. A change
that does not pass its limit is not called one.

>>> rules = read_rules(Path("fixtures/measurement_error.toml"))
>>> one = Taking(rater="Ann", method=Method.GONIOMETER)
>>> str(range_change(rules, "elbow_flexion", Measured(110, one), Measured(120, one)))
'10° more'
>>> two = Taking(rater="Bob", method=Method.GONIOMETER)
>>> str(range_change(rules, "elbow_flexion", Measured(110, one), Measured(120, two)))
'within measurement error'
"""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from patients.assessment import Grade, Method, activity_mean
from patients.motions import MOTIONS, Joint

WITHIN = "within measurement error"

LEAST_ACTIVITIES = 3
"""A mean needs three activities: Stratford et al. (1995) ask for three to five."""


class RulesError(ValueError):
    """Rules that can't be read; the message names the file and the entry."""


@dataclass(frozen=True)
class RangeLimit:
    """Degrees that a change of range must exceed."""

    same_rater_deg: int
    different_raters_deg: int
    painful_different_raters_deg: int
    source: str


@dataclass(frozen=True)
class ErrorRules:
    """The clinic's limits; ranges and grades must exceed theirs, the others reach them."""

    ranges: Mapping[Joint, RangeLimit]
    two_raters_methods: frozenset[Method]
    grade_same_places: int
    grade_different_places: int
    activities_mean: Fraction
    activities_one: int
    pain_points: int
    grip_dominant_kg: Decimal
    grip_other_kg: Decimal
    sources: Mapping[str, str]


@dataclass(frozen=True)
class Taking:
    """How a measure was taken: by whom (None: not known), with what, in which position."""

    rater: str | None
    method: Method
    measured_in: str = ""


@dataclass(frozen=True)
class Measured:
    """A range (degrees) and how it was taken; ``painful`` where pain was met at its end."""

    value_deg: int
    taking: Taking
    painful: bool = False


@dataclass(frozen=True)
class Change:
    """The difference between two measures, and whether it may be called a change.

    ``ground`` says why that limit was taken; ``words`` tell it when it passes, ``otherwise`` when
    not. ``str`` says which.
    """

    size: Fraction
    limit: Fraction
    is_beyond: bool
    ground: str
    words: str
    otherwise: str = WITHIN

    def __str__(self) -> str:
        return self.words if self.is_beyond else self.otherwise

    @property
    def direction(self) -> int:
        """1 for more, -1 for less, 0 within measurement error."""
        return (1 if self.size > 0 else -1) if self.is_beyond else 0


def read_rules(path: Path) -> ErrorRules:
    """Return the rules of a file; RulesError naming what is missing or wrong."""
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        ranges = {
            Joint(joint): RangeLimit(
                same_rater_deg=_limit(row["same_rater_deg"]),
                different_raters_deg=_limit(row["different_raters_deg"]),
                painful_different_raters_deg=_limit(
                    row.get("painful_different_raters_deg", row["different_raters_deg"])
                ),
                source=_source(row),
            )
            for row in table["range"]
            for joint in row["joints"]
        }
        parts = ("grade", "activities", "pain", "grip")
        rules = ErrorRules(
            ranges=ranges,
            two_raters_methods=frozenset(map(Method, table["two_raters_methods"])),
            grade_same_places=_limit(table["grade"]["same_rater_places"]),
            grade_different_places=_limit(table["grade"]["different_raters_places"]),
            activities_mean=Fraction(str(table["activities"]["mean_points"])),
            activities_one=_limit(table["activities"]["one_points"]),
            pain_points=_limit(table["pain"]["points"]),
            grip_dominant_kg=Decimal(str(table["grip"]["dominant_kg"])),
            grip_other_kg=Decimal(str(table["grip"]["other_kg"])),
            sources={part: _source(table[part]) for part in parts},
        )
    except KeyError as error:
        raise RulesError(f"{path.name}: {error.args[0]} is missing") from None
    except (ValueError, ArithmeticError, TypeError) as error:
        raise RulesError(f"{path.name}: {error}") from None
    missing = [joint.label for joint in Joint if joint not in ranges]
    if missing:
        raise RulesError(f"{path.name}: range: nothing is said of {', '.join(missing)}")
    return rules


def _limit(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise ValueError(f"a limit is a whole number from 0 up, not {value!r}")
    return value


def _source(row: Mapping[str, object]) -> str:
    source = row["source"]
    if not isinstance(source, str) or not source.strip():
        raise ValueError("a source must be said, if only 'common practice, no source'")
    return source


def is_one_rater(rules: ErrorRules, before: Taking, after: Taking) -> bool:
    """Whether two measures count as one rater's: known, the same, and measured alike."""
    positions = {before.measured_in, after.measured_in} - {""}
    return (
        before.rater is not None
        and before.rater == after.rater
        and before.method is after.method
        and before.method not in rules.two_raters_methods
        and len(positions) < 2
    )


def range_change(rules: ErrorRules, motion: str, before: Measured, after: Measured) -> Change:
    """Return the change of a range. A painful joint counts as such if either measure hurt."""
    limit = rules.ranges[MOTIONS[motion].joint]
    if is_one_rater(rules, before.taking, after.taking):
        limit_deg, ground = limit.same_rater_deg, "one rater"
    elif before.painful or after.painful:
        limit_deg, ground = limit.painful_different_raters_deg, "two raters or ways, painful"
    else:
        limit_deg, ground = limit.different_raters_deg, "two raters or ways"
    size = Fraction(after.value_deg - before.value_deg)
    beyond = abs(size) > limit_deg
    return Change(size, Fraction(limit_deg), beyond, ground, _more_or_less(size, "°"))


def grade_change(rules: ErrorRules, before: Grade, after: Grade, *, one_rater: bool) -> Change:
    """Return the change of a grade. Its size is in places among the grades: order, not amount."""
    places = after.rank - before.rank
    limit = rules.grade_same_places if one_rater else rules.grade_different_places
    return Change(
        size=Fraction(places),
        limit=Fraction(limit),
        is_beyond=abs(places) > limit,
        ground="one rater" if one_rater else "two raters or ways",
        words=f"{'stronger' if places > 0 else 'weaker'}, was {before.label}",
    )


def grip_change(
    rules: ErrorRules, before_kg: Decimal, after_kg: Decimal, *, dominant: bool | None
) -> Change:
    """Return the change of mean grip; where the hand's dominance is unknown the larger limit.

    Its limit is what matters to patients, for want of a measurement error: told as such.
    """
    limits = [rules.grip_dominant_kg] if dominant is not False else []
    limits += [rules.grip_other_kg] if dominant is not True else []
    size, limit = Fraction(after_kg - before_kg), Fraction(max(limits))
    words = _more_or_less(size, " kg")
    return Change(
        size=size,
        limit=limit,
        is_beyond=abs(size) >= limit,
        ground="least important difference",
        words=words,
        otherwise="below the least important difference",
    )


def pain_change(rules: ErrorRules, before: int, after: int) -> Change:
    """Return the change of a pain score."""
    return _points_change(before, after, Fraction(rules.pain_points), "pain")


def activity_change(rules: ErrorRules, before: int, after: int) -> Change:
    """Return the change of one activity's score."""
    return _points_change(before, after, Fraction(rules.activities_one), "one activity")


def activities_change(
    rules: ErrorRules, before: Sequence[int], after: Sequence[int]
) -> Change | None:
    """Return the change of the mean of the same activities, in the same order, scored twice.

    None where fewer than three were scored both times.

    >>> rules = read_rules(Path("fixtures/measurement_error.toml"))
    >>> str(activities_change(rules, [3, 4, 2], [6, 5, 5]))
    '2.3 points more'
    """
    if len(before) != len(after):
        raise ValueError("the same activities must be scored both times")
    old, new = activity_mean(before), activity_mean(after)
    if old is None or new is None or len(before) < LEAST_ACTIVITIES:
        return None
    return _points_change(old, new, rules.activities_mean, "mean of activities")


def _points_change(
    before: Fraction | int, after: Fraction | int, limit: Fraction, ground: str
) -> Change:
    size = Fraction(after - before)
    words = _more_or_less(size, " point" if abs(size) == 1 else " points")
    return Change(size, limit, abs(size) >= limit, ground, words)


def _more_or_less(size: Fraction, unit: str) -> str:
    whole = size.denominator == 1
    number = str(abs(size)) if whole else f"{float(abs(size)):.1f}"
    return f"{number}{unit} {'more' if size > 0 else 'less'}"
