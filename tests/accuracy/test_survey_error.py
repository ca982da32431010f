import math

import numpy as np
from numpy.testing import assert_allclose

from geoqa.accuracy.survey_error import HEIGHT, PLAN, survey_rmse
from tests.accuracy.residual_sets import residual_set

ROWS = np.array([True, True, False])


def test_the_plan_error_of_the_survey_is_radial():
    """[ASPRS2023], section 7.11: a two-dimensional error; by hand, sqrt(0.03² + 0.04²) = 0.05."""
    residuals = residual_set(np.zeros((3, 2)), np.zeros(3), sigma_m=(0.03, 0.04, 0.02))
    assert_allclose(survey_rmse(residuals, ROWS, PLAN), 0.05, rtol=1e-12, atol=0)
    assert_allclose(survey_rmse(residuals, ROWS, HEIGHT), 0.02, rtol=1e-12, atol=0)


def test_a_missing_sigma_or_no_point_makes_it_unknown():
    residuals = residual_set(np.zeros((3, 2)), np.zeros(3), sigma_m=(0.03, 0.04, math.nan))
    assert math.isnan(survey_rmse(residuals, ROWS, HEIGHT))
    assert math.isnan(survey_rmse(residuals, np.zeros(3, dtype=bool), PLAN))
