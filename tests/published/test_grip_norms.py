"""Mathiowetz et al. 1985, Arch Phys Med Rehabil 66:69-74 (PMID 3970660).

310 men and 328 women, pounds, mean of three trials. The table is the paper's, read in the
reprint of a dynamometer's manual (manualshive.com/en/manual/fei/baseline-12-0247, page 5), typed
here apart from the one in the code and laid out the other way.
"""

from decimal import Decimal
from math import sqrt

import pytest

from patients.grip_norms import KG_PER_LB, NORMS, grip_norm, grip_standing, to_kg
from patients.motions import Side

AGES = [20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75]
MEANS = {
    ("male", Side.RIGHT): "121.0 120.8 121.8 119.7 116.8 109.9 113.6 101.1 89.7 91.1 75.3 65.7",
    ("male", Side.LEFT): "104.5 110.5 110.4 112.9 112.8 100.8 101.9 83.2 76.8 76.8 64.8 55.0",
    ("female", Side.RIGHT): "70.4 74.5 78.7 74.1 70.4 62.2 65.8 57.3 55.1 49.6 49.6 42.6",
    ("female", Side.LEFT): "61.0 63.5 68.0 66.3 62.3 56.0 57.3 47.3 45.7 41.0 41.5 37.6",
}
SDS = {
    ("male", Side.RIGHT): "20.6 23.0 22.4 24.0 20.7 23.0 18.1 26.7 20.4 20.6 21.5 21.0",
    ("male", Side.LEFT): "21.8 16.2 21.7 21.7 18.7 22.8 17.0 23.4 20.3 19.8 18.1 17.0",
    ("female", Side.RIGHT): "14.5 13.9 19.2 10.8 13.5 15.1 11.6 12.5 10.1 9.7 11.7 11.0",
    ("female", Side.LEFT): "13.1 12.2 17.7 11.7 13.8 12.7 10.7 11.9 10.1 8.2 10.2 8.9",
}


@pytest.mark.parametrize(("sex", "side"), MEANS)
def test_every_cell_of_the_table(sex, side):
    means, sds = MEANS[sex, side].split(), SDS[sex, side].split()
    for age, mean, sd in zip(AGES, means, sds, strict=True):
        norm = grip_norm(age_years=age, sex=sex, side=side)
        assert (norm.mean_lb, norm.sd_lb) == (Decimal(mean), Decimal(sd)), (age, sex, side)
    assert len(NORMS) == 4 * len(AGES)


def test_the_papers_figure_for_all_men_lies_within_its_age_groups():
    # The printed row for all men: right 104.3 (28.3). Twelve groups of near equal size must give
    # about that mean and, with the spread between the groups added, about that deviation.
    groups = [NORMS[age, "male", Side.RIGHT] for age in AGES]
    mean = sum(float(norm.mean_lb) for norm in groups) / 12
    within = sum(float(norm.sd_lb) ** 2 for norm in groups) / 12
    between = sum((float(norm.mean_lb) - mean) ** 2 for norm in groups) / 12
    assert mean == pytest.approx(104.3, abs=1.0)
    assert sqrt(within + between) == pytest.approx(28.3, abs=1.0)


def test_pounds_are_kilograms_exactly():
    assert Decimal("0.45359237") == KG_PER_LB  # the international pound, 1959
    assert to_kg(Decimal("121.0"), "lb") == Decimal("54.88467677")
    norm = grip_norm(age_years=80, sex="female", side=Side.LEFT)
    assert (norm.mean_lb, norm.sd_lb) == (Decimal("37.6"), Decimal("8.9"))
    assert round(norm.mean_kg, 3) == Decimal("17.055")


def test_the_worked_z():
    # A man of 25, right hand, 98 lb: (98 - 120.8) / 23.0 = -0.991.
    standing = grip_standing(
        [Decimal(98), Decimal(97), Decimal(99)],
        "lb",
        age_years=25,
        sex="male",
        side=Side.RIGHT,
    )
    assert round(standing.z, 3) == Decimal("-0.991")
    assert round(standing.percent, 1) == Decimal("81.1")
    assert (
        standing.words == "1.0 SD below the mean of men of 25 to 29, right hand (54.8 kg, SD 10.4)."
    )


@pytest.mark.parametrize(
    ("age", "age_from"), [(20, 20), (24, 20), (25, 25), (59, 55), (74, 70), (75, 75), (101, 75)]
)
def test_age_groups_meet_without_a_gap(age, age_from):
    assert grip_norm(age_years=age, sex="male", side=Side.LEFT).age_from == age_from


@pytest.mark.parametrize(
    ("age", "sex", "trials", "why"),
    [
        (19, "male", 3, "none below 20"),
        (30, "unknown", 3, "needs the patient's sex"),
        (30, "male", 2, "means of three trials"),
    ],
)
def test_without_its_ground_there_is_no_norm(age, sex, trials, why):
    standing = grip_standing([Decimal(30)] * trials, "kg", age_years=age, sex=sex, side=Side.RIGHT)
    assert standing.z is None
    assert standing.percent is None
    assert why in standing.words
    assert standing.mean_kg == 30


def test_a_hand_without_a_trial_has_no_mean():
    with pytest.raises(ValueError, match="without a trial"):
        grip_standing([], "kg", age_years=30, sex="male", side=Side.RIGHT)
