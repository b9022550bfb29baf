"""Grip of a hand against published norms by age, sex and side. Pure.

Source: Mathiowetz V, Kashman N, Volland G, Weber K, Dowe M, Rogers S (1985), Grip and pinch
strength: normative data for adults, Archives of Physical Medicine and Rehabilitation 66:69-74:
310 men and 328 women; pounds; mean of three trials. The table as a dynamometer's manual reprints
it (manualshive.com, 12-0247, page 5).

>>> norm = grip_norm(age_years=22, sex="male", side=Side.RIGHT)
>>> round(norm.mean_kg, 3)
Decimal('54.885')
>>> standing = grip_standing([Decimal("98")] * 3, "lb", age_years=25, sex="male", side=Side.RIGHT)
>>> round(standing.z, 3)
Decimal('-0.991')
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from patients.motions import Side

KG_PER_LB = Decimal("0.45359237")
"""Exactly: the international pound (agreement of 1959)."""

TRIALS = 3
"""The norms are means of three trials; a mean of fewer is not held against them."""

# Age from; then mean and standard deviation (pounds): men right and left, women right and left.
_ROWS = """
20 121.0 20.6 104.5 21.8 70.4 14.5 61.0 13.1
25 120.8 23.0 110.5 16.2 74.5 13.9 63.5 12.2
30 121.8 22.4 110.4 21.7 78.7 19.2 68.0 17.7
35 119.7 24.0 112.9 21.7 74.1 10.8 66.3 11.7
40 116.8 20.7 112.8 18.7 70.4 13.5 62.3 13.8
45 109.9 23.0 100.8 22.8 62.2 15.1 56.0 12.7
50 113.6 18.1 101.9 17.0 65.8 11.6 57.3 10.7
55 101.1 26.7 83.2 23.4 57.3 12.5 47.3 11.9
60 89.7 20.4 76.8 20.3 55.1 10.1 45.7 10.1
65 91.1 20.6 76.8 19.8 49.6 9.7 41.0 8.2
70 75.3 21.5 64.8 18.1 49.6 11.7 41.5 10.2
75 65.7 21.0 55.0 17.0 42.6 11.0 37.6 8.9
"""
_COLUMNS = (
    ("male", Side.RIGHT),
    ("male", Side.LEFT),
    ("female", Side.RIGHT),
    ("female", Side.LEFT),
)
OLDEST_GROUP = 75


@dataclass(frozen=True)
class GripNorm:
    """One cell of the table: people of an age, sex and side."""

    age_from: int
    sex: str
    side: Side
    mean_lb: Decimal
    sd_lb: Decimal

    @property
    def mean_kg(self) -> Decimal:
        """The mean in kilograms."""
        return self.mean_lb * KG_PER_LB

    @property
    def sd_kg(self) -> Decimal:
        """The standard deviation in kilograms."""
        return self.sd_lb * KG_PER_LB

    @property
    def people(self) -> str:
        """Whose norm it is, in words: "women of 60 to 64, left hand"."""
        who = "men" if self.sex == "male" else "women"
        ages = "75 and over" if self.age_from == OLDEST_GROUP else self._ages
        return f"{who} of {ages}, {self.side} hand"

    @property
    def _ages(self) -> str:
        return f"{self.age_from} to {self.age_from + 4}"


def _norms() -> dict[tuple[int, str, Side], GripNorm]:
    norms = {}
    for row in _ROWS.strip().splitlines():
        age, *numbers = row.split()
        pairs = zip(numbers[::2], numbers[1::2], strict=True)
        for (sex, side), (mean, sd) in zip(_COLUMNS, pairs, strict=True):
            norms[int(age), sex, side] = GripNorm(int(age), sex, side, Decimal(mean), Decimal(sd))
    return norms


NORMS = _norms()
"""Every cell of the table by the first year of its age group, sex and side."""


@dataclass(frozen=True)
class GripStanding:
    """The mean of a hand's trials (kg), and where it stands among people alike.

    ``norm`` is None where there is none: fewer than three trials, younger than 20, or a sex not
    stated; ``why_no_norm`` says which.
    """

    trials_kg: tuple[Decimal, ...]
    norm: GripNorm | None
    why_no_norm: str = ""

    @property
    def mean_kg(self) -> Decimal:
        """The mean of the trials made."""
        return sum(self.trials_kg, Decimal(0)) / len(self.trials_kg)

    @property
    def mean_lb(self) -> Decimal:
        """The same in pounds."""
        return self.mean_kg / KG_PER_LB

    @property
    def z(self) -> Decimal | None:
        """Standard deviations above (or, negative, below) the norm's mean."""
        return (self.mean_kg - self.norm.mean_kg) / self.norm.sd_kg if self.norm else None

    @property
    def percent(self) -> Decimal | None:
        """Share of the norm's mean."""
        return 100 * self.mean_kg / self.norm.mean_kg if self.norm else None

    @property
    def words(self) -> str:
        """Where it stands, in words."""
        if self.norm is None or self.z is None:
            return f"No norm: {self.why_no_norm}."
        apart = round(abs(self.z), 1)
        where = "below" if self.z < 0 else "above"
        stands = "At the mean" if not apart else f"{apart} SD {where} the mean"
        return (
            f"{stands} of {self.norm.people} "
            f"({self.norm.mean_kg:.1f} kg, SD {self.norm.sd_kg:.1f})."
        )


def to_kg(value: Decimal, unit: str) -> Decimal:
    """Return a mass shown in ``kg`` or ``lb`` in kilograms, exactly.

    >>> to_kg(Decimal("121.0"), "lb")
    Decimal('54.884676770')
    """
    return value * KG_PER_LB if unit == "lb" else value


def grip_norm(*, age_years: int, sex: str, side: Side) -> GripNorm | None:
    """Return the norm of people of that age (whole years), sex ("male", "female") and side."""
    age_from = min(age_years - age_years % 5, OLDEST_GROUP)
    return NORMS.get((age_from, sex, side))


def grip_standing(
    trials: Sequence[Decimal], unit: str, *, age_years: int, sex: str, side: Side
) -> GripStanding:
    """Return a hand's mean and standing; ValueError without a trial."""
    if not trials:
        raise ValueError("a hand without a trial has no mean")
    norm = grip_norm(age_years=age_years, sex=sex, side=side)
    why = ""
    if len(trials) < TRIALS:
        norm, why = None, "the norms are means of three trials"
    elif norm is None:
        young = age_years < min(age for age, _, _ in NORMS)
        why = "there is none below 20 years" if young else "it needs the patient's sex"
    return GripStanding(tuple(to_kg(trial, unit) for trial in trials), norm, why)
