"""What a key pose may give, as a screen offers it: meanings, units, limits and choices. Pure.

The limits are those that ``plans.envelope`` checks.
"""

from dataclasses import dataclass, replace

from patients.motions import MOTIONS
from plans.arm import COORDINATES, FINGERS
from plans.cameras import VIEWS
from plans.envelope import JOINT_LIMITS_DEG, OWN_LIMITS_DEG
from plans.exercise import HELPS_AT, HOLDS, OTHER_ARM
from plans.hand import SHAPES
from plans.moments import RESTS

SETTING_CHOICES: dict[str, tuple[str, ...]] = {
    "rests": tuple(filter(None, RESTS)),
    "helps_at": HELPS_AT,
    "other": OTHER_ARM,
    "holds": ("nothing", *filter(None, HOLDS)),
    "view": tuple(VIEWS),
}


@dataclass(frozen=True)
class AngleName:
    """A joint angle that a pose may give: what it means, and the limits that are checked."""

    name: str
    meaning: str
    limits: str


def _beyond(motion: str) -> float:
    limit = OWN_LIMITS_DEG.get(motion, MOTIONS[motion].usual_range_deg)
    return 0 if limit is None else limit


def _range(below: str, above: str) -> str:
    low = _beyond(below)
    return f"{-low if low else 0:.0f} to {_beyond(above):.0f}°"


def _bounds(*joints: str) -> str:
    spans = (JOINT_LIMITS_DEG[joint] for joint in joints)
    return ", ".join(f"{low:.0f} to {high:.0f}°" for low, high in spans)


_BLADE = "shoulder_blade_"
_FINGER = AngleName("", "three joints, from the knuckle to the tip", _bounds("mcp", "pip", "dip"))
ANGLES: tuple[AngleName, ...] = (
    AngleName(
        "elevation",
        "upper arm lifted from hanging; below 0 in plane 90: behind the body",
        _range("shoulder_extension", "shoulder_flexion"),
    ),
    AngleName(
        "plane",
        "where it is lifted to: 0 to the side, 90 to the front",
        _range("shoulder_horizontal_abduction", "shoulder_horizontal_adduction"),
    ),
    AngleName(
        "rotation",
        "upper arm turned outwards; below 0 inwards",
        _range("shoulder_internal_rotation", "shoulder_external_rotation"),
    ),
    AngleName(
        "protraction",
        "shoulder to the front; below 0 to the back",
        _range(f"{_BLADE}retraction", f"{_BLADE}protraction"),
    ),
    AngleName(
        "shrug",
        "shoulder up; below 0 down",
        _range(f"{_BLADE}depression", f"{_BLADE}elevation"),
    ),
    AngleName("elbow", "elbow bent", _range("elbow_extension", "elbow_flexion")),
    AngleName(
        "supination",
        "palm up; 0 thumb up; below 0 palm down",
        _range("forearm_pronation", "forearm_supination"),
    ),
    AngleName("wrist", "wrist bent; below 0 bent back", _range("wrist_extension", "wrist_flexion")),
    AngleName(
        "deviation",
        "hand tilted to the thumb's side",
        _range("wrist_ulnar_deviation", "wrist_radial_deviation"),
    ),
    AngleName("hand", "a shape of the hand, by name", ", ".join(SHAPES)),
    replace(_FINGER, name="fingers", meaning=f"all four fingers: {_FINGER.meaning}"),
    *(replace(_FINGER, name=finger) for finger in FINGERS),
    AngleName("spread", "fingers apart", _bounds("spread")),
    AngleName(
        "thumb",
        "out, to the front, turned, and its two joints bent",
        f"{_bounds('thumb_out', 'thumb_front')}, free, {_bounds('thumb_mcp', 'thumb_ip')}",
    ),
    *(
        AngleName(name, "one joint alone", _bounds(joint))
        for name in COORDINATES
        for joint in (name.partition("_")[2] if name.split("_")[0] in FINGERS else name,)
        if joint in JOINT_LIMITS_DEG
    ),
    AngleName("thumb_turn", "thumb turned to face the fingers", "free"),
)
"""Every angle that the screen offers, the larger joints first."""
