"""Which names are one datum, and which leave the realisation open."""

import pyproj
import pytest

from geoqa.errors import FrameError
from geoqa.frame.axes import local_grid
from geoqa.frame.datums import (
    counts_from_greenwich,
    geographic,
    is_dynamic,
    is_indefinite,
    named_frame,
    realisation,
    same_datum,
)
from geoqa.units import LinearUnit

CODES = ["EPSG:25833", "EPSG:32633", "EPSG:2994", "EPSG:6339", "EPSG:2955", "EPSG:7855", "EPSG:2193"]


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("version", ["WKT1_GDAL", "WKT1_ESRI", "WKT2_2015", "WKT2_2019"])
def test_the_spelling_does_not_make_another_datum(code, version):
    crs = pyproj.CRS(code)
    assert same_datum(crs, pyproj.CRS(crs.to_wkt(version)))


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("EPSG:25832", "EPSG:4258"),
        ("EPSG:25832", "EPSG:4937"),
        ("EPSG:9988", "EPSG:9990"),
        ("EPSG:2994", "EPSG:3740"),
    ],
)
def test_projection_and_dimension_do_not_make_another_datum(first, second):
    assert same_datum(pyproj.CRS(first), pyproj.CRS(second))


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("EPSG:4326", "EPSG:9755"),  # WGS 84 and one of its realisations
        ("EPSG:4258", "EPSG:7931"),  # ETRS89 and ETRF2000
        ("EPSG:4617", "EPSG:8255"),  # NAD83(CSRS) and version 7 of it
        ("EPSG:4269", "EPSG:6318"),
        ("EPSG:4269", "EPSG:4152"),
        ("EPSG:4283", "EPSG:7844"),
        ("EPSG:4258", "EPSG:4326"),
        ("EPSG:4807", "EPSG:4275"),  # one triangulation, from Paris and from Greenwich
    ],
)
def test_another_realisation_is_another_datum(first, second):
    assert not same_datum(pyproj.CRS(first), pyproj.CRS(second))


def test_a_local_grid_has_the_datum_of_itself_alone():
    grid = local_grid(LinearUnit.METRE)
    assert same_datum(grid, local_grid(LinearUnit.METRE))
    assert not same_datum(grid, pyproj.CRS("EPSG:25832"))
    with pytest.raises(FrameError, match="tied to no datum"):
        geographic(grid, "points.csv")


@pytest.mark.parametrize(
    ("code", "open_"),
    [
        ("EPSG:4326", True),
        ("EPSG:32633", True),
        ("+proj=utm +zone=33 +datum=WGS84", True),
        ("ESRI:102100", True),
        ("EPSG:26910", True),
        ("EPSG:2955", True),
        ("EPSG:25833", False),  # ensemble of 0.1 m
        ("EPSG:6339", False),
        ("EPSG:2994", False),
        ("EPSG:9989", False),
        ("EPSG:9755", False),
        ("EPSG:27700", False),
    ],
)
def test_names_that_stand_for_several_realisations_are_known(code, open_):
    assert is_indefinite(pyproj.CRS(code)) is open_


@pytest.mark.parametrize(
    ("code", "moving"),
    [
        ("EPSG:9989", True),
        ("EPSG:7789", True),
        ("EPSG:9754", True),
        ("EPSG:22811", False),
        ("EPSG:7855", False),
        ("EPSG:7931", False),
        ("EPSG:4258", False),
    ],
)
def test_coordinates_move_in_global_frames_and_stay_on_a_plate(code, moving):
    assert is_dynamic(pyproj.CRS(code)) is moving


@pytest.mark.parametrize("code", ["EPSG:9988", "EPSG:9989", "EPSG:9990"])
def test_a_frame_may_be_named_by_any_of_its_codes(code):
    assert same_datum(named_frame(code, "points.frame"), pyproj.CRS("EPSG:9989"))


def test_wgs84_and_grs80_count_as_one_figure():
    assert realisation("EPSG:6319", pyproj.CRS("EPSG:32611"), "orthomosaic.frame").name == "NAD83(2011)"


def test_a_frame_on_another_figure_is_refused():
    with pytest.raises(FrameError, match=r"orthomosaic\.frame: ETRF2000 cannot be the realisation"):
        realisation("EPSG:7931", pyproj.CRS("EPSG:31467"), "orthomosaic.frame")


def test_paris_is_not_greenwich():
    assert counts_from_greenwich(pyproj.CRS("EPSG:4979"))
    assert not counts_from_greenwich(geographic(pyproj.CRS("EPSG:27572"), "x"))  # grads from Paris
    assert not counts_from_greenwich(geographic(pyproj.CRS("EPSG:4805"), "x"))  # degrees from Ferro
