"""Spacing, hull, gaps and support of sets whose geometry is worked out by hand."""

import numpy as np
import pytest
import shapely

from geoqa.accuracy.spread import MOST_POINTS, diagonal_m, gaps, hull_share, spacings, thinned
from geoqa.accuracy.support import support

ORIGIN = np.array([512_000.0, 5_403_000.0])
SQUARE = ORIGIN + np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]])
CORNERS = SQUARE.copy()
MIDDLE = ORIGIN + np.array([[50.0, 50.0]])


def test_spacing_is_to_the_nearest_neighbour():
    points = ORIGIN + np.array([[0.0, 0.0], [30.0, 40.0], [30.0, 41.0]])
    assert spacings(points) == pytest.approx([50.0, 1.0, 1.0])
    assert np.isnan(spacings(MIDDLE)).all()


def test_a_repeated_place_is_no_neighbour():
    assert spacings(np.vstack([MIDDLE, MIDDLE, CORNERS[:1]]))[:2] == pytest.approx([np.hypot(50, 50)] * 2)


def test_the_hull_is_cut_at_the_mapped_area():
    beyond = ORIGIN + np.array([[-100.0, -100.0], [200.0, -100.0], [200.0, 50.0], [-100.0, 50.0]])
    assert hull_share(beyond, SQUARE) == pytest.approx(0.5)
    assert hull_share(CORNERS, SQUARE) == pytest.approx(1.0)
    assert hull_share(MIDDLE, SQUARE) == 0.0
    assert np.isnan(hull_share(MIDDLE, np.empty((0, 2))))
    assert diagonal_m(SQUARE) == pytest.approx(100 * np.sqrt(2))


def test_the_largest_gap_of_four_corners_is_in_the_middle():
    found = gaps(CORNERS, SQUARE)
    # The grid has a node within half a step, 100 / 48 / 2, of any place.
    assert found.largest_m == pytest.approx(np.hypot(50, 50), abs=100 / 48)
    first = found.places[0]
    assert [first.easting_m, first.northing_m] == pytest.approx(MIDDLE[0], abs=100 / 48)


def test_further_places_keep_off_the_first_ones():
    found = gaps(MIDDLE, SQUARE)
    assert len(found.places) == 3
    distances = [place.distance_m for place in found.places]
    assert distances == sorted(distances, reverse=True)
    corners = {
        (round(p.easting_m - ORIGIN[0], -1), round(p.northing_m - ORIGIN[1], -1)) for p in found.places
    }
    assert len(corners) == 3
    # The mean distance to the middle of a square of side a: a (√2 + asinh 1) / 6.
    assert found.mean_m == pytest.approx(100 * (np.sqrt(2) + np.arcsinh(1)) / 6, rel=0.01)


def test_without_an_area_or_a_point_there_is_no_gap():
    assert gaps(MIDDLE, np.empty((0, 2))) is None
    assert gaps(np.empty((0, 2)), SQUARE) is None
    assert support(MIDDLE, np.empty((0, 2))) == ()


def test_very_many_points_are_thinned_to_their_own_places():
    points = np.random.default_rng(1).uniform(0, 100, (20_000, 2))
    kept = thinned(points)
    assert 100 < len(kept) <= MOST_POINTS
    assert {tuple(row) for row in kept} <= {tuple(row) for row in points}
    assert thinned(points[:MOST_POINTS]) is not None
    assert len(thinned(points[:MOST_POINTS])) == MOST_POINTS


@pytest.mark.parametrize("points", [MIDDLE, CORNERS, SQUARE[:2], np.vstack([CORNERS, MIDDLE])])
def test_the_parts_of_support_fill_the_mapped_area_without_overlap(points):
    parts = support(points, SQUARE)
    assert sum(part.share for part in parts) == pytest.approx(1.0, abs=1e-6)
    union = shapely.union_all([part.area for part in parts])
    assert union.area == pytest.approx(10_000, rel=1e-6)


def test_parts_of_support_are_as_far_as_they_say():
    for part in support(CORNERS, SQUARE):
        place = part.area.representative_point()
        distance = np.hypot(*(CORNERS - [place.x, place.y]).T).min()
        # A circle of 32 corners is up to 0.5 % smaller than a true one.
        assert 0.994 * part.distance_from_m <= distance <= part.distance_to_m * 1.001


def test_the_statement_holds_within_the_hull_and_half_a_spacing_around():
    points = ORIGIN + np.array([[40.0, 40.0], [60.0, 40.0], [60.0, 60.0], [40.0, 60.0]])
    holds = shapely.union_all([part.area for part in support(points, SQUARE) if part.holds])
    # A square of 20 m with 10 m around: 20² + 4 · 20 · 10 + π · 10².
    assert holds.area == pytest.approx(400 + 800 + np.pi * 100, rel=0.01)
