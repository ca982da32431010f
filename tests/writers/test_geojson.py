"""checkpoints.geojson by RFC 7946."""

import json
from dataclasses import replace

import numpy as np
import pyproj
import pytest

from geoqa.records.tables import CHECKPOINTS
from geoqa.units import LinearUnit
from geoqa.writers.geojson import WRITER, web_positions
from tests.builders import SITE_GRID, make_assessment, make_frame


def written(assessment, folder):
    (path,) = WRITER.write(assessment, folder)
    return json.loads((folder / path).read_text("utf-8"))


@pytest.mark.parametrize("n", [0, 1, 8])
def test_document_is_a_feature_collection_of_points(n, tmp_path):
    document = written(make_assessment(n, pictures=False), tmp_path)
    assert document["type"] == "FeatureCollection"
    # RFC 7946, section 4: WGS 84 always, no member "crs".
    assert "crs" not in document
    assert len(document["features"]) == n
    for feature in document["features"]:
        assert feature["type"] == "Feature"
        assert feature["geometry"]["type"] == "Point"
        assert len(feature["geometry"]["coordinates"]) == 2
        assert list(feature["properties"]) == [column.name for column in CHECKPOINTS.columns]


def test_positions_are_longitude_and_latitude():
    # PROJ, test/gie/epsg_no_grid.gie: 55° N, 12° E in ETRS89 / UTM 32N.
    positions = web_positions(pyproj.CRS("EPSG:25832"), np.array([[691875.6321, 6098907.825]]))
    np.testing.assert_allclose(positions.degrees, [[12.0, 55.0]], rtol=0, atol=2e-9)


def test_heights_stand_in_the_properties(tmp_path):
    assessment = make_assessment(3, pictures=False)
    told = [feature["properties"] for feature in written(assessment, tmp_path)["features"]]
    np.testing.assert_allclose(
        [fields["survey_height_m"] for fields in told], assessment.residuals.survey_m[:, 2], atol=1e-6
    )
    assert told[0]["height_system"] == "EPSG:7837"


def test_note_says_that_positions_are_for_display_and_how_good_they_are(tmp_path):
    note = written(make_assessment(3, pictures=False), tmp_path)["note"]
    assert "for display" in note
    assert "ETRS89 to WGS 84 (1)" in note
    # EPSG operation 1149, ETRS89 to WGS 84 (1): accuracy 1 m.
    assert "stated accuracy 1 m" in note
    assert "ETRS89 / UTM zone 32N (EPSG:25832)" in note


def test_feet_are_turned_into_degrees(tmp_path):
    metres = make_assessment(4, pictures=False, frame=make_frame("EPSG:32118"))
    position = np.array(metres.residuals.survey_m)
    position[:, :2] += [300_000.0 - 512_000.0, 60_000.0 - 5_403_000.0]
    residuals = replace(metres.residuals, survey_m=position)
    metres = replace(metres, residuals=residuals)
    feet = replace(metres, frame=make_frame("EPSG:2263", LinearUnit.US_SURVEY_FOOT))
    places = [
        [feature["geometry"]["coordinates"] for feature in written(assessment, tmp_path)["features"]]
        for assessment in (metres, feet)
    ]
    # EPSG:2263 is EPSG:32118, New York Long Island, in US survey feet.
    np.testing.assert_allclose(places[0], places[1], rtol=0, atol=2e-9)
    assert places[0][0][0] < -70


@pytest.mark.parametrize(
    "crs",
    [
        SITE_GRID,
        "+proj=tmerc +lat_0=48 +lon_0=9 +x_0=500000 +ellps=GRS80",
        # NAD27 in northern Canada without grids: 20 m and more.
        "EPSG:26707",
    ],
    ids=["site grid", "unknown datum", "coarse operation only"],
)
def test_without_a_good_way_to_wgs_84_there_is_no_file(crs, tmp_path):
    assert WRITER.write(make_assessment(3, pictures=False, frame=make_frame(crs)), tmp_path) == ()
    assert list(tmp_path.iterdir()) == []


def test_missing_numbers_are_null(tmp_path):
    told = [
        feature["properties"] for feature in written(make_assessment(8, pictures=False), tmp_path)["features"]
    ]
    assert told[4]["residual_up_m"] is None
    assert told[5]["residual_east_m"] is None
    assert told[0]["horizontal_used"] is True


def test_order_is_kept_over_many_points(tmp_path):
    features = written(make_assessment(5000, pictures=False), tmp_path)["features"]
    assert [feature["properties"]["id"] for feature in features] == [f"LK{n:02d}" for n in range(1, 5001)]
