"""Height systems and whether two are one."""

import pyproj
import pytest

from geoqa.errors import FrameError, InputError
from geoqa.frame.heights import UNSTATED_HEIGHTS, feet_of, height_system, of_vertical, same_height_datum
from geoqa.units import LinearUnit


@pytest.mark.parametrize("code", ["EPSG:5703", "EPSG:6360", "EPSG:8228"])
def test_navd88_is_one_surface_in_metres_and_in_either_foot(code):
    # EPSG dataset: vertical datum 5103 for all three.
    assert same_height_datum(height_system("EPSG:5703", "x"), height_system(code, "x"))


@pytest.mark.parametrize("version", ["WKT1_GDAL", "WKT2_2019"])
def test_the_spelling_does_not_make_another_surface(version):
    vertical = pyproj.CRS(pyproj.CRS("EPSG:6360").to_wkt(version))
    assert same_height_datum(of_vertical(vertical, "x"), height_system("EPSG:5703", "x"))


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("EPSG:5703", "ellipsoidal"),
        ("EPSG:5703", "EPSG:5713"),
        ("EPSG:9245", "EPSG:20034"),  # CGVD2013a at 2010 and at 2002
        ("EPSG:5773", "EPSG:3855"),
    ],
)
def test_other_surfaces_are_other_systems(first, second):
    assert not same_height_datum(height_system(first, "x"), height_system(second, "x"))


def test_ellipsoidal_is_written_in_any_case():
    assert height_system(" Ellipsoidal", "x").is_ellipsoidal


def test_only_feet_state_a_unit():
    units = {code: feet_of(height_system(code, "x"), "x") for code in ("EPSG:5703", "EPSG:6360", "EPSG:8228")}
    assert units == {"EPSG:5703": None, "EPSG:6360": LinearUnit.US_SURVEY_FOOT, "EPSG:8228": LinearUnit.FOOT}
    assert feet_of(UNSTATED_HEIGHTS, "x") is None


@pytest.mark.parametrize(
    ("text", "error", "words"),
    [
        ("EPSG:25833", FrameError, "no vertical CRS"),
        ("EPSG:6319", FrameError, "no vertical CRS"),
        ("EPSG:5715", FrameError, "downwards"),
        ("orthometric", InputError, "no coordinate reference system"),
    ],
)
def test_what_is_no_height_system_is_refused(text, error, words):
    with pytest.raises(error, match=rf"elevation\.height_system: .*{words}"):
        height_system(text, "elevation.height_system")
