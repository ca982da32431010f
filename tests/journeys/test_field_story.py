"""From raw shots to a verdict: a base on an unknown point, and its position some days later.

A morning at the invented Lindenkamp quarry. The base stands on a nail that nobody has surveyed; its
receiver takes its own autonomous position and tells it to rover and drone alike. Each target is shot
twice, three hours apart. The map comes out on the same base. Days later a positioning service returns
the position of the nail as SINEX.
"""

import shutil

import numpy as np
import pytest
import rasterio
from numpy.testing import assert_allclose
from rasterio.transform import Affine

from tests.frame import ecef_by_hand as hand
from tests.journeys.base_site import (
    ASSUMED,
    LACKING,
    PRECISE,
    SHIFT_ENU,
    SHIFT_M,
    ground,
    position_words,
    to_degrees,
)
from tests.readers.sinex_text import COVARIANCE_M2, estimates, lower, sinex
from tests.scenes import ORIGIN, render_scene, write_raster
from tests.site import geoqa

FRAME, EPOCH = "EPSG:9989", 2026.45
OFF_UP_M = 0.018
NOISE_M = np.array([0.006, 0.006, 0.011])


@pytest.fixture(scope="module")
def field(tmp_path_factory):
    """Lay out what the surveyor brings home: map, surface, raw shots; then the file of the service."""
    folder = tmp_path_factory.mktemp("field")
    rng = np.random.default_rng(41)
    scene = render_scene(folder, rng, kinds=["quadrant-panel"] * 9, size_px=30)
    true = [to_true(centre) for centre in scene.centres_m]
    write_surface(folder / "surface.tif")
    rows = ["id,latitude,longitude,height,sd_east,sd_north,sd_up,fix,time,cover"]
    for hour in ("08", "11"):
        for minute, (name, position) in enumerate(zip(scene.ids, true, strict=True), start=10):
            lon, lat, height = shot(position, rng)
            place = f"{lat:.11f},{lon:.11f},{height:.4f}"
            rows.append(f"{name},{place},0.010,0.010,0.018,fixed,2026-06-14T{hour}:{minute}:00Z,hard")
    (folder / "shots.csv").write_text("\n".join(rows) + "\n")
    service = estimates(values=hand.geocentric(PRECISE), epoch="26:165:43200")
    (folder / "nail.snx").write_text(sinex(service, lower(COVARIANCE_M2), up=1.6420))
    return folder


def to_true(centre):
    """Return the true position of a place on a map that rests on the assumed base."""
    plan = centre + LACKING[:2]
    return np.array([*plan, ground(*plan)])


def shot(position, rng):
    """Return longitude, latitude, height as the rover stores them: base as assumed, plus its vector."""
    xyz = hand.geocentric(to_degrees(position)) - SHIFT_M
    noise = hand.horizon(PRECISE).T @ (NOISE_M * rng.normal(size=3))
    return hand.geographic(xyz + noise)


def write_surface(path):
    cells = (np.arange(200) + 0.5) * 0.05
    east = ORIGIN[0] + cells[None] + LACKING[0]
    north = ORIGIN[1] - cells[:, None] + LACKING[1]
    height = ground(east, north) + OFF_UP_M - LACKING[2]
    write_raster(path, height[None].astype("float64"), 0.05)


def settings(base="", products=""):
    return (
        f'[orthomosaic]\npath = "ortho.tif"\nframe = "{FRAME}"\nepoch = {EPOCH}\n'
        f'[elevation]\npath = "surface.tif"\nframe = "{FRAME}"\nepoch = {EPOCH}\n'
        'height_system = "ellipsoidal"\n'
        f'[points]\npath = "shots.csv"\ncrs = "{FRAME}"\nepoch = {EPOCH}\nheight_system = "ellipsoidal"\n'
        f'[targets]\nkind = "quadrant-panel"\nsize_m = 0.6\n'
        "[requirement]\nhorizontal_rmse_m = 0.05\nvertical_rmse_m = 0.06\n[deliver]\npictures = "
        f"false\n{base}{products}"
    )


def base(points_use, products_use):
    return (
        f'[base]\ncrs = "{FRAME}"\nepoch = {EPOCH}\nassumed = {position_words(ASSUMED)}\n'
        f'precise = {{ sinex = "nail.snx", site = "BASE" }}\n'
        f'points_use = "{points_use}"\nproducts_use = "{products_use}"\n'
    )


def check(folder, text):
    (folder / "job.toml").write_text(text)
    return geoqa("check", str(folder / "job.toml"), "--out", str(folder / "out"), "--json")


def means(results):
    return np.array([results["statistics"][name]["mean_m"] for name in ("east", "north", "up")])


@pytest.fixture(scope="module")
def on_the_day(field):
    return check(field, settings())


@pytest.fixture(scope="module")
def days_later(field):
    return check(field, settings(base("assumed", "assumed")))


def test_on_the_day_the_map_fits_and_nothing_absolute_is_claimed(on_the_day):
    assert on_the_day.exit_code == 0, on_the_day.stderr
    results = on_the_day.json
    assert results["verdict"]["horizontal"] == "proved"
    assert {point["target"]["status"] for point in results["points"]} == {"found"}
    assert len(results["points"]) == 9
    # 8 mm of noise a shot, two occupations a target, nine targets.
    assert_allclose(means(results), [0.0, 0.0, OFF_UP_M], rtol=0, atol=0.008)
    assert results["accuracy"]["absolute"]["horizontal"]["rmse_m"] is None
    assert results["base"] == []


def test_days_later_the_fit_is_the_same_and_the_sentence_says_where_the_map_lies(on_the_day, days_later):
    assert days_later.exit_code == 0, days_later.stderr
    results = days_later.json
    assert_allclose(means(results), means(on_the_day.json), rtol=0, atol=1e-6)
    sentence = results["verdict"]["sentence"]
    assert f"as delivered lie {np.linalg.norm(SHIFT_ENU):.3f} m from the truth" in sentence
    assert "move them by +1.850 m east, −1.150 m north and +2.600 m up" in sentence
    fit, absolute = (results["accuracy"][name]["vertical"]["rmse_m"] for name in ("fit", "absolute"))
    assert absolute == pytest.approx(np.hypot(fit, results["base"][0]["sigma_m"][2]), rel=1e-9)
    turn = hand.horizon(PRECISE)
    sigma = np.sqrt(np.diagonal(turn @ np.array(COVARIANCE_M2) @ turn.T))
    assert_allclose(results["base"][0]["sigma_m"], sigma, rtol=1e-6)
    assert [item["path"].rpartition("/")[2] for item in results["provenance"]["inputs"]] == [
        "ortho.tif",
        "surface.tif",
        "shots.csv",
        "nail.snx",
    ]


def moved(field, folder):
    """Deliver the map anew, moved as the sentence says: by its transform, and the heights by a number."""
    for name in ("shots.csv", "nail.snx"):
        shutil.copy(field / name, folder)
    for name, rise in (("ortho.tif", 0.0), ("surface.tif", LACKING[2])):
        with rasterio.open(field / name) as source:
            profile, values = source.profile, source.read()
        t = source.transform
        profile["transform"] = Affine(t.a, t.b, t.c + LACKING[0], t.d, t.e, t.f + LACKING[1])
        with rasterio.open(folder / name, "w", **profile) as target:
            target.write(values if rise == 0.0 else values + rise)


def test_map_that_was_moved_is_compared_with_the_raw_shots(field, tmp_path, days_later):
    moved(field, tmp_path)
    answer = check(tmp_path, settings(base("assumed", "precise")))
    assert answer.exit_code == 0, answer.stderr
    results = answer.json
    # The same residuals, now in the truth: the shots are corrected by calculation.
    assert_allclose(means(results), means(days_later.json), rtol=0, atol=2e-4)
    assert "from the truth" not in results["verdict"]["sentence"]
    steps = [step["title"] for step in results["points"][0]["steps"]]
    assert steps[0] == "base correction"
    assert_allclose(results["points"][0]["steps"][0]["change_m"], SHIFT_ENU, rtol=0, atol=1e-3)


def test_forgotten_correction_shows_itself_and_proves_nothing(field, tmp_path):
    moved(field, tmp_path)
    answer = check(tmp_path, settings())
    assert answer.exit_code == 1
    found = [point["target"] for point in answer.json["points"] if point["target"]["status"] == "found"]
    assert len(found) >= 3
    assert all("common shift" in target["flags"] for target in found)
    means_m = means(answer.json)
    assert_allclose(means_m[:2], SHIFT_ENU[:2], rtol=0, atol=0.03)
    assert means_m[2] == pytest.approx(OFF_UP_M + SHIFT_ENU[2], abs=0.05)
    finding = answer.json["findings"][0]
    assert finding["verdict"] == "present"
    assert {"base-correction", "reference-frame"} <= {finding["diagnosis"], *finding["not_separable_from"]}


def test_corrected_shots_as_a_table_do_the_same(field, tmp_path, days_later, monkeypatch):
    moved(field, tmp_path)
    monkeypatch.chdir(tmp_path)
    answer = geoqa(
        *("correct-base", "--points", "shots.csv", "--out", "corrected.csv"),
        *("--assumed", position_words(ASSUMED), "--precise", 'sinex = "nail.snx", site = "BASE"'),
        *(
            "--base-crs",
            FRAME,
            "--base-epoch",
            str(EPOCH),
            "--points-crs",
            FRAME,
            "--points-epoch",
            str(EPOCH),
        ),
    )
    assert answer.exit_code == 0, answer.stderr
    text = settings(base("precise", "precise")).replace("shots.csv", "corrected.csv")
    results = check(tmp_path, text).json
    assert_allclose(means(results), means(days_later.json), rtol=0, atol=2e-4)
