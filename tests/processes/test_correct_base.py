"""`correct-base`: table in, table out, by the worked example; through the command line."""

import csv

import numpy as np
import pyproj
import pytest
from numpy.testing import assert_allclose

from tests.frame import ecef_by_hand as hand
from tests.readers.sinex_text import POSITION_M, sinex
from tests.site import geoqa

ASSUMED = "latitude = 51.0447, longitude = -114.0719, height = 1045.0"
PRECISE = "latitude = 51.04468921517, longitude = -114.07187433767, height = 1048.4"
BASE = ("--base-crs", "EPSG:9989", "--base-epoch", "2026.45")
POINTS = ("--points-crs", "EPSG:9989", "--points-epoch", "2026.45")
SIGMA = ", sigma_m = [0.008, 0.008, 0.02]"


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    def runner(rows, *words, heading="id,latitude,longitude,height", assumed=ASSUMED, precise=PRECISE):
        (tmp_path / "raw.csv").write_text("\n".join([heading, *rows]) + "\n")
        return geoqa(
            "correct-base",
            "--points",
            "raw.csv",
            "--assumed",
            assumed,
            "--precise",
            precise,
            *words,
            "--json",
        )

    return runner


def geographic_rows(more=""):
    return [
        f"{name},{lat:.11f},{lon:.11f},{height:.5f}{more}" for name, (lon, lat, height) in hand.BEFORE.items()
    ]


def table(path):
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_worked_example_comes_out_in_the_table(run, tmp_path):
    answer = run(geographic_rows(), *BASE, *POINTS)
    assert answer.exit_code == 0, answer.output
    assert answer.json["file"] == "raw-corrected.csv"
    assert answer.json["count"] == 3
    assert_allclose(answer.json["shift_m"], hand.SHIFT_ENU_M, rtol=0, atol=1e-6)
    assert_allclose(answer.json["shift_geocentric_m"], hand.SHIFT_M, rtol=0, atol=5e-6)
    assert answer.json["sigma_m"] is None
    for row, expected in zip(table(tmp_path / "raw-corrected.csv"), hand.AFTER.values(), strict=True):
        found = [float(row[name]) for name in ("longitude", "latitude", "height")]
        # Written to 1e-10 degree and 0.1 mm.
        assert_allclose(hand.apart_m(expected, found), 0.0, rtol=0, atol=6e-5)


def test_further_columns_are_kept(run, tmp_path):
    answer = run(
        geographic_rows(",0.011,fixed,by the gate"),
        *BASE,
        *POINTS,
        heading="id,latitude,longitude,height,sd_up,fix,remark",
        precise=PRECISE + SIGMA,
    )
    assert answer.exit_code == 0, answer.output
    assert_allclose(answer.json["sigma_m"], [0.008, 0.008, 0.02], rtol=1e-12)
    for row in table(tmp_path / "raw-corrected.csv"):
        # The base's standard deviation is common to all points and never goes into theirs.
        assert (float(row["sd_up"]), row["fix"], row["remark"]) == (0.011, "fixed", "by the gate")


def test_points_in_a_grid_stay_in_it(run, tmp_path):
    grid = pyproj.CRS("EPSG:22811")
    forward = pyproj.Transformer.from_crs(grid.geodetic_crs, grid, always_xy=True)
    rows = []
    for name, (lon, lat, height) in hand.BEFORE.items():
        east, north = forward.transform(lon, lat)
        rows.append(f"{name},{east:.5f},{north:.5f},{height:.5f}")
    answer = run(
        rows,
        *("--base-crs", "EPSG:10413", "--points-crs", "EPSG:22811", "--points-height-system", "ellipsoidal"),
        heading="id,easting,northing,height",
    )
    assert answer.exit_code == 0, answer.output
    assert "EPSG:22811" in answer.json["crs"]
    found = table(tmp_path / "raw-corrected.csv")
    for row, (lon, lat, height) in zip(found, hand.AFTER.values(), strict=True):
        expected = [*forward.transform(lon, lat), height]
        numbers = [float(row[name]) for name in ("easting", "northing", "height")]
        assert_allclose(numbers, expected, rtol=0, atol=7e-5)


def test_feet_come_back_as_feet(run, tmp_path):
    grid = pyproj.CRS("EPSG:6559")
    forward = pyproj.Transformer.from_crs(grid.geodetic_crs, grid, always_xy=True)
    start = np.array([-122.5, 45.4, 60.0])
    moved = hand.geographic(hand.geocentric(start) + hand.horizon(start).T @ [1.0, -2.0, 0.5])
    east, north = forward.transform(*start[:2])
    position = "latitude = {1:.12f}, longitude = {0:.12f}, height = {2:.6f}".format
    answer = run(
        [f"A,{east:.6f},{north:.6f},{start[2] / 0.3048:.6f}"],
        *("--base-crs", "EPSG:6319", "--points-crs", "EPSG:6559", "--points-height-system", "ellipsoidal"),
        *("--points-height-unit", "foot"),
        heading="id,easting,northing,height",
        assumed=position(*start),
        precise=position(*moved),
    )
    assert answer.exit_code == 0, answer.output
    (row,) = table(tmp_path / "raw-corrected.csv")
    assert list(row)[1:4] == ["easting_ft", "northing_ft", "height_ft"]
    expected = [*forward.transform(*moved[:2]), moved[2] / 0.3048]
    assert_allclose([float(row[name]) for name in list(row)[1:4]], expected, rtol=0, atol=1e-4)


def test_point_without_a_height_keeps_none(run, tmp_path):
    lon, lat, _ = hand.BEFORE["P1"]
    run([f"P1,{lat:.11f},{lon:.11f},"], *BASE, *POINTS)
    (row,) = table(tmp_path / "raw-corrected.csv")
    assert row["height"] == ""


def test_precise_position_from_sinex(run, tmp_path):
    (tmp_path / "base.snx").write_text(sinex())
    near = hand.geographic(np.array(POSITION_M)) - np.array([0.0, 0.0, 2.5])
    answer = run(
        geographic_rows(),
        *("--base-crs", "EPSG:9989", "--base-epoch", "2025.5", "--points-crs", "EPSG:9989"),
        *("--points-epoch", "2025.5"),
        assumed=f"latitude = {near[1]:.12f}, longitude = {near[0]:.12f}, height = {near[2]:.6f}",
        precise='sinex = "base.snx", site = "BASE"',
    )
    assert answer.exit_code == 0, answer.output
    assert_allclose(answer.json["shift_m"], [0.0, 0.0, 2.5], rtol=0, atol=1e-5)
    assert_allclose(1000 * np.array(answer.json["sigma_m"]), [5.5, 5.9, 11.3], rtol=0, atol=0.05)


def test_antenna_height_lowers_the_precise_position(run):
    up = PRECISE.replace("1048.4", "1050.2")
    answer = run(geographic_rows(), *BASE, *POINTS, "--antenna-height", "1.8", precise=up)
    assert_allclose(answer.json["shift_m"], hand.SHIFT_ENU_M, rtol=0, atol=1e-6)
    assert any("1.8 m above the mark" in text for text in answer.json["assumptions"])


@pytest.mark.parametrize(
    ("words", "given", "named"),
    [
        ((*POINTS,), {}, "base.assumed: nothing says in which reference frame"),
        ((*BASE,), {}, "raw.csv: nothing states the CRS of the points. Name it with --points-crs"),
        ((*BASE, *POINTS), {"assumed": "somewhere"}, "--assumed: “somewhere” is no position"),
        ((*BASE, *POINTS), {"assumed": "latitude = 51.0"}, "base.assumed: a position is one of"),
        ((*BASE, *POINTS), {"precise": 'sinex = "none.snx"'}, "there is no file"),
        ((*BASE, *POINTS, "--out", "raw.csv"), {}, "would overwrite the points"),
        ((*BASE, *POINTS), {"precise": PRECISE.replace("51.04", "51.06")}, "allow_large_base_shift"),
    ],
)
def test_wrong_input_ends_in_one_sentence(run, words, given, named, tmp_path):
    answer = run(geographic_rows(), *words, **given)
    assert answer.exit_code == 2
    assert named in answer.stderr
    assert answer.stdout == ""
    assert not (tmp_path / "raw-corrected.csv").exists()


def test_person_reads_the_correction(run, tmp_path):
    run(geographic_rows(), *BASE, *POINTS)
    answer = geoqa(
        *("correct-base", "--points", "raw.csv", "--assumed", ASSUMED, "--precise", PRECISE + SIGMA),
        *(*BASE, *POINTS),
    )
    assert (
        "3 points moved by 4.0299 m: east +1.8000, north −1.2000, up +3.4000 m at the base" in answer.stderr
    )
    assert "which all points share: 0.0080, 0.0080, 0.0200 m" in answer.stderr
    assert (tmp_path / "raw-corrected.csv").exists()
