"""The table of circular errors stands in tests/published/circular_error.toml."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.numerics.circular_error import circular_error, principal_rms, share_within


def test_a_circle_scales_with_the_errors():
    assert_allclose(circular_error(0.9, 0.06, 0.03), 0.03 * circular_error(0.9, 2.0, 1.0), rtol=1e-9, atol=0)


def test_no_error_needs_no_circle():
    assert circular_error(0.95, 0.0, 0.0) == 0.0


@pytest.mark.parametrize("ratio", [1e-6, 1e-3, 0.01])
def test_a_thin_cloud_comes_close_to_a_line(ratio):
    """[NSSDA1998], appendix 3-A: 1.9600 sigma hold 95 % along one axis."""
    assert_allclose(circular_error(0.95, 1.0, ratio), 1.95996, rtol=0, atol=5e-5)


@pytest.mark.parametrize("ratio", [0.2, 0.6, 1.0])
def test_the_share_agrees_with_counting(ratio):
    errors = np.random.default_rng(8).standard_normal((200_000, 2)) * [1.0, ratio]
    counted = (np.hypot(*errors.T) <= 1.5).mean()
    assert_allclose(share_within(1.5, ratio), counted, rtol=0, atol=0.004)


def test_principal_axes_follow_the_cloud_wherever_it_points():
    along = np.array([[0.05, 0.01], [-0.05, -0.01], [0.05, -0.01], [-0.05, 0.01]])
    for angle in np.radians([0, 17, 45, 90]):
        turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        assert_allclose(principal_rms(along @ turn), (0.05, 0.01), rtol=1e-9, atol=0)


def test_one_point_lies_on_one_axis():
    assert_allclose(principal_rms(np.array([[0.03, 0.04]])), (0.05, 0.0), rtol=0, atol=1e-9)
