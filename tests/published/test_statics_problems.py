"""Published statics problems of the arm, solved with the arm model's gravity moments.

* College Physics (Urone & Hinrichs, OpenStax), section 9.6, example 9.4, and chapter 9, exercise
  "biceps muscle example with the angle": a forearm with a book in the hand. Given: forearm 2.50 kg
  at 16.0 cm, book 4.00 kg at 38.0 cm, biceps 4.00 cm from the elbow. Published: 470 N level (value
  from memory; 470.4 computed), 407 N with the elbow at 120 degrees. The second keeps the muscle
  square to the forearm, so it checks the load's lever only.
* The same book's shoulder problem: upper arm 2.63 kg at 13.0 cm, forearm and hand 2.44 kg at
  43.0 cm, weight 2.50 kg at 60.0 cm, deltoid at 15.0 cm and 14.0 degrees. Published: 781 N.
* Giancoli, Physics, chapter 9, problems 34 and 35: arm 3.3 kg at 24 cm, deltoid at 12 cm and 15
  degrees. Published: 250 N, joint force 240 N at 7.6 degrees below the level; with 8.5 kg at 52 cm
  1644 N.
* Giancoli, chapter 9, problem 37: forearm and hand 2.0 kg at 15 cm, 25 kg at 35 cm, biceps 5.0 cm,
  elbow at 105 degrees. Published: 1800 N (two figures).

The books use g = 9.80; moments here are scaled from 9.81. Level moments not printed in the books
are computed from their inputs.
"""

import math

import numpy as np
import pytest

from patients.motions import Joint
from plans.arm import SITTING, angles, chain
from plans.moments import AXES, GRAVITY_M_S2, Load, demands_nm
from plans.segments import Arm, Segment

BOOKS_G = 9.80
NO_LOAD = Load()
NOTHING = Segment(length_m=0.0, mass_kg=0.0, centre_m=0.0)


def moment_nm(arm, joint, *, load=NO_LOAD, **pose):
    """The largest moment about any axis of ``joint``, at the books' g."""
    placed = chain(angles(pose), SITTING, arm)
    row = demands_nm(placed, arm, load=load)[0]
    about = [abs(value) for axis, value in zip(AXES, row, strict=True) if axis.joint is joint]
    return max(about) * BOOKS_G / GRAVITY_M_S2


def muscle_n(load_nm, *, lever_m, angle_deg=90.0):
    """Force of a muscle that pulls at ``angle_deg`` to the bone, ``lever_m`` from the joint."""
    return load_nm / (lever_m * math.sin(math.radians(angle_deg)))


# A weight is held in the hand's centre of mass: 38 cm from the elbow is 36 cm of forearm and 2 on.
FOREARM_AND_BOOK = Arm(
    upper_arm=Segment(0.30, 0.0, 0.15),
    forearm=Segment(0.36, 2.50, 0.16),
    hand=Segment(0.19, 0.0, 0.02),
)


def test_biceps_of_a_level_forearm_with_a_book():
    load_nm = moment_nm(FOREARM_AND_BOOK, Joint.ELBOW, load=Load(4.00), elbow=90)
    assert load_nm == pytest.approx(18.816, abs=0.001)
    assert muscle_n(load_nm, lever_m=0.04) == pytest.approx(470, abs=1)
    joint_n = muscle_n(load_nm, lever_m=0.04) - 6.50 * BOOKS_G
    assert joint_n == pytest.approx(407, abs=1)


def test_biceps_with_the_elbow_at_120_degrees_between_the_bones():
    load_nm = moment_nm(FOREARM_AND_BOOK, Joint.ELBOW, load=Load(4.00), elbow=60)
    assert muscle_n(load_nm, lever_m=0.04) == pytest.approx(407, abs=1)


def test_deltoid_of_a_level_arm_with_a_hand_weight():
    arm = Arm(
        upper_arm=Segment(0.30, 2.63, 0.13),
        forearm=Segment(0.25, 2.44, 0.13),
        hand=Segment(0.19, 0.0, 0.05),
    )
    load_nm = moment_nm(arm, Joint.SHOULDER, load=Load(2.50), elevation=90, plane=0)
    assert load_nm == pytest.approx(28.333, abs=0.001)
    assert muscle_n(load_nm, lever_m=0.15, angle_deg=14.0) == pytest.approx(781, abs=1)


WHOLE_ARM = Arm(upper_arm=Segment(0.50, 3.3, 0.24), forearm=NOTHING, hand=Segment(0.19, 0.0, 0.02))


def test_deltoid_and_joint_force_of_a_level_arm():
    load_nm = moment_nm(WHOLE_ARM, Joint.SHOULDER, elevation=90, plane=0)
    assert load_nm == pytest.approx(7.7616, abs=0.001)
    deltoid_n = muscle_n(load_nm, lever_m=0.12, angle_deg=15)
    assert deltoid_n == pytest.approx(250, abs=1)
    along_n = deltoid_n * math.cos(math.radians(15))
    down_n = deltoid_n * math.sin(math.radians(15)) - 3.3 * BOOKS_G
    assert math.hypot(along_n, down_n) == pytest.approx(240, abs=5)  # two figures
    assert math.degrees(math.atan2(down_n, along_n)) == pytest.approx(7.6, abs=0.1)


def test_deltoid_of_a_level_arm_with_a_heavy_weight():
    load_nm = moment_nm(WHOLE_ARM, Joint.SHOULDER, load=Load(8.5), elevation=90, plane=0)
    assert load_nm == pytest.approx(51.08, abs=0.005)
    assert muscle_n(load_nm, lever_m=0.12, angle_deg=15) == pytest.approx(1644, abs=1)


def test_biceps_of_a_level_forearm_with_a_heavy_weight():
    arm = Arm(
        upper_arm=Segment(0.30, 0.0, 0.15),
        forearm=Segment(0.33, 2.0, 0.15),
        hand=Segment(0.19, 0.0, 0.02),
    )
    load_nm = moment_nm(arm, Joint.ELBOW, load=Load(25.0), elbow=90)
    assert load_nm == pytest.approx(88.69, abs=0.01)
    assert muscle_n(load_nm, lever_m=0.05, angle_deg=105) == pytest.approx(1836, abs=1)
    assert round(muscle_n(load_nm, lever_m=0.05, angle_deg=105), -2) == 1800


def test_levers_shrink_with_the_sine_of_the_angle_from_hanging():
    level_nm = moment_nm(WHOLE_ARM, Joint.SHOULDER, elevation=90)
    for angle_deg in (15, 30, 60, 120, 165):
        share = moment_nm(WHOLE_ARM, Joint.SHOULDER, elevation=angle_deg) / level_nm
        assert share == pytest.approx(np.sin(np.radians(angle_deg)))
