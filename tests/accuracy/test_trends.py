"""Leaving points out by formula against leaving them out one by one."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.accuracy.trends import fitted, plane, shift, similarity

RNG = np.random.default_rng(8)
PLACES = RNG.uniform(-100, 100, (9, 2)) + np.array([512_000.0, 5_403_000.0])


def test_a_plane_is_taken_off_and_left_out_as_by_refitting():
    up = 0.002 * (PLACES[:, 0] - 512_000) - 0.001 * (PLACES[:, 1] - 5_403_000) + 0.3 + RNG.normal(0, 0.02, 9)
    trend = plane(PLACES, up)
    design = np.column_stack([np.ones(9), PLACES - PLACES.mean(axis=0)])
    for row in range(9):
        others = np.arange(9) != row
        solution = np.linalg.lstsq(design[others], up[others], rcond=None)[0]
        assert trend.left_out[row] == pytest.approx(up[row] - design[row] @ solution, abs=1e-9)
    assert trend.rmse_m() < 0.03
    assert np.sqrt((up**2).mean()) > 0.1
    assert trend.leave_one_out_rmse_m() > trend.rmse_m()


def test_a_similarity_leaves_out_both_components_of_a_point():
    centred = PLACES - PLACES.mean(axis=0)
    delta = 1e-4 * centred + 2e-4 * centred[:, ::-1] * [-1, 1] + [0.1, -0.2] + RNG.normal(0, 0.01, (9, 2))
    trend = similarity(PLACES, delta)
    rows = np.arange(9) != 4

    def columns(places):
        blank, one = np.zeros(len(places)), np.ones(len(places))
        east = np.column_stack([one, blank, places[:, 0], -places[:, 1]])
        north = np.column_stack([blank, one, places[:, 1], places[:, 0]])
        return east, north

    east, north = columns(centred)
    system = np.vstack([east[rows], north[rows]])
    solution = np.linalg.lstsq(system, np.concatenate([delta[rows, 0], delta[rows, 1]]), rcond=None)[0]
    assert_allclose(trend.left_out[4], delta[4] - [east[4] @ solution, north[4] @ solution], atol=1e-9)


def test_a_shift_is_the_mean_and_one_point_alone_cannot_be_left_out():
    assert_allclose(shift(np.array([1.0, 2.0, 6.0])).left, [-2.0, -1.0, 3.0])
    assert shift(np.array([1.0, 2.0, 6.0])).left_out[2] == pytest.approx(6.0 - 1.5)
    assert np.isnan(shift(np.array([1.0])).leave_one_out_rmse_m())


def test_a_point_that_carries_an_amplitude_alone_has_no_figure():
    columns = np.array([[1.0, 0.0], [1.0, 0.0], [1.0, 1.0]])
    assert np.isnan(fitted(columns, np.array([0.1, 0.3, 0.9])).left_out[2])
