"""Vector files of points: coordinates from the geometry, everything else as in a table of text.

All points are invented.
"""

import json

import geopandas
import numpy as np
import pyogrio
import pyproj
import pytest
from shapely import LineString, MultiPoint, Point

from geoqa.errors import InputError
from geoqa.readers.points import PointsRequest
from geoqa.readers.points.vector_file import READER
from geoqa.records.points import Cover, Role
from geoqa.units import LinearUnit

UTM = "EPSG:25832"
PLACES = (Point(431250.118, 5412380.472, 212.34), Point(431377.905, 5412391.016, 211.982))


@pytest.fixture
def write(tmp_path):
    """Return a function that writes a layer and gives the path of its file."""

    def write_layer(columns=None, places=PLACES, crs=UTM, name="points.gpkg", **options):
        columns = {"id": [f"P{number}" for number in range(len(places))]} | (columns or {})
        frame = geopandas.GeoDataFrame(columns, geometry=list(places), crs=crs)
        frame.to_file(tmp_path / name, engine="pyogrio", **options)
        return tmp_path / name

    return write_layer


def read(path, **request):
    return READER.read(path, PointsRequest(**request))


def message(path, **request):
    with pytest.raises(InputError) as caught:
        read(path, **request)
    assert "\n" not in str(caught.value)
    assert path.name in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize("name", ["points.gpkg", "points.shp", "points.gml"])
def test_geometry_gives_the_coordinates_and_columns_the_rest(write, name):
    path = write(
        {"id": ["001", "NA"], "Cover": ["hard", None], "role": ["control", ""], "Crew": ["x", "y"]}, name=name
    )
    points = read(path)
    assert points.ids == ("001", "NA")
    np.testing.assert_array_equal(points.coordinates, [place.coords[0] for place in PLACES])
    np.testing.assert_array_equal(points.lines, [1, 2])
    assert points.covers == (Cover.HARD, None)
    assert points.roles == (Role.CONTROL, Role.CHECK)
    assert points.attributes["Crew"] == ("x", "y")
    assert points.crs.equals(pyproj.CRS(UTM), ignore_axis_order=True)
    assert (points.unit, points.height_unit, points.geographic) == (LinearUnit.METRE, None, False)
    assert points.source == name


def test_geojson_is_longitude_and_latitude_of_wgs_84(tmp_path):
    # RFC 7946, section 4, and the first example of section 3.1.2 (position: longitude, latitude).
    path = tmp_path / "points.geojson"
    feature = {
        "type": "Feature",
        "properties": {"name": "A", "sd_up": 0.015},
        "geometry": {"type": "Point", "coordinates": [-112.5, 37.25]},
    }
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    points = read(path)
    np.testing.assert_array_equal(points.coordinates, [[-112.5, 37.25, np.nan]])
    assert points.geographic
    assert points.unit is None
    assert points.crs.to_authority() == ("EPSG", "4326")
    assert points.sigma_m[0, 2] == 0.015


def test_latitude_first_axes_of_the_crs_do_not_swap_the_coordinates(write):
    points = read(write(places=[Point(11.0215, 48.8512, 431.2)], crs="EPSG:4979"))
    np.testing.assert_array_equal(points.coordinates, [[11.0215, 48.8512, 431.2]])
    assert points.geographic
    assert points.height_unit is LinearUnit.METRE


# Units of the axes as the EPSG dataset gives them.
@pytest.mark.parametrize(
    ("crs", "unit", "height_unit"),
    [
        ("EPSG:2994", LinearUnit.FOOT, None),
        ("EPSG:2263", LinearUnit.US_SURVEY_FOOT, None),
        ("EPSG:7415", LinearUnit.METRE, LinearUnit.METRE),
        ("EPSG:2991+6360", LinearUnit.METRE, LinearUnit.US_SURVEY_FOOT),
        (None, None, None),
    ],
)
@pytest.mark.filterwarnings("ignore:'crs' was not provided")
def test_units_are_those_of_the_crs(write, crs, unit, height_unit):
    points = read(write(crs=crs))
    assert (points.unit, points.height_unit) == (unit, height_unit)
    assert (points.crs is None) == (crs is None)


def test_points_without_height_are_plan_only(write):
    points = read(write(places=[Point(1, 2), Point(3, 4)]))
    np.testing.assert_array_equal(points.coordinates, [[1, 2, np.nan], [3, 4, np.nan]])


def test_column_of_heights_serves_flat_points(write):
    points = read(write({"elevation_ftUS": [1.5, None]}, places=[Point(1, 2), Point(3, 4)]))
    np.testing.assert_array_equal(points.coordinates, [[1, 2, 1.5], [3, 4, np.nan]])
    assert points.height_unit is LinearUnit.US_SURVEY_FOOT


def test_column_of_heights_that_differs_from_the_geometry_must_be_named(write):
    path = write({"height": [212.34, 200.0]})
    assert "feature 2, column “height”: “200” differs from the geometry, 211.982" in message(path)
    assert read(path, columns={"height": "height"}).coordinates[1, 2] == 200.0


def test_column_of_heights_in_another_unit_may_repeat_the_geometry(write):
    # NIST SP 811, appendix B.6: 0.3048 m to the international foot.
    points = read(write({"height_ft": [1000.0]}, places=[Point(1, 2, 304.8)], crs="EPSG:7415"))
    assert points.coordinates[0, 2] == 1000.0
    assert points.height_unit is LinearUnit.FOOT


def test_height_of_the_geometry_stands_where_the_column_is_empty(write):
    # NIST SP 811, appendix B.6: 0.3048 m to the international foot.
    places = [Point(1, 2, 304.8), Point(3, 4, 609.6)]
    points = read(write({"height_ft": [1000.0, None]}, places=places, crs="EPSG:7415"))
    np.testing.assert_allclose(points.coordinates[:, 2], [1000.0, 2000.0], rtol=1e-15, atol=0)


def test_multipoint_of_one_part_is_a_point(write):
    places = [MultiPoint([(1, 2, 3)]), MultiPoint([(4, 5, 6)])]
    np.testing.assert_array_equal(read(write(places=places)).coordinates, [[1, 2, 3], [4, 5, 6]])


def test_numbers_of_points_become_text(write):
    assert read(write({"id": [7, 12]})).ids == ("7", "12")
    assert read(write({"id": [7.0, 7.5]}, name="real.gpkg")).ids == ("7", "7.5")


def test_columns_may_be_named_by_the_user(write):
    path = write({"id": [1, 2], "label": ["A", "B"], "shot": ["1", "2"]})
    points = read(path, columns={"id": "label", "occupation": "shot"})
    assert points.ids == ("A", "B")
    assert dict(points.attributes) == {"occupation": ("1", "2"), "id": ("1", "2")}
    assert "“Label_2”" in message(path, columns={"id": "Label_2"})


def test_columns_that_repeat_the_geometry_are_no_matter(write):
    east = [place.x for place in PLACES]
    north = [round(place.y, 2) + 0.0005 for place in (Point(0, 10.25), Point(0, 20.5))]
    places = [Point(east[0], 10.25), Point(east[1], 20.5)]
    points = read(
        write({"easting": east, "northing": north, "lat": [48.1, 48.2], "lon": [8.1, 8.2]}, places=places)
    )
    np.testing.assert_array_equal(points.coordinates[:, 1], [10.25, 20.5])
    assert dict(points.attributes) == {"lat": ("48.1", "48.2"), "lon": ("8.1", "8.2")}


def test_columns_in_another_unit_may_repeat_the_geometry(write):
    # NIST SP 811, appendix B.6: 0.3048 m to the international foot.
    places = [Point(304.8, 609.6)]
    assert len(read(write({"easting_ft": [1000.0], "northing_ft": [2000.0]}, places=places))) == 1
    wrong = write({"easting_ft": [1000.0], "northing_ft": [2000.004]}, places=places, name="wrong.gpkg")
    assert "feature 1, column “northing_ft”: “2000.004” differs" in message(wrong)


def test_columns_that_contradict_the_geometry_are_refused(write):
    columns = {"easting": [PLACES[0].x, PLACES[1].x + 0.0015], "northing": [place.y for place in PLACES]}
    assert "feature 2, column “easting”" in message(write(columns))
    degrees = {"latitude": [48.85120417, 48.85], "longitude": [11.02, 11.03]}
    places = [Point(11.02, 48.85120417), Point(11.03, 48.8500001)]
    assert "feature 2, column “latitude”" in message(
        write(degrees, places=places, crs="EPSG:4326", name="d.gpkg")
    )
    projected = write({"easting": [1.0, 2.0]}, places=places, crs="EPSG:4326", name="e.gpkg")
    assert "“easting” holds the easting" in message(projected)


def test_one_layer_of_points_beside_others_is_taken(write):
    path = write(layer="survey")
    write(places=[LineString([(0, 0), (1, 1)])], layer="breaklines", mode="a")
    write(places=PLACES[:0], layer="empty", mode="a")
    pyogrio.write_dataframe(geopandas.pd.DataFrame({"note": ["invented"]}), path, layer="notes", append=False)
    assert len(read(path)) == 2


def test_several_layers_of_points_are_refused(write):
    write(layer="morning")
    found = message(write(layer="evening", mode="a"))
    assert "several layers" in found
    assert "“morning” (Point Z), “evening” (Point Z)" in found


def test_file_without_points_is_refused(write, tmp_path):
    lines = [LineString([(0, 0), (1, 1)])] * 2
    assert "no layer of points, found “points” (LineString)" in message(write(places=lines))
    assert "holds no points" in message(write(places=PLACES[:0], name="none.gpkg"))
    table = tmp_path / "table.gpkg"
    pyogrio.write_dataframe(geopandas.pd.DataFrame({"id": ["A"]}), table)
    assert "none with a geometry" in message(table)


@pytest.mark.parametrize(
    ("place", "found"),
    [
        (LineString([(0, 0), (1, 1)]), "a LineString"),
        (MultiPoint([(0, 0), (1, 1)]), "a MultiPoint"),
        (None, "no geometry"),
        (Point(), "no geometry"),
    ],
)
def test_feature_that_is_no_point_is_refused(tmp_path, place, found):
    shapes = [Point(1, 2), place]
    features = [
        {
            "type": "Feature",
            "properties": {"id": "A"},
            "geometry": None if shape is None or shape.is_empty else shape.__geo_interface__,
        }
        for shape in shapes
    ]
    path = tmp_path / "points.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    assert f"feature 2: expected a point, found {found}" in message(path)


def test_eastings_in_geojson_are_refused(tmp_path):
    path = tmp_path / "points.geojson"
    feature = {
        "type": "Feature",
        "properties": {"id": "A"},
        "geometry": {"type": "Point", "coordinates": [5e5, 5e6]},
    }
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    assert "feature 1: the latitude 5000000 lies outside ±90" in message(path)


@pytest.mark.parametrize(
    ("crs", "part"),
    [
        ("EPSG:4978", "neither projected nor geographic"),
        ("EPSG:4807", "grad"),
        ("EPSG:2314", "Clarke's foot"),
        ("EPSG:25832+5715", "depths"),
    ],
)
def test_crs_that_cannot_be_used_is_refused(write, crs, part):
    assert part in message(write(crs=crs))


def test_rules_of_the_columns_are_those_of_a_table(write, tmp_path):
    assert "feature 2, column “id”: the cell is empty" in message(write({"id": ["A", None]}))
    assert "“grass” is not one of hard" in message(write({"cover": ["hard", "grass"]}, name="a.gpkg"))
    assert "feature 1, column “sd_up”" in message(write({"sd_up": [0.0, 0.1]}, name="b.gpkg"))
    frame = geopandas.GeoDataFrame({"code": ["A"]}, geometry=[Point(1, 2)], crs=UTM)
    frame.to_file(tmp_path / "c.gpkg", engine="pyogrio")
    assert "no column holds the ids of the points, found “code”" in message(tmp_path / "c.gpkg")


@pytest.mark.parametrize("content", [b"not a vector file", b"SQLite format 3\0 broken", b"{}"])
def test_broken_file_is_refused(tmp_path, content):
    path = tmp_path / "points.gpkg"
    path.write_bytes(content)
    assert "cannot be read" in message(path)


def test_layout_is_refused(write):
    assert "has no layout, found “PNEZD”" in message(write(), layout="PNEZD")


def test_example_can_be_read(tmp_path):
    path = tmp_path / f"example{READER.suffixes[0]}"
    path.write_text(READER.example)
    points = read(path)
    assert points.ids == ("CP01", "CP02", "CP03")
    assert points.height_unit is LinearUnit.METRE
