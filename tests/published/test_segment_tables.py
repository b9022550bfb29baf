"""Segment masses, centres of mass and lengths against the published tables.

Winter (after Dempster), masses as fractions of body mass and centres of mass as fractions of the
segment's length from its upper and lower end, as given in the open data file
BSP_DempsterWinter.txt of the BMC course of the Federal University of ABC, and in a university
teaching sheet adapted from Winter 2005. Lengths: Drillis & Contini 1966, in Winter.

The moments of the straight arm are computed from those fractions (stature 1.75 m, 80 kg, weight at
0.506 of the hand, g 9.81), independently of the model, to three decimals.
"""

import pytest

from patients.motions import Joint
from plans import segments
from plans.arm import SITTING, angles, chain
from plans.moments import AXES, Load, demands_nm, reference_nm
from plans.segments import Body

WINTER = {  # mass, centre from the upper end, centre from the lower end
    "hand": (0.006, 0.506, 0.494),
    "forearm": (0.016, 0.430, 0.570),
    "upper arm": (0.028, 0.436, 0.564),
    "forearm and hand": (0.022, 0.682, 0.318),
    "total arm": (0.050, 0.530, 0.470),
}


def test_the_model_holds_the_published_fractions():
    ours = {
        "hand": (segments.HAND_MASS, segments.HAND_CENTRE),
        "forearm": (segments.FOREARM_MASS, segments.FOREARM_CENTRE),
        "upper arm": (segments.UPPER_ARM_MASS, segments.UPPER_ARM_CENTRE),
    }
    assert {name: WINTER[name][:2] for name in ours} == ours
    assert (segments.UPPER_ARM_LENGTH, segments.FOREARM_LENGTH, segments.HAND_LENGTH) == (
        0.186,
        0.146,
        0.108,
    )


def test_the_published_fractions_agree_with_each_other_and_with_the_model():
    forearm_and_hand = segments.FOREARM_MASS + segments.HAND_MASS
    assert forearm_and_hand == pytest.approx(WINTER["forearm and hand"][0], abs=1e-9)
    assert segments.UPPER_ARM_MASS + forearm_and_hand == pytest.approx(
        WINTER["total arm"][0], abs=1e-9
    )
    for _, upper, lower in WINTER.values():
        assert upper + lower == pytest.approx(1, abs=1e-9)


def test_lengths_of_a_person_of_175_cm():
    body = Body(stature_m=1.75, body_mass_kg=80)
    lengths_m = (body.upper_arm.length_m, body.forearm.length_m, body.hand.length_m)
    assert lengths_m == pytest.approx((0.3255, 0.2555, 0.1890), abs=5e-5)


@pytest.mark.parametrize(
    ("weight_kg", "shoulder_nm", "elbow_nm", "wrist_nm"),
    [
        (0, 11.771, 3.033, 0.450),
        (1, 18.409, 6.478, 1.388),
        (2, 25.047, 9.922, 2.327),
        (5, 44.960, 20.256, 5.141),
    ],
)
def test_moments_of_the_straight_arm(weight_kg, shoulder_nm, elbow_nm, wrist_nm):
    body = Body(stature_m=1.75, body_mass_kg=80)
    arm = chain(angles(elevation=90), SITTING, body)
    row = demands_nm(arm, body.arm, load=Load(weight_kg))[0]
    largest = {
        joint: max(abs(v) for a, v in zip(AXES, row, strict=True) if a.joint is joint)
        for joint in (Joint.SHOULDER, Joint.ELBOW, Joint.WRIST)
    }
    assert list(largest.values()) == pytest.approx([shoulder_nm, elbow_nm, wrist_nm], abs=5e-4)
    if weight_kg == 0:
        assert reference_nm(body)[Joint.SHOULDER] == pytest.approx(11.771, abs=5e-4)
