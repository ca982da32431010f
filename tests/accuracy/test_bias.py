"""Student's t at 4 degrees of freedom: the 97.5 % point is 2.776, [NIST-EH] table of t."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.accuracy.bias import significance, student_t
from geoqa.accuracy.statistics import component_statistics

# Standard deviation sqrt(2.5 / 4), standard error sqrt(1 / 8).
SPREAD = np.array([-1.0, -0.5, 0.0, 0.5, 1.0])


@pytest.mark.parametrize(("mean", "words"), [(0.99, "is more than"), (0.98, "is no more than")])
def test_the_table_of_t_decides(mean, words):
    for sign in (1, -1):
        part = component_statistics("up", SPREAD + sign * mean)
        assert_allclose(student_t(part), sign * mean * math.sqrt(8), rtol=1e-12, atol=0)
        assert words in (significance(part) or "")


def test_one_point_or_equal_residuals_say_nothing():
    for values in ([0.3], [0.25, 0.25]):
        part = component_statistics("up", np.array(values))
        assert significance(part) is None
        assert math.isnan(student_t(part))
