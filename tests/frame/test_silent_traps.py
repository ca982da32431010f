"""What PROJ, GDAL and tables of text do without a word: each ends in a refusal or in the right number.

The behaviour was measured with pyproj 3.7.2 (PROJ 9.5.1, no grids, network off) and rasterio 1.4.4; the
tests hold on every version.
"""

import re
from pathlib import Path

import numpy as np
import pyproj
import pytest
import rasterio
from affine import Affine
from numpy.testing import assert_allclose

from geoqa.errors import FrameError
from geoqa.frame.declare import common_frame
from geoqa.readers.points import PointsRequest, read_points
from geoqa.readers.rasters import read_info
from geoqa.readers.surface import read_surface
from geoqa.records.measurements import SurfaceStatus
from tests.frame.scenes import brought, settings_of, survey_of
from tests.frame.test_transform import TIE_OR_NONE, by_hand, degrees_of

CALGARY, DENVER, OREGON = (-114.0719, 51.0447), (-104.99, 39.74), (-123.07, 44.05)
GERMANY, SWEDEN, SYDNEY, LONDON = (9.0, 48.0), (17.0, 59.0), (151.2, -33.9), (-0.1, 51.5)
AT = {"epoch": 2026.45}
WGS84_OPEN = r"WGS 84 leaves open by more than 0\.1 m"
CSRS_OPEN = r"NAD83\(CSRS\) leaves open by more than 0\.1 m"

# What PROJ would silently take, and by how much that is wrong.
DATUM_TRAPS = {
    "ITRF2020 to NAD83(CSRS): ballpark, 1.5 m": ("EPSG:9989", "EPSG:2955", AT, CALGARY, CSRS_OPEN),
    "NAD83(CSRS) to ITRF2020: ballpark, 1.5 m": ("EPSG:4955", "EPSG:22811", {}, CALGARY, CSRS_OPEN),
    "WGS 84 to NAD83(2011): null, 1.6 m": ("EPSG:4979", "EPSG:6340", {}, OREGON, WGS84_OPEN),
    "WGS 84 (2D) to NAD83(2011): null, 1.6 m": ("EPSG:4326", "EPSG:6340", {}, OREGON, WGS84_OPEN),
    "WGS 84 to ETRS89: null, 0.9 m": ("EPSG:4979", "EPSG:25832", {}, GERMANY, WGS84_OPEN),
    "WGS 84 to GDA2020: null, up to 1.8 m": ("EPSG:4326", "EPSG:7856", {}, SYDNEY, WGS84_OPEN),
    "ETRS89 to WGS 84: null, 0.9 m": ("EPSG:4258", "EPSG:32632", {}, GERMANY, WGS84_OPEN),
    "WGS 84 to NAD83(CSRS): static, decimetres": ("EPSG:4979", "EPSG:22811", {}, CALGARY, WGS84_OPEN),
    "ITRF2020 to WGS 84 in North America: 1.6 m": ("EPSG:9989", "EPSG:32613", AT, DENVER, WGS84_OPEN),
    "ITRF2020 to WGS 84 elsewhere: none": ("EPSG:9989", "EPSG:32632", AT, GERMANY, WGS84_OPEN),
    "NAD83(CSRS)v7 to NAD83(CSRS): ballpark": ("EPSG:8254", "EPSG:2955", {}, CALGARY, CSRS_OPEN),
    "ITRF2020 to ETRS89: the first of four, 8 cm": ("EPSG:9989", "EPSG:25832", AT, GERMANY, TIE_OR_NONE),
    "ITRF2020 to Sweden: ballpark, 0.9 m": (
        *("EPSG:9989", "EPSG:25833", AT, SWEDEN),
        r"no operation .* eur_nkg_nkgrf17vel\.tif",
    ),
    "NAD83(2011) to NAD83: null, 0.2 m": (
        *("EPSG:6319", "EPSG:26910", {}, OREGON),
        r"us_noaa_nadcon5_nad83_1986_nad83_harn_conus\.tif|NAD83 leaves open",
    ),
    "NAD83 to NAD83(2011): null, 0.2 m": (
        *("EPSG:4269", "EPSG:6339", {}, OREGON),
        r"us_noaa_nadcon5|NAD83 leaves open",
    ),
    "ITRF2020 to NAD83(CSRS)v8 without an epoch: that of 2010, 0.3 m": (
        *("EPSG:9989", "EPSG:22811", {}, CALGARY),
        r"ITRF2020, the datum of the points, is dynamic.*points\.epoch",
    ),
    "ITRF2014 to GDA2020 without an epoch: that of 2020, 0.4 m": (
        *("EPSG:7912", "EPSG:7856", {}, SYDNEY),
        r"ITRF2014, the datum of the points, is dynamic.*points\.epoch",
    ),
    "ETRS89 to OSGB36 without the grid: 5 m": (
        *("EPSG:4258", "EPSG:27700", {}, LONDON),
        r"uk_os_OSTN15_NTv2_OSGBtoETRS\.tif",
    ),
}


@pytest.mark.parametrize("name", DATUM_TRAPS)
def test_a_silent_change_of_datum_is_refused(name):
    source, target, table, place, words = DATUM_TRAPS[name]
    survey = survey_of([[*place, 100.0]], geographic=True)
    table = {"crs": source, "height_system": "ellipsoidal", **table}
    with pytest.raises(FrameError, match=words):
        brought(survey, target, table, height_system="ellipsoidal")


HEIGHT_TRAPS = {
    "NAVD88": ("EPSG:6319", "EPSG:6342", {}, DENVER, "EPSG:5703", r"us_noaa_g2018u0\.tif"),
    "NAVD88 in feet": ("EPSG:6319", "EPSG:6342", {}, DENVER, "EPSG:6360", r"us_noaa_g2018u0\.tif"),
    "NAVD88 through a datum": (
        *("EPSG:9989", "EPSG:6342", AT, DENVER, "EPSG:5703"),
        r"us_noaa_g2018u0|no operation",
    ),
    "CGVD2013a": ("EPSG:10413", "EPSG:22811", {}, CALGARY, "EPSG:9245", r"ca_nrc_CGG2013an83\.tif"),
    "CGVD2013a through a datum": (
        *("EPSG:9989", "EPSG:22811", AT, CALGARY, "EPSG:9245"),
        r"ca_nrc_CGG2013an83\.tif",
    ),
    "CGVD2013a without its realisation": ("EPSG:9989", "EPSG:2955", AT, CALGARY, "EPSG:9245", CSRS_OPEN),
    "EGM96": ("EPSG:4979", "EPSG:32632", {}, GERMANY, "EPSG:5773", r"us_nga_egm96_15\.tif"),
    "EGM2008": ("EPSG:4979", "EPSG:32632", {}, GERMANY, "EPSG:3855", r"us_nga_egm08_25\.tif"),
    "DHHN2016": ("EPSG:4937", "EPSG:25832", {}, GERMANY, "EPSG:7837", r"de_bkg_gcg2016\.tif|GCG2016\.txt"),
    "AHD": ("EPSG:7843", "EPSG:7856", {}, SYDNEY, "EPSG:5711", r"au_ga_AUSGeoid2020_\d+\.tif"),
    "ODN": ("EPSG:4937", "EPSG:27700", {}, LONDON, "EPSG:5701", r"uk_os_OS\w+\.tif|No operation .* is known"),
}


@pytest.mark.parametrize("name", HEIGHT_TRAPS)
@pytest.mark.parametrize("upwards", [False, True])
def test_a_height_without_its_geoid_is_refused_and_never_left_as_it_is(name, upwards):
    source, target, table, place, vertical, words = HEIGHT_TRAPS[name]
    survey = survey_of([[*place, 100.0]], geographic=True)
    first, second = (vertical, "ellipsoidal") if upwards else ("ellipsoidal", vertical)
    feet = vertical == "EPSG:6360" and upwards
    stated = {"crs": source, "height_system": first, **table}
    stated |= {} if feet else {"height_unit": "metre"}
    with pytest.raises(FrameError, match=words):
        brought(survey, target, stated, height_system=second)


def test_a_compound_crs_of_a_vector_file_is_no_way_around():
    # GDAL and geopandas: 100.0 stays 100.0 from EPSG:25833+5773 to EPSG:4979.
    survey = survey_of([[500_000.0, 5_400_000.0, 100.0]], crs=pyproj.CRS("EPSG:25833+5773"))
    with pytest.raises(FrameError, match=r"EPSG:5773 .*us_nga_egm96_15\.tif"):
        brought(survey, "EPSG:25833", height_system="ellipsoidal")


def test_the_right_time_dependent_operation_is_taken():
    # NAD83(CSRS)v8, NRCan's parameters applied by hand; NAD83(2011), GDA2020: `test_transform`.
    survey = survey_of([[*CALGARY, 1045.0]], geographic=True)
    points = brought(survey, "EPSG:22811", {"crs": "EPSG:9989", **AT}, height_system="ellipsoidal")
    expected = by_hand(*CALGARY, 1045.0, 2026.45)
    assert_allclose(degrees_of(points.position_m[0], "EPSG:22811"), expected[:2], rtol=0, atol=1e-9)
    assert_allclose(points.position_m[0, 2], expected[2], rtol=0, atol=1e-4)


@pytest.mark.parametrize("code", ["EPSG:9990", "EPSG:9989"])
def test_a_two_dimensional_code_does_not_lose_the_change_of_height(code):
    # PROJ passes the third coordinate of a 2D CRS through: 0.40 m too low here.
    survey = survey_of([[*CALGARY, 1045.0]], geographic=True)
    table = {"crs": code, "height_system": "ellipsoidal", **AT}
    points = brought(survey, "EPSG:22811", table, height_system="ellipsoidal")
    assert_allclose(points.position_m[0, 2], by_hand(*CALGARY, 1045.0, 2026.45)[2], rtol=0, atol=1e-4)


@pytest.mark.parametrize("grid", ["EPSG:32611", "EPSG:32756", "EPSG:25832", "EPSG:25833"])
def test_one_label_on_both_sides_runs_without_settings_and_says_what_it_takes(grid):
    survey = survey_of([[500_000.0, 5_400_000.0, 100.0]])
    for table in ({}, {"crs": grid}):
        points = brought(survey, grid, table)
        assert_allclose(points.position_m, survey.coordinates, rtol=0, atol=0)
        assert any("taken to be in" in said for said in points.assumptions)


def test_operations_between_datums_are_those_of_pyproj_alone():
    # rasterio, pyogrio and pyproj each carry a PROJ of their own, with other grids and another data set.
    package = Path(__file__).parents[2] / "geoqa"
    found = [
        f"{path.name}: {line.strip()}"
        for path in package.rglob("*.py")
        for line in path.read_text("utf-8").splitlines()
        if re.search(r"\.to_crs\(|rasterio\.warp|WarpedVRT|rasterio\.vrt", line)
    ]
    assert found == []


def ellipsoidal_raster(folder: Path) -> Path:
    path = folder / "surface.tif"
    crs = rasterio.crs.CRS.from_wkt(pyproj.CRS("EPSG:25833").to_3d().to_wkt())
    profile = {"driver": "GTiff", "width": 8, "height": 8, "count": 1, "dtype": "float32"}
    with rasterio.open(path, "w", crs=crs, transform=Affine(1, 0, 5e5, 0, -1, 5.4e6), **profile) as target:
        target.write(np.full((8, 8), 100.0, dtype="float32"), 1)
    return path


def test_a_height_system_that_stood_in_a_lost_side_file_is_asked_for(tmp_path):
    path = ellipsoidal_raster(tmp_path)
    with_side_file = common_frame(None, read_info(str(path)), settings_of(), None)
    assert with_side_file.frame.height_system == "ellipsoidal"
    for side_file in tmp_path.glob("*.aux.xml"):
        side_file.unlink()
    # Named again by its plan CRS, the raster does not pass for one of heights in no matter what system.
    named = settings_of(elevation={"crs": "EPSG:25833"})
    without = common_frame(None, read_info(str(path), crs="EPSG:25833"), named, None)
    assert without.frame.height_system == "not stated"
    assert any("Nothing states the height system" in said for said in without.frame.assumptions)


def test_a_point_off_the_raster_has_no_height_of_zero(tmp_path):
    info = read_info(str(ellipsoidal_raster(tmp_path)))
    places = np.array([[4.0, 4.0], [-3.0, 4.0], [4.0, 99.0]])
    samples = read_surface(info, places, value_unit_m=1.0, sought=np.ones(3, dtype=bool))
    assert samples.statuses == (SurfaceStatus.SAMPLED, SurfaceStatus.OUTSIDE, SurfaceStatus.OUTSIDE)
    assert np.isnan(samples.height_m[1:]).all()


def test_heights_are_bilinear_and_not_those_of_the_nearest_cell(tmp_path):
    path = tmp_path / "plane.tif"
    profile = {"driver": "GTiff", "width": 8, "height": 8, "count": 1, "dtype": "float32"}
    with rasterio.open(
        path, "w", crs="EPSG:25833", transform=Affine(1, 0, 5e5, 0, -1, 5.4e6), **profile
    ) as target:
        target.write(np.tile(100.0 + np.arange(8, dtype="float32"), (8, 1)), 1)
    samples = read_surface(
        read_info(str(path)), np.array([[4.0, 2.7]]), value_unit_m=1.0, sought=np.ones(1, dtype=bool)
    )
    # Slope 1:1, cell centres at .5: 100 + 2.7 − 0.5; the nearest cell holds 102.
    assert_allclose(samples.height_m, [102.2], rtol=0, atol=1e-5)


def test_eastings_keep_their_millimetres():
    # Single precision would lose 31 mm at 500 000 m, 0.25 m at 5 400 000 m.
    survey = survey_of([[500_000.1234, 5_400_000.5678, 100.0]])
    points = brought(survey, "EPSG:25833")
    assert_allclose(points.position_m[0, :2], [500_000.1234, 5_400_000.5678], rtol=0, atol=1e-9)


def test_names_of_points_and_decimal_commas_are_read_as_written(tmp_path):
    path = tmp_path / "points.csv"
    path.write_text("id;easting;northing;height\n001;500000,123;5400000,456;100,5\nNA;500001;5400001;101\n")
    points = read_points(str(path), PointsRequest())
    assert points.ids == ("001", "NA")
    assert_allclose(points.coordinates[0], [500_000.123, 5_400_000.456, 100.5], rtol=0, atol=1e-9)
