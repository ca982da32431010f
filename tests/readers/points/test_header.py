"""Names in a header: synonyms of the trade (common practice) and units behind them."""

import pytest

from geoqa.readers.points import PointsRequest
from geoqa.readers.points._header import UNITS_OF, header_name
from geoqa.readers.points.delimited_text import READER
from geoqa.records.settings import POINT_COLUMNS
from geoqa.units import LinearUnit


@pytest.mark.parametrize("field", POINT_COLUMNS)
def test_our_name_is_known_however_it_is_written(field):
    for text in (field, field.upper(), field.replace("_", " "), field.title().replace("_", "-")):
        name = header_name(text)
        assert [other for other in POINT_COLUMNS if name.means(other)] == [field]
        assert name.unit is None


@pytest.mark.parametrize(
    "header",
    [
        "Point,Easting,Northing,Elevation",
        "Name,E,N,H",
        "No.,East,North,Elev",
        "Pt #,e,n,z",
        "POINT_ID,Rechtswert,Hochwert,Höhe",
        "Station,EASTINGS,NORTHINGS,RL",
        "point number,Northing,Easting,altitude",
    ],
)
def test_trade_names_are_understood(tmp_path, header):
    path = tmp_path / "points.csv"
    path.write_text(f"{header}\n7,10,20,30\n", encoding="utf-8")
    points = READER.read(path, PointsRequest())
    assert points.ids == ("7",)
    expected = (20, 10) if "Northing,Easting" in header else (10, 20)
    assert tuple(points.coordinates[0]) == (*expected, 30)


@pytest.mark.parametrize(
    "header", ["id,lat,lon", "id,Latitude,Longitude", "id,LAT_DEG,LONG (°)", "id,lat [dd],lng"]
)
def test_trade_names_of_angles_are_understood(tmp_path, header):
    path = tmp_path / "points.csv"
    path.write_text(f"{header}\n7,10,20\n", encoding="utf-8")
    points = READER.read(path, PointsRequest())
    assert points.geographic
    assert tuple(points.coordinates[0, :2]) == (20, 10)


@pytest.mark.parametrize(
    ("suffix", "unit"),
    [
        ("", None),
        ("_m", LinearUnit.METRE),
        (" (m)", LinearUnit.METRE),
        ("[M]", LinearUnit.METRE),
        (" metres", LinearUnit.METRE),
        ("_ft", LinearUnit.FOOT),
        (" [ft]", LinearUnit.FOOT),
        ("-feet", LinearUnit.FOOT),
        ("_ftUS", LinearUnit.US_SURVEY_FOOT),
        ("_FTUS", LinearUnit.US_SURVEY_FOOT),
        (" (US ft)", LinearUnit.US_SURVEY_FOOT),
        ("_us_ft", LinearUnit.US_SURVEY_FOOT),
        (" (us-survey-foot)", LinearUnit.US_SURVEY_FOOT),
        (" US survey feet", LinearUnit.US_SURVEY_FOOT),
    ],
)
def test_unit_in_the_header_is_that_of_the_coordinates(tmp_path, suffix, unit):
    path = tmp_path / "points.csv"
    path.write_text(f"id,easting{suffix},northing{suffix},height\n7,10,20,30\n", encoding="utf-8")
    points = READER.read(path, PointsRequest())
    assert (points.unit, points.height_unit) == (unit, None)
    path.write_text(f"id,easting,northing,height{suffix}\n7,10,20,30\n", encoding="utf-8")
    points = READER.read(path, PointsRequest())
    assert (points.unit, points.height_unit) == (None, unit)


def test_columns_of_text_have_no_unit():
    assert not {"id", "role", "fix", "cover", "target", "description"} & set(UNITS_OF)
