"""Laws of the common frame that need no reference."""

import numpy as np
import pyproj
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from geoqa.frame.rasters import from_pixels, to_pixels
from geoqa.records.points import CommonFrame
from geoqa.units import LinearUnit
from tests.frame.scenes import brought, raster_of, survey_of

QUICK = settings(max_examples=25, deadline=None)
GRIDS = st.sampled_from(["EPSG:25832", "EPSG:25833", "EPSG:3034", "EPSG:4839", "EPSG:5243"])
UNITS = st.sampled_from(list(LinearUnit))
# Places in Germany, where all of these grids are at home.
PLACES = st.lists(
    st.tuples(st.floats(6.0, 15.0), st.floats(47.5, 54.5), st.floats(-50.0, 3000.0)), min_size=1, max_size=6
)


def on_ground(places, grid):
    """Return positions of places in a grid."""
    return brought(survey_of(places, geographic=True), grid, {"crs": "EPSG:4258"}).position_m


@QUICK
@given(places=PLACES, first=GRIDS, second=GRIDS)
def test_there_and_back_is_where_one_started(places, first, second):
    start = on_ground(places, first)
    there = brought(survey_of(start), second, {"crs": first}).position_m
    back = brought(survey_of(there), first, {"crs": second}).position_m
    assert_allclose(back, start, rtol=0, atol=1e-6)


@QUICK
@given(places=PLACES, unit=UNITS, height_unit=UNITS, grid=GRIDS)
def test_feet_in_are_metres_in(places, unit, height_unit, grid):
    metres = on_ground(places, grid)
    numbers = metres / [unit.metres, unit.metres, height_unit.metres]
    stated = brought(survey_of(numbers), grid, {"unit": unit, "height_unit": height_unit})
    headed = brought(survey_of(numbers, unit=unit, height_unit=height_unit), grid)
    for points in (stated, headed):
        assert_allclose(points.position_m, metres, rtol=0, atol=1e-8)


@QUICK
@given(places=PLACES, seed=st.integers(0, 1000))
def test_the_order_of_the_points_does_not_matter(places, seed):
    order = np.random.default_rng(seed).permutation(len(places))
    table = {"crs": "EPSG:9989", "epoch": 2026.45, "via": "EPSG:7931"}
    given_order = brought(
        survey_of(places, geographic=True), "EPSG:25832", table, height_system="ellipsoidal"
    )
    other_order = brought(
        survey_of(np.array(places)[order], geographic=True), "EPSG:25832", table, height_system="ellipsoidal"
    )
    assert_allclose(other_order.position_m, given_order.position_m[order], rtol=0, atol=1e-9)


@QUICK
@given(places=PLACES, epoch=st.floats(2000.0, 2030.0))
def test_a_datum_there_and_back_is_where_one_started(places, epoch):
    at = {"epoch": epoch, "height_system": "ellipsoidal"}
    there = brought(
        survey_of(places, geographic=True),
        "EPSG:25832",
        {"crs": "EPSG:9989", **at},
        height_system="ellipsoidal",
        frame="EPSG:7931",
    ).position_m
    back = brought(
        survey_of(there),
        "EPSG:32632",
        {"crs": "EPSG:25832", "frame": "EPSG:7931", **at},
        height_system="ellipsoidal",
        frame="EPSG:9989",
        epoch=epoch,
    ).position_m
    start = brought(
        survey_of(places, geographic=True),
        "EPSG:32632",
        {"crs": "EPSG:9989", **at},
        height_system="ellipsoidal",
        frame="EPSG:9989",
        epoch=epoch,
    ).position_m
    assert_allclose(back, start, rtol=0, atol=1e-5)
    # The two frames part by the motion of the plate: about 0.9 m in 2026, never nothing.
    assert np.linalg.norm(there - start, axis=1).min() > 0.1


@QUICK
@given(
    cell=st.floats(0.005, 5.0),
    angle=st.floats(-180.0, 180.0),
    row_col=st.tuples(st.floats(-1e4, 1e5), st.floats(-1e4, 1e5)),
    crs=GRIDS,
)
def test_pixels_to_positions_and_back_is_where_one_started(cell, angle, row_col, crs):
    (corner,) = on_ground([(10.0, 51.0, 0.0)], crs)
    east, north = cell * np.cos(np.radians(angle)), cell * np.sin(np.radians(angle))
    transform = Affine(east, north, corner[0], north, -east, corner[1])
    info = raster_of(crs, transform=transform)
    frame = CommonFrame(pyproj.CRS("EPSG:25832"), LinearUnit.METRE, "not stated")
    positions = from_pixels(np.array([row_col]), frame, info)
    assert_allclose(to_pixels(positions, frame, info), [row_col], rtol=0, atol=1e-5 / cell)
