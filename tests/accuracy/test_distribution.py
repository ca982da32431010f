import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.accuracy.distribution import area_km2, quadrant_shares, sparse_quadrants

FIELD = np.array([[500000.0, 100000.0], [500400.0, 100000.0], [500400.0, 100200.0], [500000.0, 100200.0]])
CORNERS = np.add(FIELD, [[10, 10], [-10, 10], [-10, -10], [10, -10]])


def test_one_point_in_each_corner_is_evenly_spread():
    """[NSSDA1998], appendix 3-C: at least 20 per cent of the points in each quadrant."""
    assert set(quadrant_shares(CORNERS, FIELD).values()) == {0.25}
    assert sparse_quadrants(CORNERS, FIELD, 0.20) is None


def test_a_fifth_in_a_quarter_is_enough():
    fifth = np.vstack([CORNERS, CORNERS[:1]])
    assert quadrant_shares(fifth, FIELD)["north-east"] == 0.20
    assert sparse_quadrants(fifth, FIELD, 0.20) is None


def test_an_empty_quarter_is_named():
    sentence = sparse_quadrants(CORNERS[:3], FIELD, 0.20)
    assert sentence is not None
    assert "found north-west 0 %" in sentence
    assert "south" not in sentence


def test_without_an_outline_or_points_nothing_is_said():
    assert sparse_quadrants(CORNERS, np.empty((0, 2)), 0.20) is None
    assert sparse_quadrants(np.empty((0, 2)), FIELD, 0.20) is None


@pytest.mark.parametrize("ring", [FIELD, FIELD[::-1], np.vstack([FIELD, FIELD[:1]])])
def test_the_area_knows_no_direction(ring):
    assert_allclose(area_km2(ring), 0.08, rtol=1e-12, atol=0)


def test_no_outline_has_no_area():
    assert area_km2(np.empty((0, 2))) == 0.0
