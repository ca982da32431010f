"""Parts, names, directions and units of coordinate reference systems."""

import pyproj
import pytest

from geoqa.errors import FrameError, InputError
from geoqa.frame.axes import (
    crs_name,
    crs_title,
    equal_crs,
    height_axis_unit,
    is_local,
    local_grid,
    parse_crs,
    parts,
    plan_unit,
)
from geoqa.frame.datums import same_datum
from geoqa.units import LinearUnit

METRE, FOOT, US_SURVEY_FOOT = LinearUnit


@pytest.mark.parametrize(
    "text",
    [
        "EPSG:25833",
        "epsg:25833",
        "25833",
        "urn:ogc:def:crs:EPSG::25833",
        pyproj.CRS("EPSG:25833").to_wkt("WKT1_GDAL"),
        pyproj.CRS("EPSG:25833").to_wkt("WKT1_ESRI"),
        pyproj.CRS("EPSG:25833").to_wkt("WKT2_2019"),
    ],
)
def test_every_spelling_of_a_crs_is_the_same_crs(text):
    assert equal_crs(parse_crs(text, "points.crs"), pyproj.CRS("EPSG:25833"))


def test_an_old_spelling_is_read_without_a_warning():
    assert parse_crs("+init=epsg:25833", "points.crs").is_projected


@pytest.mark.parametrize(
    "text", ["EPSG:99999", "EPSG:25833+99999", "+proj=nonsense", "UTM somewhere", "x" * 500]
)
def test_what_proj_does_not_know_is_refused_in_one_sentence_that_names_the_key(text):
    with pytest.raises(InputError, match=r"^points\.crs: “.*” is no coordinate reference system") as caught:
        parse_crs(text, "points.crs")
    assert len(str(caught.value)) < 300


def test_a_compound_crs_has_two_parts():
    found = parts(parse_crs("EPSG:6340+6360", "x"), "x")
    assert crs_name(found.horizontal) == "EPSG:6340"
    assert found.vertical is not None
    assert crs_name(found.vertical) == "EPSG:6360"
    assert crs_name(parse_crs("EPSG:6340+6360", "x")) == "EPSG:6340+EPSG:6360"


def test_a_third_axis_is_the_ellipsoidal_height():
    found = parts(pyproj.CRS("EPSG:6319"), "x")
    assert found.ellipsoidal
    assert found.vertical is None
    assert equal_crs(found.horizontal, pyproj.CRS("EPSG:6318"))


def test_transformation_parameters_that_a_crs_carries_are_left_out():
    found = parts(pyproj.CRS("+proj=utm +zone=33 +ellps=bessel +towgs84=598,74,418"), "x")
    assert not found.horizontal.is_bound


def test_a_crs_without_plan_coordinates_is_refused():
    with pytest.raises(FrameError, match=r"EPSG:5703 .* vertical CRS"):
        parts(pyproj.CRS("EPSG:5703"), "points.crs")


def test_a_geocentric_crs_names_its_datum():
    found = parts(pyproj.CRS("EPSG:9988"), "x")
    assert found.ellipsoidal
    assert found.horizontal.is_geographic
    assert same_datum(found.horizontal, pyproj.CRS("EPSG:9990"))


@pytest.mark.parametrize(
    ("code", "unit"),
    [
        # EPSG dataset: units of the axes.
        ("EPSG:25833", METRE),
        ("EPSG:2994", FOOT),
        ("EPSG:6428", US_SURVEY_FOOT),
        ("EPSG:2193", METRE),  # northing stands first
        ("EPSG:3031", METRE),  # both axes point north
        ("EPSG:4326", None),
    ],
)
def test_the_unit_is_that_of_the_axes(code, unit):
    assert plan_unit(pyproj.CRS(code), "x") is unit


@pytest.mark.parametrize(
    ("code", "word"),
    [
        ("EPSG:2054", "westing"),  # Lo grids of South Africa, EPSG method 9808
        ("EPSG:5513", "southing"),  # Krovak
        ("EPSG:4807", "grad"),
        ("EPSG:2314", "Clarke's foot"),
    ],
)
def test_axes_and_units_that_are_not_understood_are_refused(code, word):
    with pytest.raises(FrameError, match=word):
        plan_unit(pyproj.CRS(code), "surface.tif")


def test_depths_are_refused():
    with pytest.raises(FrameError, match="downwards"):
        height_axis_unit(pyproj.CRS("EPSG:5715"), "elevation.height_system")


@pytest.mark.parametrize("unit", list(LinearUnit))
def test_a_local_grid_keeps_its_unit_and_is_tied_to_no_place(unit):
    grid = local_grid(unit)
    assert is_local(grid)
    assert plan_unit(grid, "x") is unit
    assert crs_title(grid) == "Local grid"
