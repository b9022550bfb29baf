"""What precautions close on the assessment form: measures that would themselves break them. Pure.

Only hard precautions close anything. A highest effort of passive or self-assisted closes active
range and strength; one of active, or a load of nothing, closes strength above 3, which is tested
by resisting (common practice, no source). A limit of angle closes nothing: what is measured short
of it is wanted.

>>> from patients.motions import Joint
>>> cuff = Limit(key=1, kind=Kind.EFFORT, side=Side.LEFT, joint=Joint.SHOULDER, effort="passive")
>>> closed([cuff], "shoulder_flexion", Side.LEFT).active
'left shoulder: passive at most'
>>> closed([cuff], "elbow_flexion", Side.LEFT)
Closed(active='', resisted='')
"""

from collections.abc import Iterable
from dataclasses import dataclass

from patients.motions import MOTIONS, Side
from patients.precautions import Kind, Limit


@dataclass(frozen=True)
class Closed:
    """Why active movement (and so any strength) and why resisting are closed; empty if not."""

    active: str = ""
    resisted: str = ""


def closed(limits: Iterable[Limit], motion: str, side: Side) -> Closed:
    """Return what the precautions in force close of one motion and side."""
    concerning = [limit for limit in limits if _concerns(limit, motion, side)]
    active = (each.words for each in concerning if _stops_active(each))
    resisted = (each.words for each in concerning if _stops_resisting(each))
    return Closed(next(active, ""), next(resisted, ""))


def closed_grip(limits: Iterable[Limit], side: Side) -> str:
    """Return why squeezing as hard as one can is closed; empty if not."""
    limits = list(limits)
    for motion in ("finger_flexion", "thumb_flexion", "wrist_extension"):
        if why := closed(limits, motion, side).resisted:
            return why
    return ""


def _concerns(limit: Limit, motion: str, side: Side) -> bool:
    if not limit.is_hard or not limit.concerns(side):
        return False
    if limit.motion:
        return limit.motion == motion
    return limit.joint is None or limit.joint is MOTIONS[motion].joint


def _stops_active(limit: Limit) -> bool:
    return limit.kind is Kind.EFFORT and limit.effort != "active"


def _stops_resisting(limit: Limit) -> bool:
    return limit.kind is Kind.EFFORT or (limit.kind is Kind.LOAD and not limit.limit_g)
