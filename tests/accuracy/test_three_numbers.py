import math

import numpy as np
from numpy.testing import assert_allclose

from geoqa.accuracy.statistics import summarise
from geoqa.accuracy.three_numbers import three_numbers
from tests.accuracy.residual_sets import NAN, residual_set

SIGNS = np.resize([1.0, -1.0], 10)
PLAN = np.column_stack([0.03 * SIGNS, 0.04 * np.resize([1.0, 1.0, -1.0, -1.0], 10)])


def figures(**more):
    residuals = residual_set(PLAN, 0.05 * SIGNS, **more)
    return three_numbers(residuals, summarise(residuals))


def test_the_fit_is_the_rmse_as_measured():
    plan, height = figures().fit
    assert_allclose([plan.rmse_m, height.rmse_m], [0.05, 0.05], rtol=1e-12, atol=0)
    assert height.interval_m[0] < 0.05 < height.interval_m[1]
    assert "common base" in plan.relative_to


def test_survey_and_location_variance_are_taken_off_in_quadrature():
    """By hand: 0.05² − (2·0.02² + 2·0.01²) = 0.0015; in height 0.05² − 0.03² = 0.04²."""
    plan, height = figures(sigma_m=(0.02, 0.02, 0.03), located_m=(0.01, 0.01)).product_alone
    assert_allclose(plan.rmse_m, math.sqrt(0.0015), rtol=1e-9, atol=0)
    assert_allclose(height.rmse_m, 0.04, rtol=1e-9, atol=0)


def test_the_interval_of_the_product_alone_is_wider_in_proportion():
    found = figures(sigma_m=(0.02, 0.02, 0.03), located_m=(0.01, 0.01))
    fit, alone = found.fit[1], found.product_alone[1]
    low, high = (math.sqrt(max(bound**2 - 0.03**2, 0.0)) for bound in fit.interval_m)
    assert_allclose(alone.interval_m, (low, high), rtol=1e-9, atol=0)
    assert alone.interval_m[1] / alone.rmse_m > fit.interval_m[1] / fit.rmse_m
    assert alone.interval_m[0] / alone.rmse_m < fit.interval_m[0] / fit.rmse_m


def test_the_product_alone_is_never_below_zero():
    height = figures(sigma_m=(0.01, 0.01, 0.055), located_m=(0.01, 0.01)).product_alone[1]
    assert height.rmse_m == 0.0
    assert height.interval_m[0] == 0.0
    assert height.interval_m[1] > 0.0


def test_a_fit_much_closer_than_the_survey_allows_is_not_separable():
    height = figures(sigma_m=(0.01, 0.01, 0.10), located_m=(0.01, 0.01)).product_alone[1]
    assert (height.rmse_m, height.interval_m) == (None, None)
    assert "took part in making the product" in height.relative_to


def test_missing_standard_deviations_are_named_not_taken_as_zero():
    plan, height = figures().product_alone
    assert (plan.rmse_m, height.rmse_m) == (None, None)
    assert "survey is missing at 10 of 10 points" in height.relative_to
    plan, height = figures(sigma_m=(0.01, 0.01, 0.01)).product_alone
    assert plan.rmse_m is None
    assert "target location is not known at 10 of 10 points" in plan.relative_to
    assert height.rmse_m is not None


def test_a_standard_deviation_of_zero_was_not_given():
    assert figures(sigma_m=(0.0, 0.01, 0.01), located_m=(0.01, 0.01)).product_alone[0].rmse_m is None


def test_one_point_without_sigma_makes_the_product_inseparable():
    residuals = residual_set(PLAN, 0.05 * SIGNS, sigma_m=(0.01, 0.01, 0.01))
    sigma = residuals.sigma_survey_m.copy()
    sigma[3, 2] = NAN
    object.__setattr__(residuals, "sigma_survey_m", sigma)
    height = three_numbers(residuals, summarise(residuals)).product_alone[1]
    assert "missing at 1 of 10 points" in height.relative_to


def test_absolute_accuracy_is_not_invented():
    for figure in figures(sigma_m=(0.01, 0.01, 0.01), located_m=(0.01, 0.01)).absolute:
        assert (figure.rmse_m, figure.interval_m) == (None, None)
        assert "not known" in figure.relative_to


def test_no_point_has_no_number_and_a_reason():
    residuals = residual_set(np.full((2, 2), NAN), [NAN, NAN])
    found = three_numbers(residuals, summarise(residuals))
    for figure in (*found.fit, *found.product_alone, *found.absolute):
        assert figure.rmse_m is None
        assert figure.relative_to
