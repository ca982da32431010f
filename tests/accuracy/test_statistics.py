import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.accuracy.statistics import component_statistics, radial_statistics, summarise, summarise_by
from geoqa.records.results import Use, UseReason
from tests.accuracy.residual_sets import NAN, residual_set


def test_the_radial_rmse_adds_the_axes_and_does_not_halve_them():
    """[NSSDA1998], section 3-A: RMSE_r = sqrt(RMSE_x² + RMSE_y²)."""
    part = radial_statistics(np.array([[0.03, 0.04], [-0.03, -0.04]]))
    assert_allclose([part.rmse_m, part.max_abs_m], [0.05, 0.05], rtol=1e-12, atol=0)


def test_the_rmse_keeps_the_mean_and_the_standard_deviation_divides_by_n_minus_1():
    part = component_statistics("up", np.array([0.01, 0.03]))
    assert_allclose(part.rmse_m, math.sqrt(0.0005), rtol=1e-12, atol=0)
    assert_allclose(part.std_m, 0.01 * math.sqrt(2), rtol=1e-12, atol=0)
    assert_allclose(part.mean_m, 0.02, rtol=1e-12, atol=0)


def test_no_point_has_no_figure():
    found = summarise(residual_set(np.full((2, 2), NAN), [NAN, NAN]))
    for part in found.components:
        assert part.count == 0
        figures = (part.rmse_m, part.mean_m, part.std_m, part.max_abs_m, part.rmse_upper95_m)
        assert all(math.isnan(value) for value in (*figures, *part.rmse_interval_m))


def test_one_point_has_an_rmse_with_its_interval_and_no_spread():
    """Chi-square with one degree of freedom: 2.5 % lie below 0.000982, 97.5 % below 5.0239.

    [NIST-EH], table of the chi-square distribution.
    """
    part = component_statistics("up", np.array([-0.02]))
    assert (part.count, part.rmse_m, part.mean_m, part.median_m) == (1, 0.02, -0.02, -0.02)
    assert math.isnan(part.std_m)
    assert math.isnan(part.nmad_m)
    assert_allclose(part.rmse_interval_m[1], 0.02 / math.sqrt(0.000982), rtol=3e-4, atol=0)
    assert_allclose(part.rmse_interval_m[0], 0.02 / math.sqrt(5.0239), rtol=3e-4, atol=0)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_few_points_give_wide_bounds_in_the_right_order(count):
    plan = np.array([[0.03, 0.01], [-0.01, 0.02], [0.0, -0.02]])[:count]
    for part in summarise(residual_set(plan, plan[:, 0])).components:
        low, high = part.rmse_interval_m
        ordered = [low, part.rmse_lower95_m, part.rmse_m, part.rmse_upper95_m, high]
        assert ordered == sorted(ordered)
        if part.rmse_m > 0:
            assert high > 1.9 * part.rmse_m


def test_the_bounds_of_the_plan_follow_the_shape_of_the_cloud():
    """For five points 1.5931 if round, 2.0893 along one line: tests/published/small_sample.toml."""
    angle = 2 * np.pi * np.arange(5) / 5
    round_cloud = radial_statistics(0.02 * np.column_stack([np.cos(angle), np.sin(angle)]))
    line = radial_statistics(0.02 * np.array([[0.6, 0.8]] * 5))
    assert_allclose(round_cloud.rmse_upper95_m, 0.02 * 1.5931, rtol=0, atol=0.02 * 5e-5)
    assert_allclose(line.rmse_upper95_m, 0.02 * 2.0893, rtol=0, atol=0.02 * 5e-5)


def test_residuals_of_zero_have_an_rmse_of_zero():
    found = summarise(residual_set(np.zeros((3, 2)), np.zeros(3)))
    for part in found.components:
        assert (part.rmse_m, part.rmse_interval_m, part.rmse_upper95_m) == (0.0, (0.0, 0.0), 0.0)


def test_only_points_that_count_are_summarised():
    residuals = residual_set([[0.01, 0.0], [0.5, 0.0]], [0.02, 0.9], not_vertical=[None, UseReason.SLOPE])
    object.__setattr__(residuals, "horizontal", Use([True, False], (None, UseReason.SUSPECT)))
    found = summarise(residuals)
    assert (found.east.count, found.up.count) == (1, 1)
    assert_allclose([found.east.max_abs_m, found.up.max_abs_m], [0.01, 0.02], rtol=1e-12, atol=0)
    everything = summarise_by(residuals)["all points"]["all"]
    assert (everything.east.count, everything.up.count) == (2, 2)


def test_plan_and_height_count_for_themselves():
    found = summarise(residual_set([[0.01, 0.0], [NAN, NAN]], [NAN, 0.02]))
    assert (found.horizontal.count, found.up.count) == (1, 1)
    assert_allclose(found.up.rmse_m, 0.02, rtol=1e-12, atol=0)


def test_vegetated_points_stand_in_their_group_and_nowhere_else():
    residuals = residual_set(
        np.zeros((4, 2)),
        [0.01, 0.20, 0.30, 0.02],
        not_vertical=[None, UseReason.VEGETATED, UseReason.SLOPE, None],
        groups={
            "cover": ("hard", "vegetated", "vegetated", None),
            "session": ("A", "A", "A", "B"),
            "role": ("check",) * 4,
        },
    )
    found = summarise_by(residuals)
    assert set(found["cover"]) == {"hard", "vegetated"}
    assert_allclose(found["cover"]["vegetated"].up.rmse_m, 0.20, rtol=1e-12, atol=0)
    assert found["cover"]["vegetated"].up.count == 1
    assert found["session"]["A"].up.count == 1
    assert found["role"]["check"].up.count == 2
    assert found["role"]["check"].east.count == 4
    assert found["all points"]["all"].up.count == 4


def test_control_points_stand_in_their_role_and_not_among_the_covers():
    residuals = residual_set(
        [[0.01, 0.0], [0.02, 0.0]],
        [0.01, 0.02],
        not_vertical=[None, UseReason.ROLE_CONTROL],
        groups={"cover": ("hard", "hard"), "session": (None, None), "role": ("check", "control")},
    )
    object.__setattr__(residuals, "horizontal", Use([True, False], (None, UseReason.ROLE_CONTROL)))
    found = summarise_by(residuals)
    assert found["role"]["control"].up.count == 1
    assert found["role"]["control"].east.count == 1
    assert found["cover"]["hard"].up.count == 1
    assert found["session"] == {}
