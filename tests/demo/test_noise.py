"""Random fields and enlarging, against their definitions."""

import numpy as np
from numpy.testing import assert_allclose

from geoqa.demo.noise import enlarge, smooth_noise


def test_enlarging_keeps_a_slope_exactly_away_from_the_border() -> None:
    # B-splines reproduce straight lines; fine centres lie at (k + 0.5)/5 coarse cells.
    field = np.tile(np.arange(12, dtype=np.float32) + 0.5, (6, 1))
    fine = enlarge(field, 5)
    assert fine.shape == (30, 60)
    expected = (np.arange(60) + 0.5) / 5
    assert_allclose(fine[:, 5:-5], np.tile(expected[5:-5], (30, 1)), rtol=0, atol=1e-5)


def test_enlarging_keeps_the_mean_of_a_lump() -> None:
    field = np.zeros((9, 9), np.float32)
    field[4, 4] = 1.0
    assert_allclose(enlarge(field, 4).sum(), 16.0, rtol=1e-5, atol=0)


def test_noise_has_the_asked_spread_and_its_lumps_the_asked_size() -> None:
    rng = np.random.default_rng(4)
    fine, coarse = (smooth_noise((400, 400), grain, rng) for grain in (4.0, 40.0))
    assert_allclose(fine.std(), 1.0, rtol=0.1, atol=0)
    assert_allclose(coarse.std(), 1.0, rtol=0.25, atol=0)

    def likeness(field: np.ndarray, cells: int) -> float:
        return float(np.corrcoef(field[:, cells:].ravel(), field[:, :-cells].ravel())[0, 1])

    assert likeness(fine, 8) < 0.1
    assert likeness(coarse, 8) > 0.8
