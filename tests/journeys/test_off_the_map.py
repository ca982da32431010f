"""Points that lie off the map: results are written, findings say why, and the reading they name works."""

import numpy as np
import pyproj
import pytest
from numpy.testing import assert_allclose

from tests.scenes import ORIGIN, write_points, write_raster
from tests.site import geoqa

PLACES = np.array([(20, 15), (80, 20), (50, 60), (25, 85), (85, 90)]) + np.array([ORIGIN[0], ORIGIN[1] - 100])
HEIGHT = 57.3


@pytest.fixture
def site(tmp_path):
    write_raster(tmp_path / "surface.tif", np.full((1, 200, 200), HEIGHT + 0.012), 0.5)
    return tmp_path


def check(site, places, *words, height=HEIGHT):
    write_points(site / "points.csv", [f"P{n}" for n in range(5)], places, np.full(5, height))
    return geoqa(
        *("check", "--elevation", str(site / "surface.tif"), "--points", str(site / "points.csv")),
        *("--out", str(site / "out"), "--json", *words),
    )


def zone_33():
    way = pyproj.Transformer.from_crs("EPSG:25832", "EPSG:25833", always_xy=True)
    return np.column_stack(way.transform(*PLACES.T))


CASES = {
    "projection-zone": (zone_33, "EPSG:25833", ("--points-crs", "EPSG:25833")),
    "axis-order": (lambda: PLACES[:, ::-1], "[points.columns]", None),
    "linear-unit": (lambda: PLACES / 0.3048, "points.unit", ("--points-unit", "foot")),
}


@pytest.mark.parametrize("cause", CASES)
def test_all_outside_is_undecidable_and_says_why(site, cause):
    places, advice, _ = CASES[cause]
    answer = check(site, places(), "--vertical-limit", "0.05")
    assert answer.exit_code == 3
    assert (site / "out" / "results.json").exists()
    assert {point["surface"]["status"] for point in answer.json["points"]} == {"outside"}
    present = [item for item in answer.json["findings"] if item["verdict"] == "present"]
    assert [item["diagnosis"] for item in present] == [cause]
    assert advice in present[0]["advice"]
    assert answer.json["decision"]["action"] == "correct at the source and run again"
    assert answer.json["decision"]["diagnosis"] == cause
    assert answer.json["statistics"]["up"]["rmse_m"] is None


@pytest.mark.parametrize("cause", ["projection-zone", "linear-unit"])
def test_the_reading_that_the_finding_names_brings_them_back(site, cause):
    places, _, words = CASES[cause]
    extra = ("--height-system", "EPSG:7837") if cause == "projection-zone" else ()
    answer = check(site, places(), *words, *extra, height=HEIGHT / (0.3048 if "foot" in words else 1.0))
    surfaces = {point["surface"]["status"] for point in answer.json["points"]}
    assert surfaces == {"sampled"}, answer.stderr
    (again,) = (item for item in answer.json["findings"] if item["diagnosis"] == cause)
    assert again["verdict"] == "absent"
    found = [point["survey_m"][:2] for point in answer.json["points"]]
    assert_allclose(found, PLACES, rtol=0, atol=0.01)


def test_points_that_lie_nowhere_near_are_not_explained(site):
    answer = check(site, PLACES + 5_000.0)
    assert answer.exit_code == 3
    assert all(item["verdict"] != "present" for item in answer.json["findings"])
