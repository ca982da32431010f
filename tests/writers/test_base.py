"""The base in the deliverables: results, report, table of provenance."""

import jsonschema
import numpy as np
import pytest
from numpy.testing import assert_allclose

from geoqa.writers._attributes import table as attribute_table
from geoqa.writers._report_base import base_rows
from geoqa.writers.report import render
from geoqa.writers.results_json import results, schema
from tests.builders import make_assessment
from tests.frame import ecef_by_hand as hand
from tests.frame.base_scenes import corrections_of, geographic, table

ELSEWHERE = hand.PRECISE + np.array([0.0, 0.0, 0.5])
UNKNOWN = table(precise=geographic(ELSEWHERE), session="B", products_use="independent")


@pytest.fixture
def assessment():
    corrections = corrections_of(table(session="A", products_use="assumed"), UNKNOWN)
    return make_assessment(8, pictures=False, base=corrections)


def test_results_tell_the_correction_of_each_base(assessment):
    document = results(assessment)
    jsonschema.Draft202012Validator(schema()).validate(document)
    first, second = document["base"]
    assert_allclose(first["shift_m"], hand.SHIFT_ENU_M, rtol=0, atol=1e-6)
    assert_allclose(first["shift_geocentric_m"], hand.SHIFT_M, rtol=0, atol=5e-6)
    assert (first["session"], first["frame"], first["epoch"]) == ("A", "ITRF2020", 2026.45)
    assert (first["applied_to"], second["applied_to"]) == ("points and products", "points")
    assert second["sigma_m"] is None
    assert second["sigma_of_mean_m"] is None


def test_mean_is_that_of_the_points_of_the_session_that_count(assessment):
    residuals, sessions = assessment.residuals, np.array(assessment.checkpoints.sessions)
    counts = (residuals.horizontal.used | residuals.vertical.used) & (sessions == "A")
    assert 0 < counts.sum() < len(residuals)
    sigma = residuals.sigma_survey_m[counts]
    expected = np.sqrt(np.square([0.008, 0.008, 0.02]) + (sigma**2).sum(axis=0) / len(sigma) ** 2)
    found = results(assessment)["base"][0]["sigma_of_mean_m"]
    for value, wanted in zip(found, expected, strict=True):
        assert (value is None) == np.isnan(wanted)
        assert value is None or value == pytest.approx(wanted, rel=1e-12)


def test_report_has_a_row_a_base(assessment, tmp_path):
    first, second = base_rows(results(assessment)["base"])
    assert (first.east, first.north, first.up, first.length) == ("+1.800", "−1.200", "+3.400", "4.030")
    assert first.sigma == "0.008, 0.008, 0.020"
    assert first.rests == "points assumed, products assumed"
    assert second.sigma == second.sigma_of_mean == "—"
    page = render(assessment, tmp_path)
    assert "session A" in page
    assert "assumed 51.044700000°, -114.071900000°, 1045.0000 m in ITRF2020" in page


def test_without_a_base_nothing_is_said_of_one(tmp_path):
    plain = make_assessment(5, pictures=False)
    assert results(plain)["base"] == []
    assert 'id="base"' not in render(plain, tmp_path)


def test_table_of_provenance_names_the_positions(assessment):
    rows = attribute_table(assessment, "provenance")
    topics = [name for name, topic in zip(rows["name"], rows["topic"], strict=True) if topic == "base"]
    assert topics == ["correction, session A", "correction, session B"]
