"""Names in a header: synonyms of the trade (common practice) and units behind them."""

import pytest

from geoqa.readers.points import PointsRequest
from geoqa.readers.points._header import _MEANINGS, UNITS_OF, header_name
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
        "GCP ID,East,North,Ell. height",
        "Punktnummer,Rechtswert,Hochwert,Hoehe",
        "Pkt-Nr.,Ost,Nord,ELLIPSOIDISCHE HÖHE",
        "Punkt,Ostwert [m],Nordwert [m],Höhe [m]",
        "N°,Est,Nord,Altitude",
        "Numéro,EST,NORD,Hauteur ellipsoïdale",
        "Nom,Est,Nord,Alt.",
        "Matricule,E,N,Z",
        "Punto,Este,Norte,Cota",
        "Nº,Este,Norte,Elevación",
        "Número,ESTE,NORTE,Altura elipsoidal",
        "Ponto,Leste,Norte,Elevação",
        "Nome,Coordenada Este,Coordenada Norte,Altitude elipsoidal",
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
    "header",
    [
        "id,lat,lon",
        "id,Latitude,Longitude",
        "id,Latitud,Longitud",
        "id,Breitengrad,Längengrad",
        "id,LAT_DEG,LONG (°)",
        "id,lat [dd],lng",
    ],
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


def test_accents_may_be_written_apart_or_left_out():
    for text in ("Höhe", "Ho\u0308he", "HÖHE", "hohe", "Hoehe"):
        assert header_name(text).means("height")
    for text in ("Número", "NUMERO", "Nu\u0301mero"):
        assert header_name(text).means("id")


def test_sign_for_number_is_no_northing():
    for text in ("N°", "n°", "Nº", "№"):
        assert header_name(text).means("id")
        assert not header_name(text).means("northing")
    assert header_name("Lon°").means("longitude")


@pytest.mark.parametrize("text", ["x", "Y", "X [m]", "y_ft"])
def test_x_and_y_mean_nothing_in_any_language(text):
    assert not any(header_name(text).means(field) for field in POINT_COLUMNS)


def test_no_name_means_two_things():
    for field, names in _MEANINGS.items():
        for other, others in _MEANINGS.items():
            assert field == other or not names & others


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        *(("lat (d.mmss)", "d.mmss"), ("Lat D.MMSSsss", "d.mmss"), ("lat [DDD.MMSS]", "d.mmss")),
        *(
            ("lat DMS", "dms"),
            ("lat (dd mm ss.ss)", "dms"),
            ("lat (D:M:S)", "dms"),
            ("lat (dd°mm'ss\")", "dms"),
        ),
        *(("lat (°)", "deg"), ("lat_dd", "deg"), ("lat", None)),
    ],
)
def test_kind_of_angle_may_stand_in_the_header(text, unit):
    assert header_name(text).means("latitude")
    assert header_name(text).unit == unit


def test_columns_of_text_have_no_unit():
    assert not {"id", "role", "fix", "cover", "target", "description"} & set(UNITS_OF)
