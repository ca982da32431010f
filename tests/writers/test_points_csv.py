"""points.csv by RFC 4180."""

import csv
from dataclasses import replace

import numpy as np
import pytest

from geoqa.records.tables import CHECKPOINTS
from geoqa.writers.points_csv import WRITER
from tests.builders import make_assessment


def written(assessment, folder):
    (path,) = WRITER.write(assessment, folder)
    return (folder / path).read_bytes()


def rows(content):
    return list(csv.DictReader(content.decode("utf-8").splitlines(keepends=True)))


@pytest.mark.parametrize("n", [0, 1, 8])
def test_one_heading_line_and_one_line_a_point(n, tmp_path):
    content = written(make_assessment(n, pictures=False), tmp_path)
    lines = content.decode("utf-8").split("\r\n")
    assert lines[0].split(",") == [column.name for column in CHECKPOINTS.columns]
    assert len(lines) == n + 2
    assert lines[-1] == ""


def test_numbers_are_right_to_the_micrometre_and_missing_ones_empty(tmp_path):
    assessment = make_assessment(40, pictures=False)
    told = rows(written(assessment, tmp_path))
    for column, axis in enumerate(("east", "north", "up")):
        texts = [row[f"residual_{axis}_m"] for row in told]
        values = np.array([float(text) if text else np.nan for text in texts])
        np.testing.assert_allclose(values, assessment.residuals.delta_m[:, column], rtol=0, atol=0.5001e-6)
        assert "" in texts
        assert "nan" not in texts


def test_surveyed_millimetres_are_written_as_surveyed(tmp_path):
    told = rows(written(make_assessment(3, pictures=False), tmp_path))
    assert all(len(row["survey_easting_m"].partition(".")[2]) <= 3 for row in told)


def test_use_is_true_or_false_with_its_reason(tmp_path):
    told = rows(written(make_assessment(8, pictures=False), tmp_path))
    assert [row["horizontal_used"] for row in told[:4]] == ["true", "true", "true", "false"]
    assert told[3]["horizontal_reason"] == "suspect target"
    assert told[0]["horizontal_reason"] == ""


@pytest.mark.parametrize("name", ["a,b", 'say "x"', "two\nlines", "Brücke", ";"])
def test_any_name_of_a_point_survives(name, tmp_path):
    assessment = make_assessment(2, pictures=False)
    points = replace(assessment.checkpoints, ids=(name, "B"))
    told = rows(written(replace(assessment, checkpoints=points), tmp_path))
    assert [row["id"] for row in told] == [name, "B"]


def test_many_points_keep_their_order(tmp_path):
    told = rows(written(make_assessment(5000, pictures=False), tmp_path))
    assert [row["id"] for row in told] == [f"LK{n:02d}" for n in range(1, 5001)]


def test_negative_zero_is_zero(tmp_path):
    assessment = make_assessment(1, pictures=False)
    residuals = replace(assessment.residuals, delta_m=np.array([[-1e-9, 0.0, -0.0]]))
    told = rows(written(replace(assessment, residuals=residuals), tmp_path))
    assert [told[0][f"residual_{axis}_m"] for axis in ("east", "north", "up")] == ["0.0"] * 3
