"""The first points in words: names, numbers, units and CRS as in the file. All points are invented."""

from dataclasses import replace

import pyproj
import pytest

from geoqa.readers.first_points import first_points
from geoqa.readers.points import PointsRequest, read_points


@pytest.fixture
def read(tmp_path):
    """Return a function that reads a table from its text."""

    def read_table(text):
        (tmp_path / "points.csv").write_text(text, encoding="utf-8")
        return read_points(str(tmp_path / "points.csv"), PointsRequest())

    return read_table


def test_line_names_id_coordinates_and_units(read):
    points = read("id,northing_ft,easting_ft,height_ftUS\nCP1,848981.58,636148.87,427.95\n")
    assert first_points(points) == (
        "CP1: easting 636148.87 ft, northing 848981.58 ft, height 427.95 ftUS (not in the file: CRS)",
    )


def test_what_the_file_does_not_state_is_said(read):
    points = read("id,easting,northing,height\nA,431250.118,5412380.472,\nB,1,2,3\n")
    assert first_points(points) == (
        "A: easting 431250.118, northing 5412380.472, no height (not in the file: unit, CRS)",
        "B: easting 1, northing 2, height 3 (not in the file: unit, unit of the height, CRS)",
    )


def test_longitude_and_latitude_are_named_as_such(read):
    points = read("id,lat,lon,height_m\nA,-36.848461234,174.763336,12.5\n")
    assert first_points(points)[0].startswith(
        "A: longitude 174.763336°, latitude -36.848461234°, height 12.5 m"
    )


def test_crs_of_the_file_is_named(read):
    points = read("id,easting_m,northing_m\nA,1,2\n")
    line = first_points(replace(points, crs=pyproj.CRS("EPSG:25832")))[0]
    assert line.endswith("no height (ETRS89 / UTM zone 32N, EPSG:25832)")
    local = pyproj.CRS.from_wkt(
        'ENGCRS["site",EDATUM["site"],CS[Cartesian,2],AXIS["e",east],AXIS["n",north],LENGTHUNIT["metre",1]]'
    )
    assert first_points(replace(points, crs=local))[0].endswith("(site)")


def test_no_more_lines_than_asked_for_or_there(read):
    points = read("id,easting,northing\n" + "".join(f"P{row},1,2\n" for row in range(5)))
    assert [line[:2] for line in first_points(points)] == ["P0", "P1", "P2"]
    assert len(first_points(points, 9)) == 5
    assert first_points(points, 0) == ()
