"""Positions to rows and columns and back, through any affine and any unit."""

import numpy as np
import pyproj
import pytest
from affine import Affine
from numpy.testing import assert_allclose

from geoqa.frame.rasters import covariance_to_m2, from_pixels, outline_m, to_pixels
from geoqa.records.points import CommonFrame
from geoqa.units import LinearUnit
from tests.frame.scenes import raster_of

METRE, FOOT, US_SURVEY_FOOT = LinearUnit


def frame_in(crs: str, unit: LinearUnit = METRE) -> CommonFrame:
    return CommonFrame(pyproj.CRS(crs), unit, "not stated")


UTM = frame_in("EPSG:25833")


def test_rows_and_columns_count_from_the_corner_of_the_first_pixel():
    info = raster_of("EPSG:25833", origin=(500_000.0, 5_400_010.0), cell=0.5)
    # By hand: the corner is 0, 0; the centre of the first pixel lies half a cell of 0.5 m inside.
    positions = np.array([[500_000.0, 5_400_010.0], [500_000.25, 5_400_009.75], [500_001.0, 5_400_008.0]])
    assert_allclose(to_pixels(positions, UTM, info), [[0, 0], [0.5, 0.5], [4, 2]], rtol=0, atol=1e-9)


def test_the_transform_counts_in_the_unit_of_the_crs():
    info = raster_of("EPSG:2994", origin=(636_000.0, 849_000.0), cell=3.0)
    frame = frame_in("EPSG:2994", FOOT)
    # [NIST SP 811], appendix B.6: the international foot is 0.3048 m.
    positions = np.array([[636_006.0, 848_991.0]]) * 0.3048
    assert_allclose(to_pixels(positions, frame, info), [[3.0, 2.0]], rtol=0, atol=1e-9)


@pytest.mark.parametrize(
    "transform",
    [
        Affine(0.02, 0.0, 5e5, 0.0, -0.02, 5.4e6),
        Affine(0.02, 0.0, 5e5, 0.0, 0.02, 5.4e6),  # south up
        Affine(17.32, 5.0, 5e5, 10.0, -8.66, 5.4e6),  # rotated and sheared
        Affine(300.038, 0.0, 5e5, 0.0, -300.042, 5.4e6),
    ],
)
@pytest.mark.parametrize("crs", ["EPSG:25833", "EPSG:25832"])
def test_back_from_pixels_is_where_one_started(transform, crs):
    info = raster_of(crs, transform=transform)
    row_col = np.random.default_rng(1).uniform(-100, 10_000, (50, 2))
    positions = from_pixels(row_col, UTM, info)
    assert_allclose(to_pixels(positions, UTM, info), row_col, rtol=0, atol=1e-6)


def test_a_raster_of_another_projection_is_reached_through_it():
    info = raster_of("EPSG:25832", origin=(691_875.6321, 6_098_907.8250))
    # 12° E, 55° N: PROJ, test/gie/epsg_no_grid.gie, gives easting and northing in zone 32. In zone 33 the
    # place lies as far west of the central meridian 15° as it lies east of 9° in zone 32.
    mirrored = [2 * 500_000.0 - 691_875.6321, 6_098_907.8250]
    assert_allclose(to_pixels(np.array([mirrored]), UTM, info), [[0.0, 0.0]], rtol=0, atol=2e-4)


def test_a_place_that_the_raster_cannot_express_has_no_pixel():
    info = raster_of("EPSG:25832")
    assert np.isnan(to_pixels(np.array([[9e15, 9e15], [np.nan, 0.0]]), UTM, info)).all()


def test_covariance_turns_with_the_axes():
    # Rows run south, columns east: row variance becomes north variance, the covariance changes its sign.
    info = raster_of("EPSG:25833", cell=0.5)
    pixels = np.array([[[0.04, 0.01], [0.01, 0.09]]])
    metres = covariance_to_m2(pixels, UTM, info, np.array([[10.0, 10.0]]))
    assert_allclose(metres, [[[0.0225, -0.0025], [-0.0025, 0.01]]], rtol=1e-12, atol=0)


def test_covariance_is_in_metres_also_where_the_raster_counts_in_feet():
    info = raster_of("EPSG:2994", cell=3.0)
    metres = covariance_to_m2(np.eye(2)[None], frame_in("EPSG:2994", FOOT), info, np.zeros((1, 2)))
    assert_allclose(metres, np.eye(2)[None] * (3 * 0.3048) ** 2, rtol=1e-12, atol=0)


def test_covariance_turns_by_the_convergence_between_two_grids():
    info = raster_of("EPSG:25832", origin=(691_875.6321, 6_098_907.8250), cell=0.1)
    pixels = np.array([[[0.0, 0.0], [0.0, 1.0]]])
    (metres,) = covariance_to_m2(pixels, UTM, info, np.zeros((1, 2)))
    # Convergence of a transverse Mercator grid (handbook formula): tan γ = tan Δλ sin φ; here 3° east of one
    # and 3° west of the other meridian at 55° N. East of its meridian grid north lies east of north, so the
    # rows' east points south of the east of the frame.
    turn = 2 * np.arctan(np.tan(np.radians(3.0)) * np.sin(np.radians(55.0)))
    east, north = np.cos(turn), -np.sin(turn)
    expected = np.array([[east * east, east * north], [east * north, north * north]]) * 0.01
    assert_allclose(metres, expected, rtol=0, atol=0.01 * 2e-4)


def test_unknown_covariance_stays_unknown():
    info = raster_of("EPSG:25833")
    assert np.isnan(covariance_to_m2(np.full((1, 2, 2), np.nan), UTM, info, np.zeros((1, 2)))).all()


def test_no_pixels_are_no_positions():
    for crs in ("EPSG:25833", "EPSG:25832"):
        info = raster_of(crs)
        assert from_pixels(np.empty((0, 2)), UTM, info).shape == (0, 2)
        assert to_pixels(np.empty((0, 2)), UTM, info).shape == (0, 2)
        assert covariance_to_m2(np.empty((0, 2, 2)), UTM, info, np.empty((0, 2))).shape == (0, 2, 2)


def test_the_outline_has_four_corners_in_the_frame_of_the_raster():
    info = raster_of("EPSG:2994", origin=(100.0, 200.0), cell=2.0, shape=(10, 20))
    expected = np.array([[100, 200], [140, 200], [140, 180], [100, 180]]) * 0.3048
    assert_allclose(outline_m(info, frame_in("EPSG:2994", FOOT)), expected, rtol=0, atol=1e-9)


def test_the_outline_follows_curved_edges_in_another_projection():
    info = raster_of("EPSG:25832", origin=(700_000.0, 5_800_000.0), cell=10.0, shape=(2000, 2000))
    ring = outline_m(info, UTM)
    middle = ring[len(ring) // 8]
    straight = (ring[0] + ring[len(ring) // 4]) / 2
    # A bend of metres over 20 km, which four corners would hide.
    assert 0.1 < np.linalg.norm(middle - straight) < 100.0
    back = to_pixels(ring, UTM, info)
    on_edge = np.minimum(np.abs(back), np.abs(back - 2000.0)).min(axis=1)
    assert_allclose(on_edge, 0.0, rtol=0, atol=1e-6)
