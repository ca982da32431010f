"""Coverage: in repeated surveys the interval holds the true RMSE as often as it says."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.accuracy.intervals import plan_freedom, rmse_bounds

SURVEYS = 4000


def coverage(count: int, axis_ratio: float | None, seed: int = 20) -> tuple[float, float]:
    """Return how often the interval and the upper bound hold the true RMSE.

    One axis where the ratio is None, else the plan with sigmas 1 and `axis_ratio`, turned by 30°.
    """
    rng = np.random.default_rng(seed)
    if axis_ratio is None:
        true = 1.0
        errors = rng.standard_normal((SURVEYS, count, 1))
        freedoms = [float(count)] * SURVEYS
    else:
        true = math.hypot(1.0, axis_ratio)
        turn = np.array([[math.cos(0.5236), math.sin(0.5236)], [-math.sin(0.5236), math.cos(0.5236)]])
        errors = rng.standard_normal((SURVEYS, count, 2)) * [1.0, axis_ratio] @ turn
        freedoms = [plan_freedom(plan) for plan in errors]
    found = np.sqrt((errors**2).sum(axis=2).mean(axis=1))
    bounds = [rmse_bounds(value, freedom) for value, freedom in zip(found, freedoms, strict=True)]
    within = [item.interval_m[0] <= true <= item.interval_m[1] for item in bounds]
    return float(np.mean(within)), float(np.mean([true <= item.upper95_m for item in bounds]))


@pytest.mark.parametrize("count", [5, 10, 30])
def test_one_axis_is_covered_at_95_per_cent(count):
    assert_allclose(coverage(count, None), 0.95, rtol=0, atol=0.01)


@pytest.mark.parametrize("count", [5, 10, 30])
@pytest.mark.parametrize("axis_ratio", [1.0, 0.7, 0.5, 0.3])
def test_the_plan_is_never_covered_below_93_and_a_half_per_cent(count, axis_ratio):
    """The freedom of a small round cloud comes out too small, which errs on the safe side."""
    two_sided, upper = coverage(count, axis_ratio)
    assert 0.935 <= two_sided <= 0.98
    assert 0.935 <= upper <= 0.98


def test_a_round_cloud_of_many_points_is_covered_at_95_per_cent():
    assert_allclose(coverage(60, 1.0), 0.95, rtol=0, atol=0.01)


def test_two_n_degrees_of_freedom_would_be_too_sure_of_an_elongated_cloud():
    rng = np.random.default_rng(3)
    errors = rng.standard_normal((SURVEYS, 10, 2)) * [1.0, 0.3]
    found = np.sqrt((errors**2).sum(axis=2).mean(axis=1))
    upper = np.array([rmse_bounds(value, 20).upper95_m for value in found])
    assert (math.hypot(1.0, 0.3) <= upper).mean() < 0.92


def test_an_interval_is_wider_than_needed_where_there_is_a_bias():
    rng = np.random.default_rng(4)
    found = np.sqrt(((rng.standard_normal((SURVEYS, 10)) + 1.0) ** 2).mean(axis=1))
    bounds = [rmse_bounds(value, 10) for value in found]
    within = [item.interval_m[0] <= math.sqrt(2) <= item.interval_m[1] for item in bounds]
    assert np.mean(within) > 0.95


@pytest.mark.parametrize(
    ("plan", "freedom"),
    [
        ([[0.02, 0.01]], 1),
        ([[0.02, 0.01], [-0.04, -0.02], [0.06, 0.03]], 3),
        ([[0.01, 0.0], [0.0, 0.01]], 4),
        ([[0.0, 0.0], [0.0, 0.0]], 2),
    ],
)
def test_the_freedom_lies_between_one_line_and_a_round_cloud(plan, freedom):
    """[Satterthwaite1946]: n for errors along one line, 2n for equal and uncorrelated axes."""
    assert_allclose(plan_freedom(np.array(plan)), freedom, rtol=1e-12, atol=0)


def test_no_freedom_gives_no_bounds():
    bounds = rmse_bounds(0.02, 0)
    assert all(math.isnan(value) for value in (*bounds.interval_m, bounds.lower95_m, bounds.upper95_m))
