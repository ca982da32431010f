"""Limits and standards of a client, from the settings file to results and exit status."""

import jsonschema
import pytest

from geoqa.writers.results_json import schema
from tests.site import geoqa

# Heights of twelve invented points: product minus survey.
RESIDUALS_M = (0.012, -0.018, 0.005, 0.021, -0.009, -0.025, 0.016, 0.003, -0.014, 0.008, -0.002, 0.019)


def site(folder, requirement, residuals_m=RESIDUALS_M):
    """Write points, marks and settings; plan and height carry the same residuals."""
    points, marks = ["id,easting,northing,height"], ["id,easting,northing,height"]
    for row, residual in enumerate(residuals_m):
        east, north = 1000 + 40 * (row % 4), 2000 + 40 * (row // 4)
        points.append(f"P{row + 1},{east},{north},100")
        marks.append(f"P{row + 1},{east + residual:.4f},{north - residual:.4f},{100 + residual:.4f}")
    (folder / "points.csv").write_text("\n".join(points) + "\n")
    (folder / "marks.csv").write_text("\n".join(marks) + "\n")
    text = f'[points]\npath = "points.csv"\n[targets]\nmarks = "marks.csv"\n[requirement]\n{requirement}\n'
    (folder / "check.toml").write_text(text)
    return folder / "check.toml"


def check(folder, requirement, *words, **more):
    settings = site(folder, requirement, **more)
    return geoqa("check", str(settings), "--out", str(folder / "out"), "--json", *words)


@pytest.mark.parametrize(
    ("requirement", "verdict", "status"),
    [
        ("vertical_rmse_m = 0.05", "proved", 0),
        ("vertical_rmse_m = 0.016", "not contradicted", 0),
        ("vertical_rmse_m = 0.014", "failed", 1),
        ("vertical_p95_m = 0.06", "proved", 0),
        ("vertical_p95_m = 0.03", "not contradicted", 0),
        ("vertical_p95_m = 0.02", "failed", 1),
        ("vertical_max_m = 0.03", "not contradicted", 0),
        ("vertical_max_m = 0.024", "failed", 1),
    ],
)
def test_every_kind_of_limit_is_judged(tmp_path, requirement, verdict, status):
    answer = check(tmp_path, requirement)
    assert answer.json["verdict"]["vertical"] == verdict
    assert answer.exit_code == status, answer.stderr
    jsonschema.validate(answer.json, schema())


def test_a_maximum_cannot_be_required_to_be_proved(tmp_path):
    answer = check(tmp_path, "vertical_max_m = 0.5", "--require", "proved")
    assert answer.exit_code == 1
    claim = answer.json["claims"]["vertical maximum"]
    assert claim["upper95_m"] is None
    assert "no number of points proves a maximum" in claim["sentence"]


ALL = (
    'standards = ["asprs-2023", "nssda-1998", { id = "asprs-2014", vertical_class_m = 0.05 }, '
    '{ id = "asprs-1990", scale = 200 }, '
    '{ id = "nmas-1947", scale = 1200, contour_interval_m = 0.5 }, '
    '{ id = "usgs-lbs-2025", level = "QL0" }, { id = "inspire-elevation", grid_spacing_m = 0.5 }, '
    '{ id = "gsi-2025-uav", class_m = 0.05 }, { id = "brazil-1984", scale = 500 }, '
    '"iso-19157", "hoehle-2009"]'
)


@pytest.mark.parametrize("count", [1, 2, 3, 12])
def test_every_standard_speaks_of_any_number_of_points(tmp_path, count):
    answer = check(tmp_path, ALL, residuals_m=RESIDUALS_M[:count])
    assert answer.exit_code == 0, answer.stderr
    judgements = answer.json["judgements"]
    assert len({judgement["standard"] for judgement in judgements}) == 11
    assert all(judgement["sentence"] for judgement in judgements)
    assert "nan" not in " ".join(judgement["sentence"] for judgement in judgements)
    jsonschema.validate(answer.json, schema())


def test_a_standard_that_is_not_met_makes_the_status_1(tmp_path):
    answer = check(tmp_path, 'standards = [{ id = "nmas-1947", scale = 10 }]')
    assert answer.exit_code == 1
    (judgement,) = answer.json["judgements"]
    # 1/30 inch at 1:10 is 8.5 mm; lengths are √2 times the residuals, nine of them above.
    assert (judgement["verdict"], judgement["value"]) == ("not met", 75.0)


def test_a_limit_for_each_axis_is_the_class_of_edition_1(tmp_path):
    requirement = 'horizontal_rmse_m = 0.05\nper_axis = true\nstandards = ["asprs-2014", "asprs-2023"]'
    found = {item["quantity"]: item for item in check(tmp_path, requirement).json["judgements"]}
    assert (found["RMSE_x"]["limit"], found["RMSE_x"]["verdict"]) == (0.05, "met")
    assert (found["RMSE_H"]["limit"], found["RMSE_H"]["verdict"]) == (None, "not assessed")


def test_a_wrong_option_is_told_before_anything_is_measured(tmp_path):
    answer = check(tmp_path, 'standards = [{ id = "nmas-1947", scala = 500 }]')
    assert answer.exit_code == 2
    assert "the option “scala” is not known" in answer.stderr
    assert "scale is missing" in answer.stderr
    assert not (tmp_path / "out").exists()


def test_few_points_say_what_they_could_not_see(tmp_path):
    answer = check(tmp_path, "vertical_rmse_m = 0.05", residuals_m=RESIDUALS_M[:3])
    spots = {spot["effect"]: spot for spot in answer.json["blind_spots"]}
    assert spots["dome"]["size"] is None
    assert spots["bias"]["size"] > 0.03
    assert {found["basis"] for found in answer.json["outliers"]} == {"none"}
    claim = answer.json["claims"]["vertical RMSE"]
    assert (claim["verdict"], claim["provable"]["limit_m"]) == ("not contradicted", None)
    assert claim["provable"]["more_points_for_limit"] >= 1
