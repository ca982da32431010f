"""Coordinates of a site: there and back exactly, as the settings give them, and never estimated."""

import re

import numpy as np
import pyproj
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import FrameError
from geoqa.frame.declare import common_frame
from geoqa.frame.projection import from_geographic
from geoqa.frame.site_grid import combined_factor, to_grid, to_site
from geoqa.frame.transform import marks_to_frame
from geoqa.records.settings import Points, SiteGrid
from tests.frame.scenes import brought, raster_of, settings_of, survey_of

UTM11 = "EPSG:2955"
# Combined factor of UTM zone 11 at Calgary (51.0447 N, 114.0719 W, 1028.2 m): scale of the projection
# 1.00011730 times R / (R + h) = 0.99983893, and its inverse.
FACTOR = 0.99995621
GROUND = SiteGrid(scale=1 / FACTOR)
PLACE = np.array([[705_247.0, 5_658_875.0, 1028.2], [705_347.0, 5_658_975.0, 1028.2]])


def in_site(positions, site: SiteGrid):
    """Scale about the origin, then move: by hand."""
    plan = [
        [
            site.origin_m[0] + site.scale * (east - site.origin_m[0]) + site.offset_m[0],
            site.origin_m[1] + site.scale * (north - site.origin_m[1]) + site.offset_m[1],
        ]
        for east, north, _ in positions
    ]
    return np.column_stack([plan, positions[:, 2]])


SITES = [
    GROUND,
    SiteGrid(scale=1.0000438, origin_m=(705_000.0, 5_658_000.0)),
    SiteGrid(scale=1.00065, origin_m=(705_000.0, 5_658_000.0), offset_m=(-700_000.0, -5_600_000.0)),
    SiteGrid(scale=1.0, offset_m=(-500_000.0, -5_000_000.0)),
]


@pytest.mark.parametrize("site", SITES)
def test_points_of_a_site_come_into_the_grid_of_the_products(site):
    points = brought(survey_of(in_site(PLACE, site)), UTM11, {"crs": UTM11}, site_grid=site)
    assert_allclose(points.position_m, PLACE, rtol=0, atol=1e-8)
    step = points.file_steps[0][0]
    assert step.title == "site grid"
    assert step.operation.startswith("site to grid: scale 1")
    assert_allclose(step.change_m, PLACE - in_site(PLACE, site), rtol=0, atol=1e-8)
    assert step.accuracy_m is None
    assert step.exact


def test_a_distance_on_the_ground_is_a_distance_in_the_site():
    # 100 m on the ground are 100 m times the combined factor in the grid.
    between = np.diff(in_site(PLACE, GROUND)[:, :2], axis=0)
    assert_allclose(np.hypot(*between[0]), np.hypot(100.0, 100.0) / FACTOR, rtol=0, atol=1e-8)
    # Scaled about the false origin the coordinates move by hundreds of metres: (1 / CF − 1) · N.
    assert_allclose((in_site(PLACE, GROUND) - PLACE)[0, 1], 5_658_875 * (1 / FACTOR - 1), rtol=1e-9, atol=0)


@pytest.mark.parametrize("site", SITES)
def test_there_and_back_is_where_one_started(site):
    plan = PLACE[:, :2]
    assert_allclose(to_grid(to_site(plan, site), site), plan, rtol=0, atol=2e-9)
    assert_allclose(to_site(plan, site), in_site(PLACE, site)[:, :2], rtol=0, atol=2e-9)


@pytest.mark.parametrize("site", SITES)
def test_points_of_the_grid_come_into_the_site_of_the_products(site):
    local = site.model_copy(update={"applies_to": ("products",)})
    points = brought(survey_of(PLACE), UTM11, {"crs": UTM11}, site_grid=local)
    assert_allclose(points.position_m, in_site(PLACE, site), rtol=0, atol=1e-8)
    assert points.file_steps[0][-1].operation.startswith("grid to site")


def test_points_and_products_of_one_site_are_left_alone():
    both = SITES[2].model_copy(update={"applies_to": ("points", "products")})
    survey = survey_of(in_site(PLACE, both))
    points = brought(survey, UTM11, {"crs": UTM11}, site_grid=both)
    assert_allclose(points.position_m, survey.coordinates, rtol=0, atol=0)
    assert points.file_steps == ((),)


def test_points_of_a_site_in_another_grid_go_through_both():
    # Points in a site over zone 12, products in a site over zone 11, one datum.
    both = SiteGrid(scale=1.0005, origin_m=(500_000.0, 5_658_000.0), applies_to=("points", "products"))
    zone_12 = from_geographic(np.array([[-114.0719, 51.0447]]), pyproj.CRS("EPSG:2956"))
    zone_11 = from_geographic(np.array([[-114.0719, 51.0447]]), pyproj.CRS(UTM11))
    survey = survey_of(in_site(np.column_stack([zone_12, [0.0]]), both))
    points = brought(survey, UTM11, {"crs": "EPSG:2956"}, site_grid=both)
    expected = in_site(np.column_stack([zone_11, [0.0]]), both)
    assert_allclose(points.position_m[:, :2], expected[:, :2], rtol=0, atol=1e-6)
    assert [step.title for step in points.file_steps[0]] == ["site grid", "projection change", "site grid"]


def test_origin_and_offset_are_metres_whatever_the_unit_of_the_grid():
    site = SiteGrid(scale=1.0002, origin_m=(200_000.0, 100_000.0), offset_m=(10.0, -20.0))
    feet = np.array([[1_000_000.0, 500_000.0]])
    metres = feet * 0.3048
    survey = survey_of(in_site(np.column_stack([metres, [0.0]]), site)[:, :2] / 0.3048)
    points = brought(survey, "EPSG:2994", {"crs": "EPSG:2994"}, unit="foot", site_grid=site)
    assert_allclose(points.position_m[:, :2], metres, rtol=0, atol=1e-8)


def test_the_frame_says_that_it_is_that_of_the_site():
    site = GROUND.model_copy(update={"applies_to": ("products",)})
    frame = common_frame(None, raster_of(UTM11), settings_of(site_grid=site), None).frame
    assert frame.name == "site grid, scaled from NAD83(CSRS) / UTM zone 11N (EPSG:2955)"
    assert any("coordinates of the site" in said for said in frame.assumptions)
    plain = common_frame(None, raster_of(UTM11), settings_of(site_grid=GROUND), None).frame
    assert plain.name.startswith("NAD83(CSRS)")


def test_degrees_are_no_coordinates_of_a_site():
    survey = survey_of([[-114.0719, 51.0447]], geographic=True)
    with pytest.raises(FrameError, match=r"points\.csv: .*counts in degrees.*applies_to"):
        brought(survey, UTM11, site_grid=GROUND)
    local = GROUND.model_copy(update={"applies_to": ("products",)})
    products = settings_of(site_grid=local)
    with pytest.raises(FrameError, match=r"The products: .*EPSG:4258 counts in degrees"):
        common_frame(None, raster_of("EPSG:4258", origin=(10.0, 50.0), cell=1e-6), products, None)
    with pytest.raises(FrameError, match=r"EPSG:3857, which does not count metres.*applies_to"):
        common_frame(None, raster_of("EPSG:3857", origin=(1e6, 6e6)), products, None)


@pytest.mark.parametrize(("scale", "told"), [(1.0011, True), (0.9989, True), (1.0009, False), (1.0, False)])
def test_a_scale_beyond_any_site_is_told(scale, told):
    site = SiteGrid(scale=scale)
    points = brought(survey_of(in_site(PLACE, site)), UTM11, {"crs": UTM11}, site_grid=site)
    assert any("parts in a million from 1" in said for said in points.messages) is told


def test_the_inverse_of_the_scale_that_fits_is_told():
    upside_down = SiteGrid(scale=FACTOR)
    points = brought(survey_of(in_site(PLACE, upside_down)), UTM11, {"crs": UTM11}, site_grid=upside_down)
    (told,) = [said for said in points.messages if "combined factor" in said]
    assert re.search(r"0\.999956\d\d here", told)
    assert re.search(r"1\.00004\d{3} fits", told)
    right = brought(survey_of(in_site(PLACE, GROUND)), UTM11, {"crs": UTM11}, site_grid=GROUND)
    assert not any("combined factor" in said for said in right.messages)


@pytest.mark.parametrize(
    ("code", "lat", "lon", "height", "expected"),
    [
        # Scale of the projection from the EPSG parameters times R / (R + h), R = √(M N), computed apart
        # (shared check values, regression_values.json, scale_factors).
        ("EPSG:2955", 51.0447, -114.0719, 1028.2, 0.9999562091),
        ("EPSG:3776", 51.0447, -114.0719, 1028.2, 0.9997392596),
        ("EPSG:26913", 39.74, -104.99, 1591.7, 0.9993504612),
        ("EPSG:6428", 39.74, -104.99, 1591.7, 0.9997483898),
        # On the central meridian of UTM at the ellipsoid: 0.9996 by definition (EPSG method 9807).
        ("EPSG:32611", 51.0, -117.0, 0.0, 0.9996),
    ],
)
def test_combined_factors(code, lat, lon, height, expected):
    crs = pyproj.CRS(code)
    place = from_geographic(np.array([[lon, lat]]), crs)[0]
    assert_allclose(combined_factor(crs, place, height), expected, rtol=0, atol=1e-9)


def test_marks_on_the_map_are_in_the_coordinates_of_the_map():
    # Points are those of the site, the map is in the grid: a mark picked on the map is in the grid too.
    settings = settings_of([{"crs": UTM11}], orthomosaic={}, site_grid=GROUND)
    products = common_frame(raster_of(UTM11), raster_of(UTM11), settings, None)
    marks = survey_of(PLACE[:, :2], source="marks.csv")
    declared = [Points(path="points.csv", crs=UTM11)]
    on_map = marks_to_frame(marks, products, declared, site_grid=GROUND)
    assert_allclose(on_map.position_m[:, :2], PLACE[:, :2], rtol=0, atol=0)
    two_lists = common_frame(None, None, settings_of([{"crs": UTM11}]), pyproj.CRS(UTM11))
    beside = marks_to_frame(survey_of(in_site(PLACE, GROUND)), two_lists, declared, site_grid=GROUND)
    assert_allclose(beside.position_m[:, :2], PLACE[:, :2], rtol=0, atol=1e-8)
