"""Precautions as values: a limit on an arm, when it begins, and when it asks for a review. Pure.

Efforts are ordered passive, self-assisted, active, resisted; for a precaution gravity-reduced and a
self-started pendulum count as active and isometric as resisted unless it says otherwise (common
practice, no source).

>>> limit = Limit(key=1, kind=Kind.ANGLE, motion="shoulder_external_rotation", limit_deg=30)
>>> limit.words
'shoulder external rotation no further than 30°'
>>> Limit(key=2, kind=Kind.EFFORT, side=Side.LEFT, joint=Joint.SHOULDER, effort="passive").words
'left shoulder: passive at most'
"""

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from patients.motions import MOTIONS, Joint, Side


class Kind(StrEnum):
    """What a precaution limits."""

    ANGLE = "angle"
    EFFORT = "effort"
    LOAD = "load"
    BEARING = "bearing"
    POSITION = "position"
    TRACTION = "traction"
    TOGETHER = "together"
    ORTHOSIS = "orthosis"

    @property
    def label(self) -> str:
        """The kind in words."""
        return _KIND_LABELS[self]


_KIND_LABELS = {
    Kind.ANGLE: "an angle, up to",
    Kind.EFFORT: "the highest effort",
    Kind.LOAD: "a load, up to",
    Kind.BEARING: "no weight-bearing, leaning or pushing",
    Kind.POSITION: "a position is forbidden",
    Kind.TRACTION: "no hanging or pulling on the arm",
    Kind.TOGETHER: "motions forbidden together",
    Kind.ORTHOSIS: "the orthosis stays on",
}

EFFORTS = {"passive": "passive", "self_assisted": "self-assisted", "active": "active"}
"""What may be the highest effort allowed; above active there is nothing to forbid."""

POSITIONS = {
    "lying_back": "lying on the back",
    "lying_side": "lying on the side",
    "sitting": "sitting",
    "sitting_at_table": "sitting at a table",
    "standing": "standing",
    "leaning_forward": "leaning forward",
}
"""The positions that exercises are done in, by the key that they have in the catalogue."""


@dataclass(frozen=True)
class Beyond:
    """A motion further than an angle: one of those that are forbidden together."""

    motion: str
    beyond_deg: int

    @property
    def words(self) -> str:
        """It in words."""
        return f"{MOTIONS[self.motion].label} beyond {degrees(self.beyond_deg)}"


@dataclass(frozen=True)
class Limit:
    """One precaution's limit.

    It concerns one ``motion``, or all of one ``joint``, or (with neither) the whole arm.
    ``limit_deg`` is signed in the motion's own direction: elbow extension up to -30 stops 30
    degrees short of straight. ``only_when_moved`` keeps an angle only where another person or the
    other hand moves the arm. ``measured_in`` says in words in which pose the angle is measured;
    it is kept in every pose.
    """

    key: int
    kind: Kind
    side: Side = Side.BOTH
    motion: str = ""
    joint: Joint | None = None
    limit_deg: int | None = None
    effort: str = ""
    limit_g: int | None = None
    position: str = ""
    together: tuple[Beyond, ...] = ()
    measured_in: str = ""
    isometric_is_active: bool = False
    only_when_moved: bool = False
    is_hard: bool = True

    def concerns(self, side: Side) -> bool:
        """Whether it is about the arm of that side."""
        return self.side is Side.BOTH or self.side is side

    @property
    def part(self) -> str:
        """What it is about, in words: the motion, the joint or the arm, with its side."""
        if self.motion:
            name = MOTIONS[self.motion].label
        else:
            name = self.joint.label if self.joint else "arm"
        return name if self.side is Side.BOTH else f"{self.side.value} {name}"

    @property
    def words(self) -> str:
        """The limit in a few words."""
        match self.kind:
            case Kind.ANGLE:
                moved = " when moved by another or the other hand" if self.only_when_moved else ""
                measured = f" ({self.measured_in})" if self.measured_in else ""
                limit = degrees(self.limit_deg or 0)
                return f"{self.part} no further than {limit}{moved}{measured}"
            case Kind.EFFORT:
                isometric = " (isometric counts as active)" if self.isometric_is_active else ""
                return f"{self.part}: {EFFORTS[self.effort]} at most{isometric}"
            case Kind.LOAD:
                load = f"at most {self.limit_g / 1000:g} kg" if self.limit_g else "no load"
                return f"{self.part}: {load}"
            case Kind.BEARING:
                return f"{self.part}: no weight-bearing, leaning or pushing"
            case Kind.POSITION:
                return f"not {POSITIONS[self.position]}"
            case Kind.TRACTION:
                return f"{self.part}: no hanging or pulling"
            case Kind.TOGETHER:
                side = "" if self.side is Side.BOTH else f"{self.side.value}: "
                return f"{side}not together: {', '.join(each.words for each in self.together)}"
            case Kind.ORTHOSIS:
                side = "" if self.side is Side.BOTH else f"{self.side.value} "
                return f"{side}orthosis stays on"


def degrees(angle_deg: float) -> str:
    """Return an angle with a true minus sign.

    >>> degrees(-30)
    '−30°'
    """
    return f"{angle_deg:.0f}°".replace("-", "−")


class Standing(StrEnum):
    """Where a precaution stands on a day."""

    COMING = "coming"
    HOLDS = "holds"
    REVIEW = "review"
    LIFTED = "lifted"


@dataclass(frozen=True)
class Span:
    """From when a precaution holds, and when it asks to be looked at again.

    Weeks count from ``week_0``, the day of the operation, else of the injury; without it they
    can't be counted, and the precaution holds. It holds until a person lifts it: ``until`` only
    asks for a review, and who keeps it says until when (``kept_until``).
    """

    from_day: date | None = None
    from_week: int | None = None
    until_day: date | None = None
    until_week: int | None = None
    week_0: date | None = None
    kept_until: date | None = None

    @property
    def first_day(self) -> date | None:
        """The day from which it holds; None where it can't be told and so holds already."""
        return self._day(self.from_day, self.from_week)

    @property
    def review_day(self) -> date | None:
        """The day from which it asks to be lifted or kept; None where it can't be told."""
        return self.kept_until or self._day(self.until_day, self.until_week)

    def _day(self, day: date | None, week: int | None) -> date | None:
        if week is None:
            return day
        return self.week_0 + timedelta(weeks=week) if self.week_0 else None

    def standing(self, today: date, *, is_lifted: bool = False) -> Standing:
        """Return where it stands.

        >>> six_weeks = Span(from_week=0, until_week=6, week_0=date(2026, 3, 2))
        >>> six_weeks.standing(date(2026, 4, 12)).value, six_weeks.standing(date(2026, 4, 13)).value
        ('holds', 'review')
        """
        if is_lifted:
            return Standing.LIFTED
        if self.first_day and today < self.first_day:
            return Standing.COMING
        if self.review_day and today >= self.review_day:
            return Standing.REVIEW
        return Standing.HOLDS
