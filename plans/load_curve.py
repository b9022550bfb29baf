"""What one step asks of each joint, as a therapist reads it: its peak, and a small curve. Pure.

Estimates, as the moments are (see ``plans.moments``): static, of gravity and a weight, for an
average body of that height and weight.
"""

from dataclasses import dataclass

from patients.motions import MOTIONS, Joint
from plans.catalogue import Exercise, Step
from plans.exercise import Movement, movement_of
from plans.peaks import CurvePoint, PeakMoment
from plans.segments import Body, BodyTaken

WIDTH, HEIGHT, EDGE = 120, 36, 4
MOST_KNOWN = 4000
"""How many loads are kept before all are forgotten."""


@dataclass(frozen=True)
class JointLoad:
    """The peak moment of one joint in a repetition, and its muscle group's curve."""

    peak: PeakMoment
    curve: tuple[CurvePoint, ...]

    @property
    def joint(self) -> str:
        """The joint in words."""
        return self.peak.joint.label

    @property
    def moment(self) -> str:
        """How much, with its unit; to 0.01 below 1 N·m, where 0.1 would hide it."""
        moment_nm = self.peak.moment_nm
        return f"{moment_nm:.1f} N·m" if moment_nm >= 1 else f"{moment_nm:.2f} N·m"

    @property
    def where(self) -> str:
        """At which angle."""
        if self.peak.angle_deg is None:
            return "in this position"
        return f"at {self.peak.angle_deg:.0f}° of {MOTIONS[self.peak.angle_motion].label}"

    @property
    def group(self) -> str:
        """The muscle group, by its motion, and how it works."""
        return f"{MOTIONS[self.peak.group].label}, {self.peak.works}"

    @property
    def changes_sides(self) -> bool:
        """Whether the opposite group has to work in another part of the repetition."""
        least_nm = 0.05 * self.peak.moment_nm
        return any(point.moment_nm < -least_nm for point in self.curve)

    @property
    def words(self) -> str:
        """The curve in words."""
        turned = "; the opposite muscles work in part of it" if self.changes_sides else ""
        return f"{self.joint}: highest {self.moment} {self.where}{turned}"

    @property
    def drawn(self) -> "DrawnCurve":
        """The curve over a repetition: its line, the height of none, and where the peak is."""
        moments = [point.moment_nm for point in self.curve]
        high, low = max(0.0, *moments), min(0.0, *moments)
        last_s = self.curve[-1].at_s or 1.0

        def place(at_s: float, moment_nm: float) -> tuple[str, str]:
            across = EDGE + (WIDTH - 2 * EDGE) * at_s / last_s
            down = EDGE + (HEIGHT - 2 * EDGE) * (high - moment_nm) / ((high - low) or 1.0)
            return f"{across:.1f}", f"{down:.1f}"

        points = " ".join(",".join(place(point.at_s, point.moment_nm)) for point in self.curve)
        peak_x, peak_y = place(self.peak.at_s, self.peak.moment_nm)
        return DrawnCurve(points, place(0, 0)[1], peak_x, peak_y)


@dataclass(frozen=True)
class DrawnCurve:
    """A curve in the units of its picture, as attributes hold them; its template draws it."""

    points: str
    none_y: str
    peak_x: str
    peak_y: str
    width: int = WIDTH
    height: int = HEIGHT
    left: int = EDGE
    right: int = WIDTH - EDGE


@dataclass(frozen=True)
class LoadOf:
    """The loads of one step, from the trunk outwards, and what they were estimated for."""

    is_known: bool
    joints: tuple[JointLoad, ...]
    load_kg: float
    body: BodyTaken
    moved: frozenset[Joint] = frozenset()

    @property
    def largest(self) -> JointLoad | None:
        """The joint with the largest moment: of those moved, or where none is loaded, of all."""
        moved = [each for each in self.joints if each.peak.joint in self.moved]
        return max(moved or self.joints, key=lambda each: each.peak.moment_nm, default=None)

    @property
    def estimated_for(self) -> str:
        """The body and the weight, in words."""
        body = self.body.body
        weight = f", with {self.load_kg:g} kg" if self.load_kg else ", without a weight"
        assumed = f"; {' and '.join(self.body.assumed)} assumed" if self.body.assumed else ""
        return f"{body.stature_m:.2f} m and {body.body_mass_kg:g} kg{assumed}{weight}"


# A step's loads follow from its poses and the body alone, so each is computed once a process.
_known: dict[tuple[str, Body, float], tuple[JointLoad, ...]] = {}


def load_of(exercise: Exercise, step: Step, body: BodyTaken, load_kg: float = 0.0) -> LoadOf:
    """Return what a step asks of each loaded joint; nothing is known of a step without poses."""
    moved = frozenset(MOTIONS[motion].joint for motion in exercise.moves)
    if not step.poses:
        return LoadOf(False, (), load_kg, body, moved)
    key = (repr((exercise.key, exercise.equipment, step)), body.body, load_kg)
    if key not in _known:
        if len(_known) >= MOST_KNOWN:
            _known.clear()
        _known[key] = joint_loads(movement_of(exercise, step), body.body, load_kg)
    return LoadOf(True, _known[key], load_kg, body, moved)


def joint_loads(movement: Movement, body: Body, load_kg: float = 0.0) -> tuple[JointLoad, ...]:
    """Return each loaded joint's peak and its muscle group's curve, from the trunk outwards."""
    peaks = movement.peak_moments(body, load_kg)
    return tuple(JointLoad(peak, movement.curve(peak.group, body, load_kg)) for peak in peaks)
