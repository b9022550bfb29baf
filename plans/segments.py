"""Segments of the arm: lengths, masses and centres of mass from stature and body mass. Pure.

Everything here is an estimate for an average adult; people differ by a good tenth and more.

Lengths are fractions of stature after Drillis & Contini (1966), as used with Winter, Biomechanics
and Motor Control of Human Movement (2009), table 4.1. The two largest, upper arm and forearm, were
checked in several independent uses of the table, not in the 1966 report itself.
Masses and centres of mass are Winter's (after Dempster): fractions of body mass, and of the
segment's length from its upper end.

The hand: Winter's centre of mass lies at 0.506 of wrist to knuckle II. It is laid here at 0.506 of
the whole hand (wrist to fingertip), which overstates its lever by some 4 cm and its moment at the
shoulder by about 0.2 N·m, and is close to where the middle of a held weight lies.

>>> Body(stature_m=1.75, body_mass_kg=80).upper_arm
Segment(length_m=0.3255, mass_kg=2.24, centre_m=0.141918)
"""

from dataclasses import dataclass

UPPER_ARM_LENGTH, FOREARM_LENGTH, HAND_LENGTH = 0.186, 0.146, 0.108
"""Fractions of stature."""

UPPER_ARM_MASS, FOREARM_MASS, HAND_MASS = 0.028, 0.016, 0.006
"""Fractions of body mass."""

UPPER_ARM_CENTRE, FOREARM_CENTRE, HAND_CENTRE = 0.436, 0.430, 0.506
"""Centres of mass: fractions of the segment's length from its upper end."""

SHOULDER_HALF_WIDTH = 0.129
"""Mid-line to shoulder joint, fraction of stature (Drillis & Contini 1966, in Winter)."""

TRUNK_HEIGHT = 0.288
"""Hip to shoulder: 0.818 less 0.530 of stature (Drillis & Contini 1966, in Winter)."""

CLAVICLE_START = 0.015
"""Mid-line to the breastbone end of the collar bone, fraction of stature; common practice."""

DEFAULT_STATURE_M, DEFAULT_MASS_KG = 1.70, 70.0
"""The adult assumed where height and weight are not on record; common practice, no source."""


@dataclass(frozen=True)
class Segment:
    """One rigid piece of the arm; ``centre_m`` is the centre of mass from its upper end."""

    length_m: float
    mass_kg: float
    centre_m: float


@dataclass(frozen=True)
class Arm:
    """The three segments of an arm, and where its shoulder lies from the mid-line and the hip."""

    upper_arm: Segment
    forearm: Segment
    hand: Segment
    half_width_m: float = SHOULDER_HALF_WIDTH * DEFAULT_STATURE_M
    trunk_m: float = TRUNK_HEIGHT * DEFAULT_STATURE_M
    clavicle_start_m: float = CLAVICLE_START * DEFAULT_STATURE_M


def _segment(length: float, mass: float, centre: float, body: "Body") -> Segment:
    length_m = length * body.stature_m
    return Segment(
        length_m=round(length_m, 6),
        mass_kg=round(mass * body.body_mass_kg, 6),
        centre_m=round(centre * length_m, 6),
    )


@dataclass(frozen=True)
class Body:
    """A person as far as the arm's load depends on it: stature (m) and body mass (kg).

    ValueError where a value can't be an adult's or a child's of school age.
    """

    stature_m: float = DEFAULT_STATURE_M
    body_mass_kg: float = DEFAULT_MASS_KG

    def __post_init__(self) -> None:
        if not 0.9 <= self.stature_m <= 2.4:
            raise ValueError(f"stature must be 0.9 to 2.4 m, not {self.stature_m}")
        if not 12 <= self.body_mass_kg <= 350:
            raise ValueError(f"body mass must be 12 to 350 kg, not {self.body_mass_kg}")

    @property
    def upper_arm(self) -> Segment:
        """Shoulder to elbow."""
        return _segment(UPPER_ARM_LENGTH, UPPER_ARM_MASS, UPPER_ARM_CENTRE, self)

    @property
    def forearm(self) -> Segment:
        """Elbow to wrist."""
        return _segment(FOREARM_LENGTH, FOREARM_MASS, FOREARM_CENTRE, self)

    @property
    def hand(self) -> Segment:
        """Wrist to fingertip."""
        return _segment(HAND_LENGTH, HAND_MASS, HAND_CENTRE, self)

    @property
    def arm(self) -> Arm:
        """The whole arm."""
        return Arm(
            upper_arm=self.upper_arm,
            forearm=self.forearm,
            hand=self.hand,
            half_width_m=SHOULDER_HALF_WIDTH * self.stature_m,
            trunk_m=TRUNK_HEIGHT * self.stature_m,
            clavicle_start_m=CLAVICLE_START * self.stature_m,
        )


@dataclass(frozen=True, slots=True)
class BodyTaken:
    """The body that loads are estimated for; ``assumed`` names what was not on record."""

    body: Body
    assumed: tuple[str, ...]


def body_taken(stature_cm: float | None, body_mass_kg: float | None) -> BodyTaken:
    """Return a patient's body; the usual adult's height or weight where one is not on record.

    >>> taken = body_taken(None, 64)
    >>> taken.body.stature_m, taken.body.body_mass_kg, taken.assumed
    (1.7, 64, ('height 1.70 m',))
    """
    assumed = []
    if stature_cm is None or not 90 <= stature_cm <= 240:
        stature_cm = 100 * DEFAULT_STATURE_M
        assumed.append(f"height {DEFAULT_STATURE_M:.2f} m")
    if body_mass_kg is None or not 12 <= body_mass_kg <= 350:
        body_mass_kg = DEFAULT_MASS_KG
        assumed.append(f"weight {DEFAULT_MASS_KG:.0f} kg")
    return BodyTaken(Body(stature_cm / 100, body_mass_kg), tuple(assumed))
