"""Where profiles run, worked by hand."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.surface.profile import profile_places_m, profile_steps


@pytest.mark.parametrize(
    ("cell_m", "reach_m", "steps"),
    # 12 cells of 0.5 m are 6 m; 2.5 m are 12.5 cells of 0.2 m; of 0.03 m cells 25 steps of 0.1 m.
    [(0.5, 6.0, 12), (1.0, 12.0, 12), (0.25, 3.0, 12), (0.2, 2.5, 13), (0.1, 2.5, 25), (0.03, 2.5, 25)],
)
def test_reach_is_two_and_a_half_metres_or_twelve_cells(cell_m, reach_m, steps):
    found_m, count = profile_steps(cell_m)
    assert count == steps
    assert_allclose(found_m * count, reach_m, rtol=1e-12, atol=0)


def test_first_profile_runs_east_and_second_north_with_the_point_in_the_middle():
    places = profile_places_m(np.array([[100.0, 200.0], [np.nan, np.nan]]), 1.0)
    assert places.shape == (2, 2, 25, 2)
    assert_allclose(places[0, 0, [0, 12, 13, 24]], [[88, 200], [100, 200], [101, 200], [112, 200]], atol=0)
    assert_allclose(places[0, 1, [0, 12, 13, 24]], [[100, 188], [100, 200], [100, 201], [100, 212]], atol=0)
    assert np.isnan(places[1]).all()
