"""The largest moments of a movement, muscle group by muscle group, and their curves. Pure.

Estimates, as the moments are (see ``plans.moments``).
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from patients.motions import MOTIONS, Joint
from plans.arm import Floats
from plans.moments import AXES, groups

Angles = Mapping[str, tuple[Floats, Floats]]

LEAST_NM, LEAST_SHARE = 0.05, 0.05
"""Moments below this, or below this share of the straight arm's, are told as none."""


@dataclass(frozen=True)
class PeakMoment:
    """The largest moment (N·m) that one muscle group must supply, and where in the movement.

    ``angle_deg`` is the joint's angle there, told as ``angle_motion`` so that it is not below 0:
    an extensor may have to work hardest in flexion. None where the pose has no such angle, as the
    abduction of an arm held to the front. ``share_percent`` compares it with the bare arm held
    straight out in sitting: the part of it that the group has to hold, so of the shoulder's
    rotators the forearm. None for the forearm's own turning, which has no such measure.
    ``shortens`` and ``lengthens`` say what the group does while it works.
    """

    joint: Joint
    group: str
    moment_nm: float
    angle_motion: str
    angle_deg: float | None
    at_s: float
    share_percent: int | None
    shortens: bool
    lengthens: bool

    @property
    def works(self) -> str:
        """How the group works: shortening, lengthening, both, or holding."""
        if self.shortens and self.lengthens:
            return "shortening and lengthening"
        return "shortening" if self.shortens else "lengthening" if self.lengthens else "holding"


@dataclass(frozen=True)
class CurvePoint:
    """One point of a joint's load over a repetition, for drawing."""

    at_s: float
    angle_deg: float | None
    moment_nm: float


def group_peaks(
    times_s: Floats,
    rows: Floats,
    demand: Floats,
    angles: Angles,
    reference: Mapping[Joint, float],
) -> tuple[PeakMoment, ...]:
    """The peak of each muscle group that has to work, from the trunk outwards.

    ``rows`` are joint angles at ``times_s``, ``demand`` the moments there, a column for each of
    ``AXES``; ``angles`` the clinical angles there; ``reference`` the straight arm's moments.
    """
    peaks: dict[str, PeakMoment] = {}
    for column, axis in enumerate(AXES):
        ways = groups(rows, column)
        moment = demand[:, column]
        # What turns the upper arm about its length is the forearm, as at the elbow.
        share = reference.get(Joint.ELBOW if axis.name == "rotation" else axis.joint)
        least = max(LEAST_NM, LEAST_SHARE * (share or 0.0))
        needed = [up if m > 0 else down for (up, down), m in zip(ways, moment, strict=True)]
        for group in dict.fromkeys(needed):
            works = np.array([g == group for g in needed]) & (np.abs(moment) >= least)
            if not works.any():
                continue
            size = np.where(works, np.abs(moment), 0.0)
            top = int(size.argmax())
            motion = angles[group][1]
            speed = np.gradient(motion, times_s) if times_s[-1] > times_s[0] else motion * 0
            here_deg = _known(motion[top])
            opposite = MOTIONS[group].opposite
            behind = here_deg is not None and here_deg < 0 and opposite is not None
            peak = PeakMoment(
                joint=axis.joint,
                group=group,
                moment_nm=float(size[top]),
                angle_motion=str(opposite) if behind else group,
                angle_deg=None if here_deg is None else abs(here_deg),
                at_s=float(times_s[top]),
                share_percent=round(100 * float(size[top]) / share) if share else None,
                shortens=bool((speed[works] > 1).any()),
                lengthens=bool((speed[works] < -1).any()),
            )
            if group not in peaks or peaks[group].moment_nm < peak.moment_nm:
                peaks[group] = peak
    return tuple(peaks.values())


def group_curve(
    group: str, times_s: Floats, rows: Floats, demand: Floats, motion: Floats
) -> tuple[CurvePoint, ...]:
    """The moment of one muscle group over time; below 0 its opposite has to work."""
    total = np.zeros(len(times_s))
    for column in range(len(AXES)):
        for row, (up, down) in enumerate(groups(rows, column)):
            total[row] += demand[row, column] * ((group == up) - (group == down))
    return tuple(
        CurvePoint(float(t), _known(a), round(float(m), 3))
        for t, a, m in zip(times_s, motion, total, strict=True)
    )


def _known(angle_deg: float) -> float | None:
    return None if np.isnan(angle_deg) else round(float(angle_deg), 1) + 0.0
