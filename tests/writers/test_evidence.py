"""What the points can show, in the report, in results.json and in the GeoPackage."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from geoqa.records.evidence import PointEvidence
from geoqa.units import LinearUnit
from geoqa.writers._attributes import table
from geoqa.writers._layers import layer
from geoqa.writers.report import render
from geoqa.writers.results_json import results
from tests.builders import make_assessment


@pytest.fixture(scope="module")
def assessment():
    return make_assessment(40, pictures=False)


def test_results_hold_every_record(assessment):
    document, evidence = results(assessment), assessment.evidence
    assert [item["effect"] for item in document["blind_spots"]] == ["tilt", "dome"]
    assert document["blind_spots"][1]["size"] is None
    assert document["outliers"][0]["basis"] == "spread of the set"
    assert document["outliers"][0]["ids"] == list(evidence.outliers[0].ids)
    assert document["fitness"][0]["grade"] == "weak"
    assert document["next_points"][0]["distance_m"] == 55.0
    assert document["claims"]["vertical RMSE"]["provable"]["more_points"] == 12
    assert "invented factor" in document["claims"]["vertical RMSE"]["arithmetic"]


def test_shares_of_the_points_add_up_to_one(assessment):
    points = results(assessment)["points"]
    for direction in ("horizontal", "vertical"):
        told = [point["influence"][direction] for point in points]
        used = [point[direction]["used"] for point in points]
        assert [share is not None for share in told] == used
        assert sum(share for share in told if share is not None) == pytest.approx(1.0)


def test_the_report_says_what_could_not_be_seen(assessment, tmp_path):
    page = render(assessment, tmp_path)
    for sentence in ("Invented outliers.", "Invented quarters."):
        assert page.count(sentence) == 1
    # Page one says them too.
    for sentence in ("Invented tilt.", "Invented dome."):
        assert page.count(sentence) == 2
    assert "What this check could not have seen" in page
    assert "Invented reach of the vertical points." in page


def test_a_report_without_evidence_has_no_empty_headings(assessment, tmp_path):
    page = render(replace(assessment, evidence=PointEvidence()), tmp_path)
    assert "What this check could not have seen" not in page
    assert "Fitness of the set of points" not in page


def test_the_table_holds_every_sentence(assessment):
    columns = table(assessment, "evidence")
    assert set(columns["kind"]) == {"provable", "blind spot", "outliers", "influence", "fitness"}
    assert {"Invented tilt.", "Invented quarters."} <= set(columns["sentence"])
    assert columns["grade"][columns["sentence"].index("Invented quarters.")] == "weak"


def test_the_parts_of_support_fill_the_mapped_area(assessment):
    columns, geometries = layer(assessment, "support")
    area_m2 = shapely.Polygon(assessment.mapped_area_m).area
    for direction in ("horizontal", "vertical"):
        rows = [row for row, name in enumerate(columns["direction"]) if name == direction]
        assert sum(columns["share"][row] for row in rows) == pytest.approx(1.0, abs=1e-6)
        assert sum(geometries[row].area for row in rows) == pytest.approx(area_m2, rel=1e-6)
        assert sum(columns["area_m2"][row] for row in rows) == pytest.approx(area_m2, rel=1e-6)
    assert set(columns["statement"]) == {"holds", "carried on"}


@pytest.mark.parametrize("name", ["support", "next_points"])
def test_a_frame_in_feet_moves_the_geometries_and_leaves_the_metres(assessment, name):
    foot = LinearUnit.US_SURVEY_FOOT
    columns, geometries = layer(assessment, name)
    in_feet, moved = layer(replace(assessment, frame=replace(assessment.frame, unit=foot)), name)
    assert in_feet == columns
    bounds = np.array([shapely.bounds(item) for item in geometries])
    np.testing.assert_allclose(
        np.array([shapely.bounds(item) for item in moved]) * foot.metres, bounds, rtol=1e-12
    )


def test_without_a_mapped_area_there_is_no_support(assessment):
    columns, geometries = layer(replace(assessment, mapped_area_m=np.empty((0, 2))), "support")
    assert len(geometries) == 0
    assert columns["share"] == []
