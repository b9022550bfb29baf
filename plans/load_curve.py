"""What one step asks of each joint, as a therapist reads it: its peak, and a small curve. Pure.

Estimates, as the moments are (see ``plans.moments``): static, of gravity and a weight, for an
average body of that height and weight.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from patients.motions import MOTIONS, Joint
from plans.catalogue import Exercise, Step
from plans.exercise import Movement
from plans.peaks import CurvePoint, PeakMoment
from plans.segments import Body, BodyTaken
from plans.stopped import Stop, line_movement

WIDTH, HEIGHT, EDGE = 120, 36, 4
MOST_KNOWN = 4000
"""How many loads are kept before all are forgotten."""


@dataclass(frozen=True)
class JointLoad:
    """The peak moment of one muscle group in a repetition, and its curve.

    ``is_trained``: its motion is one of the exercise's own; else it only carries the arm, as the
    shoulder's flexors carry a bent forearm while the exercise turns it.
    """

    peak: PeakMoment
    curve: tuple[CurvePoint, ...]
    is_trained: bool = True

    @property
    def joint(self) -> str:
        """The joint in words."""
        return self.peak.joint.label

    @property
    def motion(self) -> str:
        """The muscle group in words, by its motion."""
        return MOTIONS[self.peak.group].label

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
    def works(self) -> str:
        """How the group works, and of one that is not trained that it carries the arm."""
        return self.peak.works if self.is_trained else f"carrying the arm, {self.peak.works}"

    @property
    def changes_sides(self) -> bool:
        """Whether the opposite group has to work in another part of the repetition."""
        least_nm = 0.05 * self.peak.moment_nm
        return any(point.moment_nm < -least_nm for point in self.curve)

    @property
    def words(self) -> str:
        """The curve in words."""
        turned = "; the opposite muscles work in part of it" if self.changes_sides else ""
        return f"{self.motion}: highest {self.moment} {self.where}{turned}"

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
    """The loads of one step, from the trunk outwards, and what they were estimated for.

    A joint has its largest, and where that only carries the arm, the largest trained one too.
    """

    is_known: bool
    joints: tuple[JointLoad, ...]
    load_kg: float
    body: BodyTaken
    moved: frozenset[Joint] = frozenset()

    @property
    def first(self) -> JointLoad | None:
        """What is named first: of the groups of the exercise's own motions the most loaded."""
        return _largest(each for each in self.joints if each.is_trained)

    @property
    def carrying(self) -> JointLoad | None:
        """What is named second, where it has more to hold: the group that carries the arm.

        Of the joints moved, or where none of them is loaded, of all.
        """
        carry = [each for each in self.joints if not each.is_trained]
        largest = _largest(each for each in carry if each.peak.joint in self.moved)
        if self.first is None:
            return largest or _largest(carry)
        is_more = largest and largest.peak.moment_nm > self.first.peak.moment_nm
        return largest if is_more else None

    @property
    def estimated_for(self) -> str:
        """The body and the weight, in words."""
        body = self.body.body
        weight = f", with {self.load_kg:g} kg" if self.load_kg else ", without a weight"
        assumed = f"; {' and '.join(self.body.assumed)} assumed" if self.body.assumed else ""
        return f"{body.stature_m:.2f} m and {body.body_mass_kg:g} kg{assumed}{weight}"


def _largest(loads: Iterable[JointLoad]) -> JointLoad | None:
    return max(loads, key=lambda each: each.peak.moment_nm, default=None)


# A step's loads follow from its poses and the body alone, so each is computed once a process.
_known: dict[tuple[str, Body, float, Stop | None], tuple[JointLoad, ...]] = {}


def load_of(
    exercise: Exercise,
    step: Step,
    body: BodyTaken,
    load_kg: float = 0.0,
    *,
    stop: Stop | None = None,
) -> LoadOf:
    """Return what a step, up to a stop, asks of each loaded joint; nothing without poses."""
    moved = frozenset(MOTIONS[motion].joint for motion in exercise.moves)
    if not step.poses:
        return LoadOf(False, (), load_kg, body, moved)
    key = (repr((exercise.key, exercise.equipment, step)), body.body, load_kg, stop)
    if key not in _known:
        if len(_known) >= MOST_KNOWN:
            _known.clear()
        movement = line_movement(exercise, step, stop)
        _known[key] = joint_loads(movement, body.body, load_kg)
    return LoadOf(True, _known[key], load_kg, body, moved)


def joint_loads(movement: Movement, body: Body, load_kg: float = 0.0) -> tuple[JointLoad, ...]:
    """Return the loads of a movement and their curves, from the trunk outwards.

    Of each joint the largest; where that group is none of the movement's own motions, before it
    the largest one that is, if it is loaded at all.
    """
    peaks = movement.group_peaks(body, load_kg)
    trained = set(movement.moves)
    shown: list[PeakMoment] = []
    for joint in dict.fromkeys(peak.joint for peak in peaks):
        here = sorted((p for p in peaks if p.joint is joint), key=lambda p: -p.moment_nm)
        own = [peak for peak in here if peak.group in trained]
        shown += dict.fromkeys((*own[:1], here[0]))
    return tuple(
        JointLoad(
            peak,
            movement.curve(peak.group, body, load_kg),
            is_trained=peak.group in trained,
        )
        for peak in shown
    )
