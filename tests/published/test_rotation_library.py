"""Frames of the arm against an independent rotation library: scipy.spatial.transform.

The shoulder after Wu et al. 2005 (J Biomech 38:981-992): turns about Y, X and Y again, each about
the axes as already turned; then the elbow about Z, the forearm about Y, the wrist about X and Z.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plans.arm import POSITIONS, angles, chain
from plans.segments import Body

pytestmark = pytest.mark.reference
Rotation = pytest.importorskip("scipy.spatial.transform").Rotation


@given(
    st.sampled_from(sorted(POSITIONS)),
    st.fixed_dictionaries(
        {
            "elevation": st.floats(-60, 180),
            "plane": st.floats(-180, 180),
            "rotation": st.floats(-90, 90),
            "elbow": st.floats(0, 150),
            "supination": st.floats(-80, 80),
            "wrist": st.floats(-70, 80),
            "deviation": st.floats(-30, 20),
        }
    ),
)
def test_frames_are_those_of_the_library(position, pose):
    trunk = Rotation.from_matrix(POSITIONS[position])
    arm = chain(angles(pose), POSITIONS[position], Body())
    internal_deg = -pose["rotation"] - pose["plane"]  # the third angle of the ISB
    upper = trunk * Rotation.from_euler(
        "YXY", [pose["plane"], -pose["elevation"], internal_deg], degrees=True
    )
    turned = upper * Rotation.from_euler("ZY", [pose["elbow"], -pose["supination"]], degrees=True)
    hand = turned * Rotation.from_euler("XZ", [pose["wrist"], pose["deviation"]], degrees=True)
    assert arm.upper_frame[0] == pytest.approx(upper.as_matrix(), abs=1e-12)
    assert arm.turned_frame[0] == pytest.approx(turned.as_matrix(), abs=1e-12)
    assert arm.hand_frame[0] == pytest.approx(hand.as_matrix(), abs=1e-12)
