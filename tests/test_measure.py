"""Profiles of the surface against surfaces that are known everywhere."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from rasterio.transform import Affine

from geoqa.frame.declare import Products
from geoqa.frame.heights import UNSTATED_HEIGHTS
from geoqa.measure import measure_heights, measure_surface
from geoqa.readers.rasters import read_info
from geoqa.units import LinearUnit
from tests.builders import make_checkpoints, make_fixes, make_frame
from tests.readers.raster_files import NORTH_UP, SOUTH_UP, TILED, TURNED, blocks_of, counted, write

ROWS, COLS = 200, 240
MIDDLE = Affine(0.25, 0.0, 512_000.0, 0.0, -0.25, 5_403_000.0)


def products(path, *, unit=LinearUnit.METRE):
    return Products(make_frame(), None, read_info(path), UNSTATED_HEIGHTS, unit)


def on_ground(transform, height):
    """Return what a function of east and north from the corner gives at the cell centres."""
    row, col = np.mgrid[0:ROWS, 0:COLS] + 0.5
    return height(transform.a * col + transform.b * row, transform.d * col + transform.e * row)


def surveyed(east_north, *, transform=MIDDLE, height=200.0):
    """Return points so far east and north of the corner of a raster."""
    places = np.asarray(east_north, float) + np.array([transform.c, transform.f])
    return make_checkpoints(len(places), position_m=np.column_stack([places, np.full(len(places), height)]))


def profiled(path, points, *, wanted=True):
    return measure_heights(points, products(path), make_fixes(points), profiled=wanted)


@pytest.mark.parametrize("transform", [NORTH_UP, SOUTH_UP, TURNED], ids=["north up", "south up", "turned"])
def test_plane_gives_its_two_rises_whatever_way_the_raster_lies(tmp_path, transform):
    path = write(
        tmp_path / "plane.tif",
        on_ground(transform, lambda east, north: 200.0 + 0.03 * east - 0.07 * north),
        transform=transform,
    )
    col, row = 0.5 * COLS, 0.5 * ROWS
    east, north = transform.a * col + transform.b * row, transform.d * col + transform.e * row
    samples, profiles = profiled(path, surveyed([(east, north)], transform=transform))
    steps = profiles.step_m * (np.arange(profiles.height_m.shape[2]) - profiles.height_m.shape[2] // 2)
    here = 200.0 + 0.03 * east - 0.07 * north
    assert_allclose(samples.height_m, [here], rtol=0, atol=1e-6)
    assert_allclose(profiles.height_m[0, 0], here + 0.03 * steps, rtol=0, atol=1e-6)
    assert_allclose(profiles.height_m[0, 1], here - 0.07 * steps, rtol=0, atol=1e-6)


def test_step_that_runs_north_shows_in_the_profile_to_the_east_only(tmp_path):
    """A kerb of 0.12 m between two columns of cells: bilinear heights rise over one cell of 0.25 m."""
    kerb = on_ground(MIDDLE, lambda east, north: np.where(east < 30.0, 200.0, 200.12))
    path = write(tmp_path / "kerb.tif", kerb, transform=MIDDLE)
    # One cell centre lies at 29.875 m, the next at 30.125 m: the point stands half-way between.
    _, profiles = profiled(path, surveyed([(30.0, -25.0)]))
    assert profiles.step_m == 0.25
    to_east, to_north = profiles.height_m[0]
    assert_allclose(to_east, [200.0] * 12 + [200.06] + [200.12] * 12, rtol=0, atol=1e-9)
    assert_allclose(to_north, [200.06] * 25, rtol=0, atol=1e-9)


def test_hole_is_a_gap_and_never_a_height(tmp_path):
    flat = np.full((ROWS, COLS), 200.0)
    # Cells 4 to 6 east of the point's own, and 5 rows north of it, hold nothing.
    flat[100, 124:127] = -9999.0
    flat[95, 120] = -9999.0
    path = write(tmp_path / "hole.tif", flat, transform=MIDDLE, nodata=-9999.0)
    centre = (120.5 * 0.25, -100.5 * 0.25)
    _, profiles = profiled(path, surveyed([centre]))
    gaps = np.isnan(profiles.height_m[0])
    # The points of the profile are cell centres: the four cells of each are itself and its neighbours to the
    # east and south, so that the gap begins one step before the hole.
    assert np.flatnonzero(gaps[0]).tolist() == [15, 16, 17, 18]
    assert np.flatnonzero(gaps[1]).tolist() == [17, 18]
    assert_allclose(profiles.height_m[0][~gaps], 200.0, rtol=0, atol=0)


def test_profile_ends_where_the_raster_does_and_a_point_outside_has_none(tmp_path):
    path = write(tmp_path / "flat.tif", np.full((ROWS, COLS), 200.0), transform=MIDDLE)
    _, profiles = profiled(path, surveyed([(-5.0, -20.0), (1.0, -20.0)]))
    assert profiles.rows == (1,)
    # From the first cell centre, 0.125 m, on: three steps of 0.25 m lie before the point.
    assert np.flatnonzero(np.isfinite(profiles.height_m[0, 0]))[0] == 12 - 3
    assert np.isfinite(profiles.height_m[0, 1]).all()


def test_heights_are_those_read_without_profiles_and_feet_become_metres(tmp_path):
    values = on_ground(MIDDLE, lambda east, north: 650.0 + np.sin(east / 3.0) + np.cos(north / 2.0))
    path = write(tmp_path / "feet.tif", values, transform=MIDDLE)
    points = make_checkpoints(
        8, position_m=np.column_stack([np.full(8, 512_030.0), 5_402_960.0 + 3.0 * np.arange(8), np.ones(8)])
    )
    declared, fixes = products(path, unit=LinearUnit.FOOT), make_fixes(points)
    samples, profiles = measure_heights(points, declared, fixes, profiled=True)
    alone = measure_surface(
        points, declared, sought=np.ones(8, dtype=bool), given_height_m=fixes.given_height_m
    )
    for name in ("height_m", "gradient", "roughness_m", "relief_m"):
        assert_array_equal(getattr(samples, name), getattr(alone, name))
    assert_array_equal(profiles.height_m[:, 0, 12], alone.height_m)
    assert_array_equal(profiles.height_m[:, 1, 12], alone.height_m)
    assert (profiles.height_m < 200.0).all()


def test_no_profiles_unless_wanted_of_few_points_with_heights(tmp_path):
    path = write(tmp_path / "flat.tif", np.full((ROWS, COLS), 200.0), transform=MIDDLE)
    middle = [(30.0, -25.0)]
    assert profiled(path, surveyed(middle), wanted=False)[1] is None
    assert profiled(path, surveyed(middle * 201))[1] is None
    assert len(profiled(path, surveyed(middle * 200))[1].rows) == 200
    assert profiled(path, surveyed(middle, height=np.nan))[1] is None
    without = replace(products(path), elevation=None)
    points = make_checkpoints(1)
    assert measure_heights(points, without, make_fixes(points), profiled=True)[1] is None


def test_profiles_within_a_block_ask_for_no_other_and_each_is_decoded_once(tmp_path, monkeypatch):
    path = write(tmp_path / "tiles.tif", np.full((ROWS, COLS), 200.0), transform=MIDDLE, **TILED)
    # In the middle of a tile of 64 cells, which is 16 m wide: 3 m to either side lie in it.
    points = surveyed([(8.0, -8.0), (24.0, -8.0), (24.5, -8.5)])
    declared, fixes = products(path), make_fixes(points)
    with counted(monkeypatch) as windows:
        measure_heights(points, declared, fixes, profiled=True)
    assert sorted(blocks_of(windows, (64, 64))) == [(0, 0), (0, 1)]
