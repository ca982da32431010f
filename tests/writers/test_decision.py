"""The decision stands first and the trials are marked, in results, report, layer and terminal."""

import sqlite3

import jsonschema
import pytest
from lxml import html

from geoqa.processes._summary import summary_of
from geoqa.records.decision import Action, Decision, Removable, Trial
from geoqa.writers.geopackage import write as write_package
from geoqa.writers.report import render
from geoqa.writers.results_json import results, schema
from tests.builders import make_assessment, make_statistics

SENTENCE = "Process again: the middle is high, invented."


@pytest.fixture(scope="module")
def assessment():
    plain = make_assessment(9)
    statistics = make_statistics(plain.residuals)
    return make_assessment(
        9,
        decision=Decision(
            Action.REPROCESS,
            SENTENCE,
            ("LK01",),
            (
                Removable("vertical", "shift", 0.41, 0.021),
                Removable("vertical", "plane", float("nan"), float("nan")),
            ),
        ),
        trials=(
            Trial(
                "shift",
                "command line",
                "Exploration: asked for.",
                True,
                statistics,
                statistics,
                {"vertical": 0.02},
            ),
            Trial("dome", "finding", "Exploration: taken from it.", False, statistics, statistics),
        ),
    )


def test_results_hold_decision_and_trials(assessment):
    document = results(assessment)
    jsonschema.validate(document, schema())
    assert document["decision"]["action"] == "process again"
    assert document["decision"]["point_ids"] == ["LK01"]
    assert document["decision"]["removable"]["vertical"]["shift"] == {"share": 0.41, "rmse_m": 0.021}
    assert document["decision"]["removable"]["vertical"]["plane"] == {"share": None, "rmse_m": None}
    first, second = document["trials"]
    assert (first["cure"], first["exploration"], first["makes_control"]) == ("shift", True, True)
    assert first["leave_one_out_rmse_m"] == {"vertical": 0.02}
    assert first["before"] == document["statistics"]
    assert second["leave_one_out_rmse_m"] == {}


def test_without_a_decision_there_is_null(assessment):
    document = results(make_assessment(4))
    jsonschema.validate(document, schema())
    assert document["decision"] is None
    assert document["trials"] == []


def test_report_says_the_decision_before_the_verdict(assessment, tmp_path):
    text = " ".join(html.fromstring(render(assessment, tmp_path)).text_content().split())
    assert text.index(SENTENCE) < text.index(assessment.verdict.sentence[:40])
    assert "Exploration: asked for." in text
    row = html.fromstring(render(assessment, tmp_path)).xpath(
        "//table[@aria-labelledby='table-removable']//tr"
    )[1]
    assert [cell.text_content() for cell in row] == ["vertical", "shift", "41", "0.021"]


def test_layer_of_provenance_begins_with_the_decision(assessment, tmp_path):
    (path,) = write_package(assessment, tmp_path)
    with sqlite3.connect(tmp_path / path) as package:
        rows = package.execute("SELECT topic, name, value FROM provenance").fetchall()
    assert rows[0] == ("decision", "process again", SENTENCE)
    assert ("trial", "shift", "Exploration: asked for.") in rows


def test_terminal_begins_with_the_decision_and_tells_the_cures_that_were_asked_for(assessment):
    text = summary_of(results(assessment), "out")
    assert text.startswith(f"Decision: {SENTENCE}")
    assert "Exploration: asked for." in text
    assert "Exploration: taken from it." not in text
