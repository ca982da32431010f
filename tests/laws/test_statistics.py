"""Laws that hold for any residuals, without a reference."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.testing import assert_allclose

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
