"""Open data with known positions, brought in by the path of a user's file.

Origin and licence of each set stand in the SOURCE.md beside it; the sets are no part of the repository.
"""

import csv
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pyproj
import pytest
from numpy.testing import assert_allclose

from geoqa.errors import FrameError
from geoqa.numerics.arrays import FloatArray
from geoqa.units import LinearUnit
from tests.frame.scenes import brought, survey_of

REAL = Path(__file__).parents[2].parent / "shared" / "real"
METRE, FOOT, US_SURVEY_FOOT = LinearUnit

pytestmark = [
    pytest.mark.real,
    pytest.mark.skipif(not REAL.is_dir(), reason="the open data is not beside the repository"),
]


def columns(path: str, *names: str) -> FloatArray:
    """Return columns of a file with a header, shape (n, names)."""
    with (REAL / path).open(encoding="utf-8", newline="") as stream:
        return np.array([[float(row[name]) for name in names] for row in csv.DictReader(stream)])


def cells(path: str) -> list[list[str]]:
    """Return the cells of a file without a header."""
    with (REAL / path).open(encoding="utf-8", newline="") as stream:
        return list(csv.reader(stream))


def three_crs() -> FloatArray:
    return columns(
        "pdal-autzen/same_1065_points_three_crs.csv",
        *("x_epsg2994_ft", "y_epsg2994_ft", "z_ft"),
        *("x_epsg26910_m", "y_epsg26910_m", "z_m"),
        *("lon_deg", "lat_deg"),
    )


def test_feet_in_oregon_lambert_become_metres_in_utm():
    table = three_crs()
    survey = survey_of(table[:, :3], unit=FOOT, height_unit=FOOT)
    points = brought(survey, "EPSG:26910", {"crs": "EPSG:2992"})
    difference = points.position_m - table[:, 3:6]
    # The table was converted by others and rounded thrice: to 0.01 ft, to 1e-7 degree (11 mm), to 0.01 m.
    assert_allclose(difference[:, :2].mean(axis=0), 0.0, rtol=0, atol=2e-4)
    assert_allclose(difference[:, :2], 0.0, rtol=0, atol=0.0115)
    assert_allclose(difference[:, 2], 0.0, rtol=0, atol=0.0016)


def test_degrees_in_oregon_become_metres_in_utm():
    table = three_crs()
    points = brought(survey_of(table[:, 6:], geographic=True), "EPSG:26910")
    # Printed to 0.01 m.
    assert_allclose(points.position_m[:, :2], table[:, 3:5], rtol=0, atol=0.005)


@pytest.mark.parametrize(("table", "elevation"), [({}, {}), ({"frame": "EPSG:4152"}, {"frame": "EPSG:4269"})])
def test_harn_does_not_silently_become_nad83(table, elevation):
    # PROJ left alone goes through WGS 84 and lands 1.137 m east, 0.600 m north of the null shift (measured).
    survey = survey_of(three_crs()[:, :3], unit=FOOT, height_unit=FOOT)
    with pytest.raises(FrameError, match=r"us_noaa_nadcon5_nad83_1986_nad83_harn_conus\.tif.*pyproj sync"):
        brought(survey, "EPSG:26910", {"crs": "EPSG:2994", **table}, **elevation)


def test_checkpoints_in_metres_lie_on_the_same_checkpoints_in_feet():
    feet = columns("pdal-autzen/checkpoints_epsg2994_ft.csv", "easting_ft", "northing_ft", "elevation_ft")
    metres = columns("pdal-autzen/checkpoints_epsg3740_m.csv", "easting_m", "northing_m", "elevation_m")
    survey = survey_of(metres, unit=METRE, height_unit=METRE)
    in_metres = brought(survey, "EPSG:2994", {"crs": "EPSG:3740"}, unit="foot")
    in_feet = brought(survey_of(feet, unit=FOOT, height_unit=FOOT), "EPSG:2994", unit="foot")
    # Metres printed to 0.1 mm, feet to 0.01 ft as surveyed: half of 0.1 mm in each axis, turned by the grids.
    assert_allclose(in_metres.position_m[:, :2], in_feet.position_m[:, :2], rtol=0, atol=2e-4)
    assert_allclose(in_metres.position_m[:, 2], in_feet.position_m[:, 2], rtol=0, atol=5e-5)
    assert [step.title for step in in_metres.file_steps[0]] == ["projection change"]


def test_metres_in_plan_and_us_survey_feet_in_height():
    track = columns("pdal-autzen/track_2010_ground_points.csv", "easting_m", "northing_m", "height_ftUS")
    survey = survey_of(track, unit=METRE, height_unit=US_SURVEY_FOOT)
    points = brought(survey, "EPSG:2991+6360")
    assert_allclose(points.position_m[:, :2], track[:, :2], rtol=0, atol=0)
    # [NIST SP 811], appendix B.6.
    assert_allclose(points.position_m[:, 2], track[:, 2] * 1200 / 3937, rtol=1e-15, atol=0)
    assert points.file_steps[0][0].title == "unit"


def degrees(text: str) -> float:
    """Return degrees of an angle written D.MMSSsss."""
    sign = -1.0 if text.startswith("-") else 1.0
    whole, part = text.lstrip("-").split(".")
    return sign * (int(whole) + int(part[:2]) / 60 + float(f"{part[2:4]}.{part[4:]}") / 3600)


def test_australian_stations_come_into_the_zones_of_the_map_grid():
    places = {
        name: (degrees(lon), degrees(lat))
        for name, lat, lon in cells("gda-mga-points/Test_Conversion_Geo.csv")
    }
    grid = cells("gda-mga-points/Test_Conversion_Grid.csv")
    zones = {zone for _, zone, _, _ in grid}
    assert len(grid) == len(places) == 128
    for zone in zones:
        rows = [row for row in grid if row[1] == zone]
        survey = survey_of([places[name] for name, *_ in rows], geographic=True)
        points = brought(survey, f"EPSG:78{zone}", {"crs": "EPSG:7844"})
        published = np.array([[float(east), float(north)] for _, _, east, north in rows])
        # Printed to 1 mm.
        assert_allclose(points.position_m[:, :2], published, rtol=0, atol=5.1e-4)


@contextmanager
def grids_in(folder: Path) -> Iterator[None]:
    """Let PROJ find the grids of a folder."""
    before = pyproj.datadir.get_data_dir()
    pyproj.datadir.append_data_dir(str(folder))
    try:
        yield
    finally:
        pyproj.datadir.set_data_dir(before)


def test_a_grid_that_is_installed_is_used_and_named():
    folder = REAL / "os-ostn15-osgm15"
    given = columns(
        "os-ostn15-osgm15/OSTN15_OSGM15_TestInput_ETRStoOSGB.txt", "ETRS Longitude", "ETRS89 Latitude"
    )
    # Ordnance Survey's own test points of OSTN15, printed to 1 mm.
    published = columns("os-ostn15-osgm15/OSTN15_OSGM15_TestOutput_ETRStoOSGB.txt", "OSGBEast", "OSGBNorth")
    survey = survey_of(given, geographic=True)
    with grids_in(folder):
        points = brought(survey, "EPSG:27700", {"crs": "EPSG:4258"})
    # The grid is a resampled one: millimetres.
    assert_allclose(points.position_m[:, :2], published, rtol=0, atol=0.008)
    assert "grid uk_os_OSTN15_NTv2_OSGBtoETRS.tif" in points.file_steps[0][0].operation
    with pytest.raises(FrameError, match=r"uk_os_OSTN15_NTv2_OSGBtoETRS\.tif"):
        brought(survey, "EPSG:27700", {"crs": "EPSG:4258"})
