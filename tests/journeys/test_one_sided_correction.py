"""The correction reached one side only: named, cured dry, and checked again as predicted.

The field story of `test_field_story`: the map was moved to the precise position of the base, and the surveyor
believes that the shots were corrected as well. They were not.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tests.journeys.base_site import LACKING, SHIFT_ENU
from tests.journeys.test_field_story import base, check, field, moved, settings
from tests.site import geoqa

__all__ = ["field"]


@pytest.fixture(scope="module")
def office(field, tmp_path_factory):
    folder = tmp_path_factory.mktemp("office")
    found = check(field, settings()).json["points"]
    moved(field, folder)
    rows = ["id,easting,northing"]
    for point in found:
        east, north = np.array(point["product_m"][:2]) + LACKING[:2]
        rows.append(f"{point['id']},{east:.5f},{north:.5f}")
    (folder / "marks.csv").write_text("\n".join(rows) + "\n")
    return folder


def marked(text):
    """Return settings with the centres picked by hand: two metres away nobody seeks them."""
    return text.replace("size_m = 0.6\n", 'size_m = 0.6\nmarks = "marks.csv"\n')


@pytest.fixture(scope="module")
def believed(office):
    """Check with what the surveyor believes."""
    return check(office, marked(settings(base("precise", "precise"))))


def first(answer):
    return answer.json["findings"][0]


def test_the_cause_stands_first_and_says_which_side_lacks_it(believed):
    finding = first(believed)
    assert (finding["diagnosis"], finding["verdict"], finding["rank"]) == ("base-correction", "present", 1)
    assert "the points lack the base correction" in finding["evidence"].lower()
    assert finding["not_separable_from"] == []
    assert believed.exit_code == 1
    assert believed.json["decision"]["action"] == "correct at the source and run again"
    assert believed.json["decision"]["sentence"] in believed.stderr.replace("\n", " ")


def test_the_dry_cure_touches_nothing_and_stands_before_and_after(office, believed):
    before = {path.name: path.read_bytes() for path in office.iterdir() if path.is_file()}
    answer = geoqa(
        *("check", str(office / "job.toml"), "--out", str(office / "tried"), "--json"),
        *("--cure", f"base-correction; vector {-SHIFT_ENU[0]} {-SHIFT_ENU[1]} {-SHIFT_ENU[2]}; shift"),
    )
    by_finding, by_vector, by_shift = answer.json["trials"][:3]
    assert all(trial["exploration"] for trial in answer.json["trials"])
    assert not by_finding["makes_control"]
    assert by_shift["makes_control"]
    assert by_shift["leave_one_out_rmse_m"]["vertical"] > by_shift["after"]["up"]["rmse_m"]
    assert by_finding["before"] == answer.json["statistics"]
    for trial in (by_finding, by_vector):
        assert trial["before"]["horizontal"]["rmse_m"] > 2.0
        assert trial["after"]["horizontal"]["rmse_m"] < 0.03
    # The verdict is that of the residuals, not of a trial.
    assert answer.json["verdict"] == believed.json["verdict"]
    assert before == {path.name: path.read_bytes() for path in office.iterdir() if path.is_file()}


def test_the_check_after_the_cure_is_as_predicted(office, believed):
    again = check(office, marked(settings(base("assumed", "precise"))))
    assert again.exit_code == 0, again.stderr
    statistics, predicted = again.json["statistics"], first(believed)["predicted_rmse_m"]
    assert predicted["horizontal"] == pytest.approx(statistics["horizontal"]["rmse_m"], rel=0.15)
    assert predicted["vertical"] == pytest.approx(statistics["up"]["rmse_m"], rel=0.15)
    present = [item for item in again.json["findings"] if item["verdict"] == "present"]
    assert "base-correction" not in [item["diagnosis"] for item in present]


def test_without_a_base_the_shift_is_seen_and_no_cause_pretended(office):
    answer = check(office, marked(settings()))
    finding = first(answer)
    assert finding["diagnosis"] in {"base-correction", "reference-frame"}
    assert {finding["diagnosis"], *finding["not_separable_from"]} >= {"base-correction", "reference-frame"}
    found = {item["name"]: item["value"] for item in finding["quantities"]}
    assert_allclose([found[f"shift {axis}"] for axis in ("east", "north")], SHIFT_ENU[:2], atol=0.03)


def test_targets_found_by_the_common_shift_name_it_as_well(office):
    answer = check(office, settings(base("precise", "precise")))
    finding = first(answer)
    assert finding["diagnosis"] == "base-correction"
    assert "the points lack the base correction" in finding["evidence"].lower()


def test_heights_alone_name_it(office):
    text = settings(base("precise", "precise"))
    text = text.replace(text[text.index("[orthomosaic]") : text.index("[elevation]")], "")
    text = text.replace(text[text.index("[targets]") : text.index("[requirement]")], "")
    answer = check(office, text.replace("horizontal_rmse_m = 0.05\n", ""))
    finding = first(answer)
    assert finding["diagnosis"] == "base-correction", answer.stderr
    assert "the points lack the base correction" in finding["evidence"].lower()
    assert set(finding["predicted_rmse_m"]) == {"vertical"}


def test_an_unknown_cure_is_refused_with_what_can_be_tried(office):
    answer = geoqa("check", str(office / "job.toml"), "--cure", "hammer", "--out", str(office / "no"))
    assert answer.exit_code == 2
    assert "“hammer” is no cure that can be tried" in answer.stderr
    assert "swap ID ID" in answer.stderr
    assert not (office / "no").exists()
