"""Two coordinate lists are enough: the published sets, through the command line.

The sources of the sets and of every figure stand in `tests/published/*.toml`.
"""

import tomllib
from pathlib import Path

import pytest

from tests.site import geoqa

PUBLISHED = Path(__file__).parents[1] / "published"
SETS = {
    "asprs2014_annex_d": ("survey", "map"),
    "pers_2014_05_p397": ("survey", "map"),
    "mms_30kmh": ("survey", "map"),
    "gcp_two_occupations": ("2", "1"),
}
COMPONENTS = {"east", "north", "up", "horizontal"}


def write_list(path, columns, which):
    lines = ["id,easting,northing,height"]
    axes = [columns[f"{axis}_{which}"] for axis in "enh"]
    lines += [f"P{index},{e:.3f},{n:.3f},{h:.3f}" for index, (e, n, h) in enumerate(zip(*axes, strict=True))]
    path.write_text("\n".join(lines) + "\n")


@pytest.mark.parametrize("name", SETS)
def test_published_set_comes_out_as_printed(tmp_path, name):
    publication = tomllib.loads((PUBLISHED / f"{name}.toml").read_text("utf-8"))
    survey, product = SETS[name]
    write_list(tmp_path / "points.csv", publication["columns"], survey)
    write_list(tmp_path / "marks.csv", publication["columns"], product)
    words = ["--points", str(tmp_path / "points.csv"), "--marks", str(tmp_path / "marks.csv")]
    answer = geoqa("check", *words, "--out", str(tmp_path / "out"), "--json")
    assert answer.exit_code == 0, answer.stderr
    compared = 0
    for case in publication["cases"]:
        component, _, figure = case["quantity"].partition(" ")
        if component in COMPONENTS and figure.endswith("_m"):
            member = figure.replace("error", "ce" if component == "horizontal" else "le")
            found = answer.json["statistics"][component][member]
            # Coordinates of millions of metres hold a tenth of a nanometre.
            assert found == pytest.approx(case["value"], abs=case["tolerance"] + 1e-9), case
            compared += 1
    assert compared >= 10
    assert {point["target"]["status"] for point in answer.json["points"]} == {"marked"}
    assert {point["surface"]["status"] for point in answer.json["points"]} == {"given"}


def test_mark_without_a_point_is_refused(tmp_path):
    (tmp_path / "points.csv").write_text("id,easting,northing\nA,1,2\n")
    (tmp_path / "marks.csv").write_text("id,easting,northing\nA,1,2\nB,3,4\n")
    answer = geoqa("check", "--points", str(tmp_path / "points.csv"), "--marks", str(tmp_path / "marks.csv"))
    assert answer.exit_code == 2
    assert "marks.csv, line 3" in answer.stderr
    assert "“B”" in answer.stderr


def test_point_without_a_mark_says_so(tmp_path):
    (tmp_path / "points.csv").write_text("id,easting,northing\nA,1,2\nB,3,4\n")
    (tmp_path / "marks.csv").write_text("id,easting,northing\nA,1.01,2\n")
    words = ["--points", str(tmp_path / "points.csv"), "--marks", str(tmp_path / "marks.csv")]
    answer = geoqa("check", *words, "--out", str(tmp_path / "out"), "--json")
    assert [point["horizontal"]["reason"] for point in answer.json["points"]] == [None, "no mark given"]
    assert answer.json["statistics"]["east"]["mean_m"] == pytest.approx(0.01)
    assert answer.json["statistics"]["east"]["std_m"] is None


def test_point_given_twice_at_two_places_does_not_count(tmp_path):
    (tmp_path / "points.csv").write_text("id,easting,northing\nA,1,2\nA,3,4\n")
    (tmp_path / "marks.csv").write_text("id,easting,northing\nA,1,2\n")
    words = ["--points", str(tmp_path / "points.csv"), "--marks", str(tmp_path / "marks.csv")]
    answer = geoqa("check", *words, "--horizontal-limit", "0.05", "--out", str(tmp_path / "out"), "--json")
    assert answer.exit_code == 3
    (point,) = answer.json["points"]
    assert point["horizontal"] == {"used": False, "reason": "occupations disagree"}
    assert "points.csv, line 2: “A”: its 2 shots differ by 2.000 m east" in answer.stderr


@pytest.mark.parametrize(("unit", "metres"), [("foot", 0.3048), ("us-survey-foot", 1200 / 3937)])
def test_feet_come_back_as_metres(tmp_path, unit, metres):
    (tmp_path / "points.csv").write_text("id,easting,northing,height\nA,1000,2000,10\nB,1100,2000,10\n")
    (tmp_path / "marks.csv").write_text("id,easting,northing,height\nA,1001,2000,10\nB,1101,2000,10\n")
    words = ["--points", str(tmp_path / "points.csv"), "--marks", str(tmp_path / "marks.csv")]
    answer = geoqa("check", *words, "--points-unit", unit, "--out", str(tmp_path / "out"), "--json")
    assert answer.exit_code == 0, answer.stderr
    assert answer.json["statistics"]["east"]["mean_m"] == pytest.approx(metres, abs=1e-9)


def test_marks_without_a_header_are_refused_until_their_layout_is_named(tmp_path):
    (tmp_path / "points.csv").write_text("id,easting,northing,height\nA,1001,2000,10\nB,1101,2000,10\n")
    (tmp_path / "marks.txt").write_text("A 2000.03 1001.00\nB 2000.03 1101.00\n")
    text = "[points]\npath = 'points.csv'\n[targets]\nmarks = 'marks.txt'\n"
    (tmp_path / "check.toml").write_text(text)
    refused = geoqa("check", str(tmp_path / "check.toml"))
    assert refused.exit_code == 2
    assert "marks.txt, line 1" in refused.stderr
    assert "targets.marks_layout" in refused.stderr
    assert "points.layout" not in refused.stderr
    (tmp_path / "check.toml").write_text(text + "marks_layout = 'PNE'\n")
    answer = geoqa("check", str(tmp_path / "check.toml"), "--json")
    assert answer.exit_code == 0, answer.stderr
    for point in answer.json["points"]:
        assert point["residual_m"][:2] == pytest.approx([0.0, 0.03], abs=1e-9)
