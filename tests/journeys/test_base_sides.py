"""Every combination of what points and products rest on gives the residual of the product itself."""

import numpy as np
import pytest
import rasterio
from numpy.testing import assert_allclose

from tests.frame import ecef_by_hand as hand
from tests.journeys.base_site import (
    CENTRE,
    ERROR,
    FRAME,
    GRID,
    LACKING,
    PRECISE,
    SHIFT_ENU,
    as_measured,
    base_words,
    ground,
    position_words,
)
from tests.readers.sinex_text import estimates, sinex
from tests.scenes import write_raster
from tests.site import geoqa

OFFSETS = {"CP1": (-60.0, 40.0), "CP2": (55.0, 62.0), "CP3": (20.0, -70.0), "CP4": (-48.0, -33.0)}
SIDES = [
    (points, products)
    for points in ("assumed", "precise")
    for products in ("assumed", "precise", "independent")
]
CELL_M = 1.0


def true_positions():
    plan = [CENTRE + offset for offset in OFFSETS.values()]
    return [np.array([*place, ground(*place)]) for place in plan]


@pytest.fixture
def job(tmp_path):
    """Return a function that runs a check: marks for the plan, a raster for the height."""
    return runner_in(tmp_path)


@pytest.fixture(scope="module", params=SIDES, ids="-".join)
def outcome(request, tmp_path_factory):
    """Return a combination of what points and products rest on, and the results of its check."""
    answer = runner_in(tmp_path_factory.mktemp("base"))(*request.param)
    assert answer.exit_code == 0, answer.stderr
    return request.param, answer.json


def runner_in(tmp_path):
    def run(points_use, products_use, *, words=None, columns="", more=""):
        header = "id,easting,northing,height"
        points, marks = [header + (",session" if columns else "")], [header[:19]]
        for name, true in zip(OFFSETS, true_positions(), strict=True):
            points.append(
                f"{name},{','.join(f'{value:.5f}' for value in as_measured(true, points_use))}{columns}"
            )
            found = as_measured(true + ERROR * [1, 1, 0], products_use)
            marks.append(f"{name},{found[0]:.5f},{found[1]:.5f}")
        (tmp_path / "points.csv").write_text("\n".join(points) + "\n")
        (tmp_path / "marks.csv").write_text("\n".join(marks) + "\n")
        write_surface(tmp_path / "surface.tif", products_use)
        words = base_words(points_use, products_use) if words is None else words
        (tmp_path / "job.toml").write_text(
            f'[points]\npath = "points.csv"\ncrs = "{GRID}"\nheight_system = "ellipsoidal"\n'
            '[elevation]\npath = "surface.tif"\nheight_system = "ellipsoidal"\n'
            '[targets]\nmarks = "marks.csv"\n[deliver]\npictures = false\n'
            "[requirement]\nhorizontal_rmse_m = 0.05\nvertical_rmse_m = 0.05\n"
            f"{words}{more}"
        )
        return geoqa("check", str(tmp_path / "job.toml"), "--out", str(tmp_path / "out"), "--json")

    return run


def write_surface(path, use):
    """Write heights of cells whose places are off by what the base lacks."""
    lacking = LACKING if use == "assumed" else np.zeros(3)
    rows, cols = (np.arange(200) + 0.5) * CELL_M, (np.arange(200) + 0.5) * CELL_M
    east = CENTRE[0] - 100.0 + cols[None] + lacking[0]
    north = CENTRE[1] + 100.0 - rows[:, None] + lacking[1]
    height = ground(east, north) + ERROR[2] - lacking[2]
    write_raster(path, height[None].astype("float64"), CELL_M)


def residuals(results):
    return np.array([point["residual_m"] for point in results["points"]])


def test_residual_is_that_of_the_product_in_every_combination(outcome):
    sides, results = outcome
    # Without the correction a residual would be 3.4 m, or 6.8 m with the wrong sign.
    assert_allclose(residuals(results), np.tile(ERROR, (4, 1)), rtol=0, atol=2e-4)
    (base,) = results["base"]
    assert_allclose(base["shift_m"], SHIFT_ENU, rtol=0, atol=1e-5)
    assert base["distance_m"] == pytest.approx(np.linalg.norm(SHIFT_ENU), abs=1e-5)
    assert (base["points_use"], base["products_use"]) == sides
    assert results["verdict"]["horizontal"] == "not contradicted"


APPLIED = {
    ("assumed", "assumed"): "neither",
    ("assumed", "precise"): "points",
    ("assumed", "independent"): "points",
    ("precise", "assumed"): "products",
    ("precise", "precise"): "neither",
    ("precise", "independent"): "neither",
}


def test_positions_are_those_of_the_side_that_is_compared(outcome):
    sides, results = outcome
    survey = np.array([point["survey_m"] for point in results["points"]])
    product = np.array([point["product_m"] for point in results["points"]])
    assert results["base"][0]["applied_to"] == APPLIED[sides]
    expected = np.array(true_positions())
    if sides == ("assumed", "assumed"):
        expected = np.array([as_measured(position, "assumed") for position in expected])
    assert_allclose(survey, expected, rtol=0, atol=2e-4)
    assert_allclose(product, expected + ERROR, rtol=0, atol=2e-4)
    moved = [step["title"] == "base correction" for point in results["points"] for step in point["steps"]]
    assert any(moved) == (APPLIED[sides] == "points")


def test_verdict_says_when_what_is_delivered_lies_off(outcome):
    sides, results = outcome
    sentence = results["verdict"]["sentence"]
    words = "from the truth, since they rest on the assumed position of the base"
    assert (words in sentence) == (sides[1] == "assumed")
    # The three numbers stand in it, each with what it is relative to.
    assert "relative to the survey" in sentence
    assert "absolute, with base and frame," in sentence
    assert ("The products, and the points, as delivered" in sentence) == (sides == ("assumed", "assumed"))


def test_absolute_accuracy_holds_the_base_where_it_is_shared(outcome):
    sides, results = outcome
    accuracy = results["accuracy"]
    shared = sides[1] != "independent"
    for direction, added in (("horizontal", 2 * 0.008**2), ("vertical", 0.02**2)):
        fit, absolute = accuracy["fit"][direction]["rmse_m"], accuracy["absolute"][direction]["rmse_m"]
        expected = np.hypot(fit, np.sqrt(added) if shared else 0.0)
        assert absolute == pytest.approx(expected, rel=1e-9)
        assert accuracy["absolute"][direction]["relative_to"].startswith("the reference frame")


def test_absolute_accuracy_is_not_stated_where_nothing_tells_how_well_the_base_is_known(job):
    answer = job("assumed", "precise", words=base_words("assumed", "precise", sigma=""))
    absolute = answer.json["accuracy"]["absolute"]["vertical"]
    assert absolute["rmse_m"] is None
    assert "base.precise.sigma_m" in absolute["relative_to"]
    assert answer.json["base"][0]["sigma_m"] is None


def test_raster_is_not_written_to_and_moves_by_calculation_only(job, tmp_path):
    answer = job("precise", "assumed")
    with rasterio.open(tmp_path / "surface.tif") as raster:
        assert raster.transform.c == CENTRE[0] - 100.0
    assert any("the file stays as it is" in note for note in answer.json["messages"])


def test_sinex_of_the_base_is_read_and_fingerprinted(job, tmp_path):
    text = sinex(estimates(values=hand.geocentric(PRECISE)), up=None)
    (tmp_path / "base.snx").write_text(text)
    words = base_words("assumed", "precise").replace(
        position_words(PRECISE, ", sigma_m = [0.008, 0.008, 0.02]"), '{ sinex = "base.snx", site = "BASE" }'
    )
    answer = job("assumed", "precise", words=words)
    assert answer.exit_code == 0, answer.stderr
    assert_allclose(residuals(answer.json), np.tile(ERROR, (4, 1)), rtol=0, atol=2e-4)
    (entry,) = [item for item in answer.json["provenance"]["inputs"] if item["use"] == "base position"]
    assert entry["path"].endswith("base.snx")
    assert len(entry["sha256"]) == 64
    assert "base.snx, station BASE A 1" in answer.json["base"][0]["source"]


def test_side_that_is_not_stated_stops_with_the_question(job):
    words = base_words("assumed", "precise").replace('products_use = "precise"\n', "")
    answer = job("assumed", "precise", words=words)
    assert answer.exit_code == 2
    assert (
        "base.products_use: is missing. Say which position of the base the products rest on" in answer.stderr
    )


def test_frame_that_is_not_stated_stops_with_the_question(job, tmp_path):
    words = base_words("assumed", "precise").replace(f'crs = "{FRAME}"\n', "")
    answer = job("assumed", "precise", words=words)
    assert answer.exit_code == 2
    assert "base.assumed: nothing says in which reference frame the position is" in answer.stderr
    assert not (tmp_path / "out").exists()


def test_point_of_another_session_stops(job):
    words = base_words("assumed", "precise").replace("[base]", '[[base]]\nsession = "morning"')
    answer = job("assumed", "precise", words=words, columns=",evening")
    assert answer.exit_code == 2
    assert "points.csv, line 2: point “CP1” is of session “evening”" in answer.stderr
    assert job("assumed", "precise", words=words, columns=",morning").exit_code == 0


def test_report_shows_the_base(job, tmp_path):
    job("assumed", "assumed")
    report = (tmp_path / "out" / "report.html").read_text("utf-8")
    assert 'id="base">The base</h3>' in report
    assert "points assumed, products assumed" in report
    assert "+1.850" in report
    assert "0.008, 0.008, 0.020" in report


def test_mean_of_the_points_is_no_better_known_than_the_base(job, tmp_path):
    job("assumed", "precise")
    text = (tmp_path / "points.csv").read_text().splitlines()
    with_sigma = [text[0] + ",sd_east,sd_north,sd_up", *(f"{line},0.012,0.012,0.02" for line in text[1:])]
    (tmp_path / "points.csv").write_text("\n".join(with_sigma) + "\n")
    answer = geoqa("check", str(tmp_path / "job.toml"), "--out", str(tmp_path / "out"), "--json")
    expected = np.sqrt(np.square([0.008, 0.008, 0.02]) + np.square([0.012, 0.012, 0.02]) / 4)
    assert_allclose(answer.json["base"][0]["sigma_of_mean_m"], expected, rtol=1e-9)
