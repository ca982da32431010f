"""Laws that hold for any residuals, without a reference."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.testing import assert_allclose

from geoqa.accuracy.influence import rmse_without, shares
from geoqa.accuracy.residuals import form_residuals
from geoqa.accuracy.statistics import component_statistics, summarise
from geoqa.units import LinearUnit
from tests.accuracy.residual_sets import measured, residual_set

LENGTH = st.floats(-10, 10).map(lambda value: round(value, 4))
COLUMN = arrays(float, st.integers(2, 40), elements=LENGTH)
TABLE = st.integers(1, 30).flatmap(lambda count: arrays(float, (count, 3), elements=LENGTH))

SITE_M = [512_000.0, 5_403_000.0, 240.0]


def of(table):
    return summarise(residual_set(table[:, :2], table[:, 2]))


@settings(deadline=None, max_examples=60)
@given(COLUMN)
def test_mean_square_is_spread_plus_mean(values):
    """n·RMSE² = (n − 1)·std² + n·mean²."""
    part, count = component_statistics("up", values), len(values)
    spread = (count - 1) * part.std_m**2 + count * part.mean_m**2
    assert_allclose(count * part.rmse_m**2, spread, rtol=1e-9, atol=1e-12)


@settings(deadline=None, max_examples=60)
@given(TABLE, st.randoms(use_true_random=False))
def test_the_order_of_the_points_changes_nothing(table, random):
    order = list(range(len(table)))
    random.shuffle(order)
    for before, after in zip(of(table).components, of(table[order]).components, strict=True):
        assert_allclose(after.rmse_m, before.rmse_m, rtol=1e-12, atol=1e-15)
        assert_allclose(after.rmse_interval_m, before.rmse_interval_m, rtol=1e-9, atol=1e-15)
        assert_allclose(after.nmad_m, before.nmad_m, rtol=1e-12, atol=1e-15)
        assert after.max_abs_m == before.max_abs_m


@settings(deadline=None, max_examples=40)
@given(TABLE, st.randoms(use_true_random=False))
def test_the_order_of_the_points_changes_no_quantile_bias_or_circle(table, random):
    order = list(range(len(table)))
    random.shuffle(order)
    before, after = of(table), of(table[order])
    for first, second in zip(before.components, after.components, strict=True):
        for name in ("quantile683_m", "quantile95_m", "error50_m", "error90_m", "error95_m"):
            assert_allclose(getattr(second, name), getattr(first, name), rtol=1e-9, atol=1e-12)
    bias = (before.plan_bias, after.plan_bias)
    assert_allclose(bias[1].length_m, bias[0].length_m, rtol=1e-9, atol=1e-12)
    assert_allclose(bias[1].probability, bias[0].probability, rtol=1e-6, atol=1e-9)


@settings(deadline=None, max_examples=40)
@given(COLUMN)
def test_a_mirrored_set_has_the_mirrored_figures(values):
    part, mirrored = component_statistics("up", values), component_statistics("up", -values)
    assert_allclose(mirrored.mean_interval_m, [-end for end in reversed(part.mean_interval_m)], atol=1e-12)
    assert_allclose(mirrored.skewness, -part.skewness, rtol=1e-6, atol=1e-9)
    assert mirrored.quantile95_m == part.quantile95_m
    assert part.quantile683_m <= part.quantile95_m <= part.max_abs_m
    assert part.error50_m <= part.error90_m <= part.error95_m


@settings(deadline=None, max_examples=40)
@given(TABLE, st.floats(0.1, 10), st.floats(0, 2 * math.pi))
def test_hotellings_test_does_not_depend_on_axes_and_unit(table, scale, angle):
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    plan, turned = table[:, :2], scale * table[:, :2] @ turn
    scatter = np.cov(plan.T) if len(plan) > 2 else np.zeros((2, 2))
    # Clouds that are nearly a line have no test, and rounding decides where that begins.
    if np.linalg.det(scatter) > 1e-6 * max(np.trace(scatter) ** 2, 1e-12):
        first, second = (summarise(residual_set(cloud)).plan_bias for cloud in (plan, turned))
        assert_allclose(second.t_squared, first.t_squared, rtol=1e-6, atol=1e-9)


@settings(deadline=None, max_examples=60)
@given(COLUMN)
def test_leaving_each_point_out_in_turn_gives_the_whole_again(values):
    """The mean over the points of the squares without each is the mean square of all."""
    without = rmse_without(values)
    assert_allclose(np.mean(without**2), np.mean(values**2), rtol=1e-9, atol=1e-12)
    total = shares(values).sum()
    assert np.isnan(total) or math.isclose(total, 1.0, rel_tol=1e-9)


@settings(deadline=None, max_examples=60)
@given(COLUMN, LENGTH)
def test_a_shift_moves_mean_and_median_and_leaves_the_spread(values, shift):
    before, after = component_statistics("up", values), component_statistics("up", values + shift)
    assert_allclose(after.mean_m, before.mean_m + shift, rtol=0, atol=1e-12)
    assert_allclose(after.median_m, before.median_m + shift, rtol=0, atol=1e-12)
    assert_allclose([after.std_m, after.nmad_m], [before.std_m, before.nmad_m], rtol=0, atol=1e-11)


@settings(deadline=None, max_examples=60)
@given(TABLE, st.floats(0, 2 * math.pi))
def test_a_rotation_of_the_axes_leaves_the_plan(table, angle):
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    turned = np.column_stack([table[:, :2] @ turn, table[:, 2]])
    before, after = of(table).horizontal, of(turned).horizontal
    assert_allclose(after.rmse_m, before.rmse_m, rtol=1e-9, atol=1e-12)
    assert_allclose(after.rmse_interval_m, before.rmse_interval_m, rtol=1e-6, atol=1e-12)
    assert_allclose(after.max_abs_m, before.max_abs_m, rtol=1e-9, atol=1e-12)


@settings(deadline=None, max_examples=60)
@given(TABLE)
def test_the_plan_is_the_sum_of_its_axes(table):
    found = of(table)
    both = math.hypot(found.east.rmse_m, found.north.rmse_m)
    assert_allclose(found.horizontal.rmse_m, both, rtol=1e-9, atol=1e-12)


@settings(deadline=None, max_examples=40)
@given(TABLE, st.sampled_from(LinearUnit))
def test_coordinates_in_feet_give_the_figures_of_metres(table, unit):
    """A survey in feet, converted as a reader does, against residuals converted at the end."""
    survey = np.full(table.shape, SITE_M) / unit.metres
    formed = form_residuals(*measured((survey + table) * unit.metres, survey * unit.metres))
    for metric, native in zip(summarise(formed).components, of(table).components, strict=True):
        assert_allclose(metric.rmse_m, native.rmse_m * unit.metres, rtol=1e-5, atol=1e-8)
        assert_allclose(metric.max_abs_m, native.max_abs_m * unit.metres, rtol=1e-5, atol=1e-8)


@settings(deadline=None, max_examples=40)
@given(TABLE, arrays(float, 3, elements=LENGTH))
def test_shifting_the_product_shifts_every_residual(table, shift):
    survey = np.full(table.shape, SITE_M)
    before = form_residuals(*measured(survey + table, survey))
    after = form_residuals(*measured(survey + table + shift, survey))
    assert_allclose(after.delta_m - before.delta_m, np.tile(shift, (len(table), 1)), rtol=0, atol=1e-8)
