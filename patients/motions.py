"""Joints, motions, sides and efforts of the arm and hand: the trade's words, as values.

Pure: imports nothing but the standard library. The keys are what files, forms and the database
hold; the labels are what people read.

>>> MOTIONS["shoulder_flexion"].joint
<Joint.SHOULDER: 'shoulder'>
>>> MOTIONS["forearm_supination"].opposite
'forearm_pronation'
>>> Effort.from_key("gravity_reduced") < Effort.ACTIVE
True
"""

from dataclasses import dataclass
from enum import IntEnum, StrEnum


class Side(StrEnum):
    """The side of the body that a line, a measure or a precaution is about."""

    LEFT = "left"
    RIGHT = "right"
    BOTH = "both"

    @property
    def parts(self) -> tuple["Side", ...]:
        """The single sides it stands for: 'both' counts once on each."""
        return (Side.LEFT, Side.RIGHT) if self is Side.BOTH else (self,)


class Joint(StrEnum):
    """A joint, or a group of joints that the trade counts as one, from the trunk outwards."""

    SHOULDER_BLADE = "shoulder_blade"
    SHOULDER = "shoulder"
    ELBOW = "elbow"
    FOREARM = "forearm"
    WRIST = "wrist"
    FINGERS = "fingers"
    THUMB = "thumb"

    @property
    def label(self) -> str:
        """The joint in words."""
        return self.value.replace("_", " ")


class Effort(IntEnum):
    """The steps of a ladder in order of effort, passive lowest, resisted highest."""

    PASSIVE = 1
    SELF_ASSISTED = 2
    GRAVITY_REDUCED = 3
    ACTIVE = 4
    RESISTED = 5

    @property
    def key(self) -> str:
        """The word that files and the database hold."""
        return self.name.lower()

    @property
    def label(self) -> str:
        """The step in words, as the trade writes it."""
        return self.key.replace("_", "-")

    @classmethod
    def from_key(cls, key: str) -> "Effort":
        """Return the effort that ``key`` names; KeyError if it names none."""
        return cls[key.upper()]


@dataclass(frozen=True)
class Motion:
    """A named movement of a joint, one way.

    ``usual_range_deg`` is the AAOS value where there is one (Norkin & White, Measurement of Joint
    Motion, table A.1, and AAOS finger and thumb values), else None. ``reject_beyond_deg`` is a
    plausibility limit of our own for typed measures.
    """

    key: str
    joint: Joint
    label: str
    opposite: str | None
    usual_range_deg: int | None
    reject_beyond_deg: int


def _motions() -> dict[str, Motion]:
    rows: tuple[tuple[Joint, str, str | None, int | None, int], ...] = (
        (Joint.SHOULDER_BLADE, "protraction", "retraction", None, 60),
        (Joint.SHOULDER_BLADE, "retraction", "protraction", None, 60),
        (Joint.SHOULDER_BLADE, "elevation", "depression", None, 60),
        (Joint.SHOULDER_BLADE, "depression", "elevation", None, 60),
        (Joint.SHOULDER, "flexion", "extension", 180, 200),
        (Joint.SHOULDER, "extension", "flexion", 60, 100),
        (Joint.SHOULDER, "abduction", "adduction", 180, 200),
        (Joint.SHOULDER, "adduction", "abduction", None, 100),
        (Joint.SHOULDER, "horizontal adduction", "horizontal abduction", None, 150),
        (Joint.SHOULDER, "horizontal abduction", "horizontal adduction", None, 100),
        (Joint.SHOULDER, "external rotation", "internal rotation", 90, 130),
        (Joint.SHOULDER, "internal rotation", "external rotation", 70, 130),
        (Joint.ELBOW, "flexion", "extension", 150, 165),
        (Joint.ELBOW, "extension", "flexion", 0, 20),
        (Joint.FOREARM, "supination", "pronation", 80, 110),
        (Joint.FOREARM, "pronation", "supination", 80, 110),
        (Joint.WRIST, "flexion", "extension", 80, 110),
        (Joint.WRIST, "extension", "flexion", 70, 110),
        (Joint.WRIST, "radial deviation", "ulnar deviation", 20, 60),
        (Joint.WRIST, "ulnar deviation", "radial deviation", 30, 60),
        (Joint.FINGERS, "flexion", "extension", None, 120),
        (Joint.FINGERS, "extension", "flexion", None, 60),
        (Joint.FINGERS, "abduction", "adduction", None, 60),
        (Joint.FINGERS, "adduction", "abduction", None, 60),
        (Joint.THUMB, "flexion", "extension", None, 100),
        (Joint.THUMB, "extension", "flexion", None, 60),
        (Joint.THUMB, "abduction", "adduction", 70, 90),
        (Joint.THUMB, "adduction", "abduction", None, 60),
        (Joint.THUMB, "opposition", None, None, 90),
    )
    # The joint's word in a key and a label: fingers move one finger at a time.
    word = {joint: joint.value for joint in Joint} | {Joint.FINGERS: "finger"}
    motions = {}
    for joint, name, opposite, usual_range_deg, reject_beyond_deg in rows:
        key = f"{word[joint]}_{name.replace(' ', '_')}"
        motions[key] = Motion(
            key=key,
            joint=joint,
            label=f"{word[joint].replace('_', ' ')} {name}",
            opposite=f"{word[joint]}_{opposite.replace(' ', '_')}" if opposite else None,
            usual_range_deg=usual_range_deg,
            reject_beyond_deg=reject_beyond_deg,
        )
    return motions


MOTIONS = _motions()
"""Every motion by its key, joints from the trunk outwards."""
