"""J. T. Farrar et al. 2001, Clinical importance of changes in chronic pain intensity measured on
an 11-point numerical pain rating scale, Pain 94:149-158 (https://pubmed.ncbi.nlm.nih.gov/11690728):
about 2 points, or about 30 %, less pain is clinically important. The cases are ours."""

import pytest

from logs.pain import USUAL_DIFFERENCE, Verdict, pain_change


def test_the_default_is_the_papers():
    assert (USUAL_DIFFERENCE.points, USUAL_DIFFERENCE.percent) == (2.0, 30.0)
    assert "Farrar" in USUAL_DIFFERENCE.source


def test_from_6_to_4_meets_points_and_per_cent():
    change = pain_change(6, 4)
    assert change.points == -2
    assert change.percent == pytest.approx(-33.3, abs=0.1)
    assert change.verdict is Verdict.IMPROVED


def test_from_8_to_6_meets_points_only():
    change = pain_change(8, 6)
    assert (change.points, change.percent) == (-2, -25)
    assert change.verdict is Verdict.POSSIBLE
