"""The products' positions, corrected by calculation: nothing is resampled."""

from dataclasses import replace

import numpy as np
import pyproj
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import FrameError
from geoqa.frame.base_products import (
    corrected_marks,
    corrected_products,
    height_change_m,
    product_remarks,
)
from geoqa.frame.rasters import from_pixels, to_pixels
from geoqa.frame.transform import marks_to_frame
from geoqa.records.settings import Points, SiteGrid
from tests.frame import ecef_by_hand as hand
from tests.frame.base_scenes import EPOCH, FRAME, corrections_of, geographic, table
from tests.frame.scenes import products_of, raster_of, survey_of
from tests.frame.test_base_shift import place_of

UTM, ORIGIN = "EPSG:32611", (704_000.0, 5_661_000.0)
ELEVATION = {"frame": FRAME, "epoch": EPOCH, "height_system": "ellipsoidal"}
ON_ASSUMED = {"points_use": "precise", "products_use": "assumed"}
RASTER = raster_of(UTM, origin=ORIGIN, cell=2.0, shape=(2500, 2500))


def lon_lat(plan):
    grid = pyproj.CRS(UTM)
    back = pyproj.Transformer.from_crs(grid, grid.geodetic_crs, always_xy=True)
    return np.column_stack(back.transform(plan[:, 0], plan[:, 1]))


def products_with(*tables, raster=RASTER, site_grid=None, **elevation):
    products = products_of(raster=raster, **(ELEVATION | elevation))
    return corrected_products(products, corrections_of(*tables), site_grid=site_grid)


def test_pixels_lie_where_the_translation_brings_them():
    products = products_with(table(**ON_ASSUMED))
    row_col = np.array([[0.5, 0.5], [1250.0, 900.0], [2499.5, 2400.25]])
    plan = from_pixels(row_col, products.frame, RASTER)
    found = from_pixels(row_col, products.frame, products.elevation)
    for before, after in zip(lon_lat(plan), lon_lat(found), strict=True):
        start = np.array([*before, hand.ASSUMED[2]])
        wanted = hand.geographic(hand.geocentric(start) + hand.SHIFT_M)
        apart = hand.apart_m(np.array([*wanted[:2], 0.0]), np.array([*after, 0.0]))
        assert_allclose(apart[:2], 0.0, rtol=0, atol=2e-5)
    back = to_pixels(found, products.frame, products.elevation)
    assert_allclose(back, row_col, rtol=0, atol=1e-6)


def test_heights_rise_by_the_translation():
    products = products_with(table(**ON_ASSUMED))
    places = np.array(list(hand.BEFORE.values()))
    grid = pyproj.CRS(UTM)
    forward = pyproj.Transformer.from_crs(grid.geodetic_crs, grid, always_xy=True)
    east, north = forward.transform(places[:, 0], places[:, 1])
    found = height_change_m(np.column_stack([east, north, places[:, 2]]), products)
    expected = np.array(list(hand.AFTER.values()))[:, 2] - places[:, 2]
    assert_allclose(found, expected, rtol=0, atol=2e-5)


@pytest.mark.parametrize(
    ("points", "products"),
    [
        ("assumed", "assumed"),
        ("assumed", "precise"),
        ("assumed", "independent"),
        ("precise", "precise"),
        ("precise", "independent"),
    ],
)
def test_products_stay_where_they_do_not_lack_the_correction(points, products):
    found = products_with(table(points_use=points, products_use=products))
    assert found.elevation.transform == RASTER.transform
    assert found.elevation.notes == ()
    assert (height_change_m(np.full((2, 3), np.nan), found) == 0).all()
    assert product_remarks(found) == ()


def test_a_note_says_that_the_file_stays_as_it_is():
    (note,) = products_with(table(**ON_ASSUMED)).elevation.notes
    assert "surface.tif rests on the assumed position of the base" in note
    assert "+1.800 m east, −1.200 m north, +3.400 m up" in note


def test_marks_move_with_the_products():
    products = products_with(table(**ON_ASSUMED))
    plan = from_pixels(np.array([[100.0, 200.0], [2000.0, 1700.0]]), products.frame, RASTER)
    marks = marks_to_frame(
        survey_of(np.column_stack([plan, [1050.0, np.nan]]), source="marks.csv"),
        products,
        [Points(path="points.csv", crs=UTM, frame=FRAME, epoch=EPOCH)],
    )
    # The points' own correction never reaches them.
    assert_allclose(marks.position_m[:, :2], plan, rtol=0, atol=1e-9)
    moved = corrected_marks(marks, products)
    rise = moved.position_m[0, 2] - 1050.0
    start = np.array([*lon_lat(plan)[0], 1050.0])
    wanted = hand.geographic(hand.geocentric(start) + hand.SHIFT_M)
    assert_allclose(rise, wanted[2] - 1050.0, rtol=0, atol=2e-5)
    assert np.isnan(moved.position_m[1, 2])
    found = np.array([*lon_lat(moved.position_m[:1, :2])[0], wanted[2]])
    assert_allclose(hand.apart_m(wanted, found), 0.0, rtol=0, atol=2e-5)


def test_marks_stay_where_only_the_points_are_corrected():
    products = products_with(table())
    marks = marks_to_frame(survey_of([[705_000.0, 5_659_000.0]]), products, [Points(path="points.csv")])
    assert corrected_marks(marks, products) is marks


def test_raster_in_coordinates_of_a_site_moves_as_in_the_grid():
    site = SiteGrid(
        scale=1.000_2, origin_m=(0.0, 0.0), offset_m=(-100_000.0, 5_000.0), applies_to=("products",)
    )
    offset = np.array(site.offset_m)
    corner = tuple(float(value) for value in site.scale * np.array(ORIGIN) + offset)
    raster = raster_of(UTM, origin=corner, cell=2.0, shape=(2500, 2500))
    products = products_with(table(**ON_ASSUMED), raster=raster, site_grid=site)
    row_col = np.array([[1250.0, 900.0]])
    before, after = (
        (from_pixels(row_col, products.frame, info) - offset) / site.scale
        for info in (raster, products.elevation)
    )
    start = np.array([*lon_lat(before)[0], hand.ASSUMED[2]])
    wanted = hand.geographic(hand.geocentric(start) + hand.SHIFT_M)
    found = np.array([*lon_lat(after)[0], wanted[2]])
    assert_allclose(hand.apart_m(wanted, found), 0.0, rtol=0, atol=2e-5)


def test_products_of_the_base_that_they_rest_on_move_with_it():
    first = table(session="A", points_use="assumed", products_use="assumed")
    second = table(
        precise=geographic(place_of(-0.5, 0.25, 1.0)),
        session="B",
        points_use="assumed",
        products_use="independent",
    )
    products = products_with(first, second)
    alone = products_with(table(**ON_ASSUMED))
    assert_allclose(tuple(products.elevation.transform), tuple(alone.elevation.transform), rtol=0, atol=1e-9)


def test_gravity_related_heights_are_told_and_refused_like_those_of_points():
    level = {"height_system": "EPSG:5703"}
    (told,) = product_remarks(products_with(table(**ON_ASSUMED), **level))
    assert "surface.tif: the heights (EPSG:5703" in told
    far = table(precise=geographic(place_of(9.0, 0.0, 0.0)), **ON_ASSUMED)
    with pytest.raises(FrameError, match=r"moves by 9\.0 m in plan"):
        product_remarks(products_with(far, **level))
    assert product_remarks(products_with(far)) == ()


def test_products_in_another_frame_than_the_base_are_told():
    other = table(crs="EPSG:10413", epoch=None, **ON_ASSUMED)
    (told,) = product_remarks(products_with(other))
    assert "The map is in ITRF2020 and the positions of the base are in NAD83(CSRS)v8" in told
    with pytest.raises(FrameError, match=r"The map is at epoch 2020 and the base at 2026\.45"):
        product_remarks(products_with(table(**ON_ASSUMED), epoch=2020.0))


def test_products_in_a_local_grid_are_refused():
    with pytest.raises(FrameError, match="tied to no datum"):
        corrected_products(products_of(None), corrections_of(table(**ON_ASSUMED)))


def test_raster_that_is_not_there_is_not_missed():
    products = products_with(table(**ON_ASSUMED))
    assert replace(products, orthomosaic=None).orthomosaic is None
    assert products.orthomosaic is None
