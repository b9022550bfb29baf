"""From where a figure is seen, by name. Pure.

A view shows the whole person, head, trunk and arms (``cut``: the picture ends below them), or,
``close``, the hand and forearm. The names are told for the right
arm; a left arm's figure is the mirror image.
"""

from dataclasses import dataclass

from patients.motions import MOTIONS, Joint
from plans.space import Camera


@dataclass(frozen=True)
class View:
    """A camera, whether it looks at the hand from near by, and whether the legs are cut off."""

    camera: Camera
    close: bool = False
    cut: bool = False


VIEWS: dict[str, View] = {
    # Sitting and standing: from the working side, half from the front, from the front, from
    # high in front, and from the front of the other side.
    "side": View(Camera(20, 9)),
    "slant": View(Camera(46, 10)),
    "slant_high": View(Camera(38, 30)),
    "front": View(Camera(74, 8)),
    "front_above": View(Camera(66, 38)),
    "across": View(Camera(112, 8)),
    # The same without the legs, for what would be small beside them.
    "side_cut": View(Camera(20, 9), cut=True),
    "slant_cut": View(Camera(46, 10), cut=True),
    "front_cut": View(Camera(74, 8), cut=True),
    "front_above_cut": View(Camera(76, 30), cut=True),
    # Lying: from the working side, from high above it, from the other side, from the head.
    "beside": View(Camera(10, 20)),
    "beside_high": View(Camera(12, 40)),
    "above": View(Camera(6, 58)),
    "beside_far": View(Camera(168, 20)),
    "from_head": View(Camera(-62, 30)),
    "beside_cut": View(Camera(10, 20), cut=True),
    "beside_high_cut": View(Camera(12, 40), cut=True),
    "above_cut": View(Camera(6, 58), cut=True),
    "from_head_cut": View(Camera(-62, 30), cut=True),
    # Lying on the side: the face is towards the eye; from high above; from nearer the head.
    "facing": View(Camera(-8, 24)),
    "facing_above": View(Camera(-6, 52)),
    "facing_head": View(Camera(44, 20)),
    "facing_above_cut": View(Camera(-6, 52), cut=True),
    "facing_head_cut": View(Camera(44, 20), cut=True),
    # A hand that points up, its palm to the middle: from the thumb's side, and on to the palm.
    "thumb_side": View(Camera(-116, 12), close=True),
    "upright_above": View(Camera(-128, 40), close=True),
    "palm": View(Camera(-158, 10), close=True),
    # A forearm that lies to the front: from its outer side, from ahead, from above, and when the
    # thumb is up, from the palm's side and from the thumb's.
    "forearm_side": View(Camera(14, 14), close=True),
    "forearm_slant": View(Camera(40, 26), close=True),
    "forearm_ahead": View(Camera(62, 20), close=True),
    "forearm_high": View(Camera(34, 42), close=True),
    "forearm_above": View(Camera(22, 56), close=True),
    "forearm_palm": View(Camera(-158, 22), close=True),
    "forearm_palm_high": View(Camera(-158, 46), close=True),
}

DEFAULTS: dict[str, str] = {
    "sitting": "side",
    "standing": "side",
    "sitting_at_table": "slant",
    "lying_back": "beside",
    "lying_side": "facing",
    "leaning_forward": "side",
}

HAND_JOINTS = {Joint.FOREARM, Joint.WRIST, Joint.FINGERS, Joint.THUMB}


def view_words(name: str) -> str:
    """A view's name as people read it.

    >>> view_words("front_above_cut")
    'front above, without the legs'
    """
    return name.replace("_cut", ", without the legs").replace("_", " ")


def view_of(name: str | None, position: str, moves: tuple[str, ...]) -> View:
    """The view named, else the position's own; of the hand where only the hand moves."""
    if name is not None:
        return VIEWS[name]
    joints = {MOTIONS[motion].joint for motion in moves}
    if joints and joints <= HAND_JOINTS:
        return VIEWS["thumb_side" if joints <= {Joint.FINGERS, Joint.THUMB} else "forearm_side"]
    return VIEWS[DEFAULTS[position]]
