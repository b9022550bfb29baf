"""F. Salaffi et al. 2004, Minimal clinically important changes in chronic musculoskeletal pain
intensity measured on a numerical rating scale, European Journal of Pain 8:283-291 (825 people;
abstract): 1 point or 15 % is "slightly better", 2 points or 33 % "much better"."""

from logs.pain import PUBLISHED_DIFFERENCES, Verdict, pain_change

SLIGHTLY_BETTER, MUCH_BETTER = (each for each in PUBLISHED_DIFFERENCES if "Salaffi" in each.source)


def test_the_differences_shown_are_the_papers():
    assert (SLIGHTLY_BETTER.points, SLIGHTLY_BETTER.percent) == (1, 15)
    assert (MUCH_BETTER.points, MUCH_BETTER.percent) == (2, 33)


def test_from_6_to_4_is_much_better():
    assert pain_change(6, 4, MUCH_BETTER).verdict is Verdict.IMPROVED


def test_from_8_to_6_meets_only_the_points_of_much_better():
    assert pain_change(8, 6, MUCH_BETTER).verdict is Verdict.POSSIBLE
    assert pain_change(8, 6, SLIGHTLY_BETTER).verdict is Verdict.IMPROVED


def test_less_than_a_point_and_15_per_cent_is_neither():
    assert pain_change(8, 7.5, SLIGHTLY_BETTER).verdict is Verdict.UNCHANGED
