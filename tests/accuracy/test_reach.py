"""Points needed to prove a limit, and what is proved now."""

import numpy as np
import pytest

from geoqa.accuracy.reach import chance_of_proof, points_needed, reach
from geoqa.accuracy.statistics import summarise
from tests.accuracy.residual_sets import residual_set
from tests.standards.cases import zero_mean


@pytest.mark.parametrize(
    ("ratio", "height", "plan"), [(0.5, 9, 5), (0.6, 14, 7), (0.7, 27, 14), (0.8, 66, 33), (0.9, 286, 143)]
)
def test_points_needed_with_a_chance_of_80_per_cent(ratio, height, plan):
    """Worked out outside geoqa from the chi-square distribution: one value a height, two a plan point."""
    assert (points_needed(ratio), points_needed(ratio, 2.0)) == (height, plan)


@pytest.mark.parametrize("ratio", [0.6, 0.8])
def test_the_chance_is_that_of_a_simulation(ratio):
    generator = np.random.default_rng(4)
    squares = (generator.normal(size=(20_000, 10)) ** 2).sum(axis=1)
    # χ² with 10 degrees of freedom at 5 % is 3.940, [NIST-EH].
    proved = ratio**2 * squares / 3.940 <= 1
    assert chance_of_proof(ratio, 10) == pytest.approx(proved.mean(), abs=0.01)


def of(rmse_m, limit_m=None, count=10):
    return reach(summarise(residual_set(up_m=zero_mean(count, rmse_m))).up, limit_m)


def test_the_best_class_proved_and_the_next_one():
    """Ten points of 0.03 m prove 0.0478 m: the 5 cm class, and not the 4 cm class."""
    found = of(0.03)
    assert found.proved_m == pytest.approx(0.0478, abs=5e-5)
    assert (found.class_m, found.next_class_m) == (0.05, 0.04)
    # The ratio is 0.75: between the 27 points of 0.7 and the 66 of 0.8.
    assert 17 < found.more_points < 56
    assert "prove an RMSE of 4.8 cm or more; of the usual classes the 5 cm one." in found.sentence


def test_a_limit_below_the_rmse_is_out_of_reach():
    found = of(0.03, 0.029)
    assert found.more_points_for_limit is None
    assert "The limit asked for is not within reach" in found.sentence


def test_a_limit_that_is_proved_asks_for_no_more():
    found = of(0.03, 0.06)
    assert found.more_points_for_limit is None
    assert "limit asked for" not in found.sentence


def test_few_points_reach_nothing_and_say_how_many_it_takes():
    """A ratio of 0.5 takes 9 heights: 8 more than one."""
    found = of(0.01, 0.02, count=1)
    assert (found.class_m, found.more_points_for_limit) == (None, 8)
    assert "1 checkpoint cannot prove anything" in found.sentence
    assert "about 8 more points" in found.sentence


def test_no_point_reaches_nothing():
    assert reach(summarise(residual_set(np.full((1, 2), np.nan))).horizontal, 0.05) is None


def test_beyond_the_usual_classes_none_is_named():
    found = of(5.0)
    assert (found.class_m, found.next_class_m) == (None, 1.0)
    assert "The 100 cm class is not within reach" in found.sentence
