"""results.json: every member that outside readers rely on, null for what is missing, the same bytes."""

import json
import math
from dataclasses import replace

import jsonschema
import numpy as np
import pytest

from geoqa.records.points import CoordinateStep
from geoqa.records.survey import SurveyFlag, TieVerdict
from geoqa.version import VERSION
from geoqa.writers.results_json import WRITER, read_results, results, schema
from tests.builders import make_assessment

VALIDATOR = jsonschema.Draft202012Validator(schema())


def no_constant(text):
    raise AssertionError(text)


def written(assessment, folder):
    (path,) = WRITER.write(assessment, folder)
    return json.loads((folder / path).read_text("utf-8"), parse_constant=no_constant)


@pytest.fixture(scope="module")
def document():
    return results(make_assessment(40, pictures=False))


@pytest.mark.parametrize("n", [0, 1, 2, 3, 8, 40])
def test_document_keeps_its_schema(n, tmp_path):
    VALIDATOR.validate(written(make_assessment(n, pictures=False), tmp_path))


@pytest.mark.parametrize("n", [0, 1, 2500])
def test_document_is_read_as_it_was_written(n, tmp_path):
    document = written(make_assessment(n, pictures=False), tmp_path)
    found = read_results(tmp_path)
    assert found == document
    assert list(found) == list(document)


def test_schema_is_one():
    jsonschema.Draft202012Validator.check_schema(schema())


@pytest.mark.parametrize(
    "spoil",
    [
        lambda document: document.pop("verdict"),
        lambda document: document["verdict"].update(horizontal="passed"),
        lambda document: document["points"][0].update(residual_m=[0.1, 0.2]),
        lambda document: document["points"][0]["horizontal"].update(used=True, reason="slope"),
        lambda document: document["points"][0]["target"].update(status="lost"),
        lambda document: document["statistics"]["east"].pop("nmad_m"),
        lambda document: document["statistics"]["up"].update(rmse_m="NaN"),
        lambda document: document["provenance"]["inputs"][0].update(sha256="short"),
        lambda document: document["findings"][0].update(verdict="perhaps"),
        lambda document: document["points"][0]["survey"].update(occupations=0),
        lambda document: document["points"][0]["survey"].update(flags=["odd"]),
        lambda document: document["ties"][0].update(verdict="passed"),
        lambda document: document.pop("tie_statement"),
    ],
)
def test_schema_refuses_a_spoiled_document(spoil):
    document = results(make_assessment(2, pictures=False))
    VALIDATOR.validate(document)
    spoil(document)
    assert not VALIDATOR.is_valid(document)


def test_members_that_outside_readers_rely_on_are_there(document):
    assert document["geoqa"] == VERSION
    assert set(document) >= {
        *("schema", "geoqa", "verdict", "accuracy", "points", "statistics", "statistics_by", "judgements"),
        *("findings", "claims", "blind_spots", "base", "assumptions", "settings", "provenance"),
    }
    assert set(document["accuracy"]) == {"fit", "product_alone", "absolute"}
    assert set(document["accuracy"]["fit"]["horizontal"]) == {"rmse_m", "interval_m", "relative_to"}
    assert set(document["points"][0]["target"]) == {
        *("status", "kind", "row", "col", "covariance_px2", "score", "flags", "reason")
    }
    assert set(document["points"][0]["steps"][0]) == {"title", "operation", "accuracy_m", "change_m"}
    assert set(document["statistics"]["horizontal"]) >= {
        "count",
        "rmse_m",
        "rmse_interval_m",
        "rmse_upper95_m",
    }
    assert "mean_m" not in document["statistics"]["horizontal"]


def array(values):
    return np.array(values, dtype=float)


def test_points_are_those_of_the_assessment_unrounded(document):
    assessment = make_assessment(40, pictures=False)
    residuals = assessment.residuals
    for row, point in enumerate(document["points"]):
        assert point["id"] == residuals.ids[row]
        np.testing.assert_array_equal(array(point["survey_m"]), residuals.survey_m[row])
        np.testing.assert_array_equal(array(point["product_m"]), residuals.product_m[row])
        np.testing.assert_array_equal(array(point["residual_m"]), residuals.delta_m[row])
        np.testing.assert_array_equal(array(point["sigma_survey_m"]), residuals.sigma_survey_m[row])
        np.testing.assert_array_equal(array(point["sigma_product_m"]), residuals.sigma_product_m[row])
        fix = assessment.fixes.fixes[row]
        assert (point["target"]["status"], point["target"]["flags"]) == (fix.status.value, list(fix.flags))
        np.testing.assert_array_equal(array(point["target"]["covariance_px2"]), fix.covariance_px2)
        np.testing.assert_array_equal(
            array([point["target"]["row"], point["target"]["col"]]), [fix.row, fix.col]
        )
        told = point["horizontal"]
        assert told["used"] == bool(residuals.horizontal.used[row])
        assert told["reason"] == residuals.horizontal.reasons[row]
        steps = list(assessment.checkpoints.steps(row))
        assert [step["title"] for step in point["steps"]] == [step.title for step, _ in steps]
        for step, (_, change) in zip(point["steps"], steps, strict=True):
            np.testing.assert_array_equal(array(step["change_m"]), change)


def test_steps_of_the_second_file_are_its_own():
    assessment = make_assessment(8, pictures=False)
    step = CoordinateStep("levelling", "invented", None, np.array([[0.0, 0.0, 0.1], [0.0, 0.0, 0.2]]))
    points = replace(assessment.checkpoints, file_steps=((), (step,)))
    told = results(replace(assessment, checkpoints=points))["points"]
    assert [len(point["steps"]) for point in told] == [0] * 6 + [1] * 2
    assert told[7]["steps"][0] == {
        "title": "levelling",
        "operation": "invented",
        "accuracy_m": None,
        "change_m": [0.0, 0.0, 0.2],
    }


def test_steps_are_those_of_the_row_in_the_file():
    assessment = make_assessment(8, pictures=False)
    change = np.column_stack([np.zeros((6, 2)), np.arange(6.0)])
    points = replace(
        assessment.checkpoints, file_steps=((CoordinateStep("levelling", "invented", 0.01, change),), ())
    )
    told = results(replace(assessment, checkpoints=points))["points"]
    assert [point["steps"][0]["change_m"][2] for point in told[:6]] == [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]


def test_survey_of_a_point_tells_occupations_flags_and_reasons(document):
    assert document["points"][0]["survey"] == {
        "occupations": 2,
        "count": 4,
        "spread_m": [0.012, 0.008, 0.064],
        "sigma_reported_m": [0.006, 0.007, 0.012],
        "flags": ["occupations differ"],
        "reasons": ["its 2 occupations differ by 0.064 m up (limit 0.05 m)"],
        "each_occupation": [
            {
                "session": "A",
                "occupation": "1",
                "time": "2026-01-01T10:00:00Z",
                "sources": ["lindenkamp.csv, line 2"] * 2,
                "from_mean_m": [0.006, -0.004, None],
                "sigma_m": [0.01, 0.01, None],
            },
            {
                "session": "A",
                "occupation": "2",
                "time": None,
                "sources": ["lindenkamp.csv, line 2"],
                "from_mean_m": [-0.006, 0.004, None],
                "sigma_m": [0.01, 0.01, None],
            },
        ],
    }
    single = document["points"][1]["survey"]
    assert (single["occupations"], single["count"], single["flags"]) == (1, 1, ["single occupation"])
    assert (single["spread_m"], single["each_occupation"]) == ([None] * 3, [])
    assert document["points"][2]["survey"]["sigma_reported_m"] == [None] * 3


def test_known_marks_are_listed_with_what_they_say(document):
    (tie,) = document["ties"]
    assert tie["id"] == "TP 9"
    assert tie["difference_m"] == [0.011, -0.004, None]
    assert tie["tolerance_m"] == [0.03, 0.03, 0.05]
    assert tie["verdict"] == "within tolerance"
    assert (tie["known"], tie["measured"]) == ("lindenkamp_marks.csv, line 2", "lindenkamp.csv, line 7")
    assert document["tie_statement"].startswith("The absolute position was checked in plan only at TP 9")


def test_schema_knows_every_flag_and_verdict_of_the_survey():
    definitions = schema()["$defs"]
    assert definitions["survey"]["properties"]["flags"]["items"]["enum"] == [str(flag) for flag in SurveyFlag]
    assert definitions["tie"]["properties"]["verdict"]["enum"] == [str(item) for item in TieVerdict]


def test_missing_numbers_are_null_and_nothing_is_nan(document):
    lost = next(point for point in document["points"] if point["target"]["status"] == "not found")
    assert lost["residual_m"][:2] == [None, None]
    assert lost["residual_m"][2] is not None
    assert lost["target"]["row"] is None
    assert lost["target"]["covariance_px2"] == [[None, None], [None, None]]

    def numbers(value):
        if isinstance(value, dict):
            value = list(value.values())
        if isinstance(value, list):
            for member in value:
                yield from numbers(member)
        elif isinstance(value, float):
            yield value

    assert all(math.isfinite(number) for number in numbers(document))


def test_without_points_there_are_counts_of_zero_and_no_figures():
    document = results(make_assessment(0, pictures=False))
    assert document["points"] == []
    assert document["statistics"]["up"]["count"] == 0
    assert document["statistics"]["up"]["rmse_m"] is None
    assert document["statistics"]["up"]["rmse_interval_m"] == [None, None]
    assert document["accuracy"]["fit"]["vertical"]["interval_m"] is None
    assert document["claims"]["vertical RMSE"]["value_m"] is None


def test_an_infinite_number_is_missing_too():
    assessment = make_assessment(2, pictures=False)
    up = replace(assessment.statistics.up, rmse_upper95_m=math.inf)
    document = results(replace(assessment, statistics=replace(assessment.statistics, up=up)))
    assert document["statistics"]["up"]["rmse_upper95_m"] is None


def test_file_is_the_document_and_lists_its_neighbours(tmp_path):
    assessment = make_assessment(5, pictures=False)
    (tmp_path / "styles").mkdir()
    (tmp_path / "styles" / "a.sld").write_bytes(b"abc")
    (tmp_path / "points.csv").write_bytes(b"")
    document = written(assessment, tmp_path)
    # NIST, examples to FIPS 180-4: SHA-256 of the empty message and of "abc".
    nothing = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert document["files"] == [
        {"path": "points.csv", "sha256": nothing},
        {"path": "styles/a.sld", "sha256": abc},
    ]
    assert document == results(assessment, document["files"])


def test_same_input_gives_the_same_bytes(tmp_path):
    contents = []
    for name in ("first", "second"):
        (tmp_path / name).mkdir()
        (path,) = WRITER.write(make_assessment(20, pictures=False), tmp_path / name)
        contents.append((tmp_path / name / path).read_bytes())
    assert contents[0] == contents[1]


def test_each_point_stands_on_a_line_of_its_own(tmp_path):
    (path,) = WRITER.write(make_assessment(5000, pictures=False), tmp_path)
    lines = (tmp_path / path).read_text("utf-8").splitlines()
    points = [line for line in lines if line.startswith('  {"id": ')]
    assert [json.loads(line.rstrip(","))["id"] for line in points] == [f"LK{n:02d}" for n in range(1, 5001)]


@pytest.mark.parametrize("name", ['CP"1"', "Brücke %s", "a\\b", "tab\there", "\u2028"])
def test_any_name_of_a_point_survives(name, tmp_path):
    assessment = make_assessment(1, pictures=False)
    assessment = replace(assessment, residuals=replace(assessment.residuals, ids=(name,)))
    assert written(assessment, tmp_path)["points"][0]["id"] == name


def test_results_come_after_everything_else():
    from geoqa.writers import WRITERS

    assert max(WRITERS.all().values(), key=lambda writer: writer.order) is WRITER
