"""Scenes rendered with known centres: what was put in comes back in the residuals."""

import numpy as np
import pytest

from tests.scenes import ORIGIN, render_scene, textured, write_points, write_raster
from tests.site import geoqa

# Goal for clean panels of 16 px and more: 0.03 px RMSE per coordinate.
GOAL_PX = 0.03
KINDS = ["quadrant-panel", "x-panel"] * 8


def check(scene, points_m, *, size_px, extra=""):
    write_points(scene.folder / "points.csv", scene.ids, points_m)
    path = scene.folder / "scene.toml"
    path.write_text(
        "[orthomosaic]\npath = 'ortho.tif'\n[points]\npath = 'points.csv'\n[deliver]\npictures = false\n"
        f"[targets]\nsize_m = {size_px * scene.cell_m}\nsearch_radius_m = 0.5\n{extra}"
    )
    answer = geoqa("check", str(path), "--json", "--quiet")
    assert answer.exit_code in {0, 1, 3}, answer.stderr
    return answer.json


@pytest.mark.parametrize("size_px", [16, 24, 40])
@pytest.mark.parametrize("seed", [11, 12])
def test_clean_panels_are_found_within_the_goal(tmp_path, seed, size_px):
    rng = np.random.default_rng([seed, size_px])
    scene = render_scene(tmp_path, rng, kinds=KINDS, size_px=size_px)
    surveyed = scene.centres_m + rng.uniform(-0.2, 0.2, scene.centres_m.shape)
    results = check(scene, surveyed, size_px=size_px)
    assert [point["target"]["status"] for point in results["points"]] == ["found"] * len(KINDS)
    assert [point["target"]["kind"] for point in results["points"]] == KINDS
    residuals = np.array([point["residual_m"][:2] for point in results["points"]])
    error_px = (residuals - (scene.centres_m - surveyed)) / scene.cell_m
    assert np.sqrt((error_px**2).mean(axis=0)).max() <= GOAL_PX


def test_injected_shift_scale_and_rotation_come_back(tmp_path):
    rng = np.random.default_rng(21)
    scene = render_scene(tmp_path, rng, kinds=KINDS, size_px=24)
    centre = scene.centres_m.mean(axis=0)
    shift, scale, turn = np.array([0.11, -0.07]), 1 + 4e-3, 3e-3
    matrix = scale * np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    # The picture is the survey moved by this similarity, so the survey is its inverse.
    surveyed = centre + np.linalg.solve(matrix, (scene.centres_m - shift - centre).T).T
    results = check(scene, surveyed, size_px=24)
    positions = surveyed - centre
    product = np.array([point["product_m"][:2] for point in results["points"]]) - centre
    design = np.zeros((2 * len(positions), 4))
    design[0::2] = np.column_stack(
        [positions[:, 0], -positions[:, 1], np.ones(len(positions)), np.zeros(len(positions))]
    )
    design[1::2] = np.column_stack(
        [positions[:, 1], positions[:, 0], np.zeros(len(positions)), np.ones(len(positions))]
    )
    a, b, east, north = np.linalg.lstsq(design, product.ravel(), rcond=None)[0]
    goal_m = GOAL_PX * scene.cell_m
    reach_m = np.abs(positions).max()
    assert [east, north] == pytest.approx(shift.tolist(), abs=goal_m)
    assert abs(a - scale * np.cos(turn)) * reach_m <= goal_m
    assert abs(b - scale * np.sin(turn)) * reach_m <= goal_m


def test_residual_is_product_minus_survey(tmp_path):
    rng = np.random.default_rng(31)
    scene = render_scene(tmp_path, rng, kinds=["quadrant-panel"] * 4, size_px=24)
    results = check(scene, scene.centres_m - [0.10, -0.05], size_px=24)
    horizontal = results["statistics"]
    assert horizontal["east"]["mean_m"] == pytest.approx(0.10, abs=0.001)
    assert horizontal["north"]["mean_m"] == pytest.approx(-0.05, abs=0.001)


def test_empty_ground_gives_no_position(tmp_path):
    rng = np.random.default_rng(41)
    values = np.clip(textured((600, 600), rng), 0, 255).astype("uint8")
    write_raster(tmp_path / "ortho.tif", values[None], 0.02)
    places = [(ORIGIN[0] + 3 + 2 * i, ORIGIN[1] - 5) for i in range(4)]
    write_points(tmp_path / "points.csv", ["A", "B", "C", "D"], places)
    answer = geoqa(
        "check",
        "--orthomosaic",
        str(tmp_path / "ortho.tif"),
        "--points",
        str(tmp_path / "points.csv"),
        "--out",
        str(tmp_path / "out"),
        "--horizontal-limit",
        "0.05",
        "--json",
    )
    assert answer.exit_code == 3, answer.stderr
    assert {point["target"]["status"] for point in answer.json["points"]} == {"not found"}
    assert all(point["product_m"][:2] == [None, None] for point in answer.json["points"])


def test_points_beside_the_map_are_outside_and_explained(tmp_path):
    rng = np.random.default_rng(51)
    scene = render_scene(tmp_path, rng, kinds=["x-panel"] * 4, size_px=24)
    results = check(scene, scene.centres_m[:, ::-1], size_px=24)
    assert {point["target"]["status"] for point in results["points"]} == {"outside"}
    present = [item["diagnosis"] for item in results["findings"] if item["verdict"] == "present"]
    assert present == ["axis-order"]


def shifted_scene(folder, rng, shift, *, kinds=KINDS, scatter_m=0.04):
    """Render targets whose surveyed places all lie one shift from where the picture shows them."""
    scene = render_scene(folder, rng, kinds=kinds, size_px=24, spacing_px=200)
    return scene, scene.centres_m - shift + rng.normal(0.0, scatter_m, scene.centres_m.shape)


@pytest.mark.parametrize("extra", ["", "kind = 'quadrant-panel'\n"])
def test_a_common_shift_beyond_the_search_radius_is_measured_and_said(tmp_path, extra):
    rng = np.random.default_rng(61)
    shift = np.array([1.5, -2.5])
    kinds = ["quadrant-panel"] * 6 if extra else KINDS[:6]
    scene, surveyed = shifted_scene(tmp_path, rng, shift, kinds=kinds)
    results = check(scene, surveyed, size_px=24, extra=extra)
    on_map = [point for point in results["points"] if point["target"]["status"] != "outside"]
    assert len(on_map) >= 4
    assert {point["target"]["status"] for point in on_map} == {"found"}
    assert all("common shift" in point["target"]["flags"] for point in on_map)
    residuals = np.array([point["residual_m"][:2] for point in on_map])
    assert residuals.mean(axis=0) == pytest.approx(shift, abs=0.05)
    rows = [scene.ids.index(point["id"]) for point in on_map]
    errors = residuals - (scene.centres_m - surveyed)[rows]
    assert np.sqrt((errors**2).mean(axis=0)).max() <= GOAL_PX * scene.cell_m


def test_two_shifted_targets_are_no_common_shift(tmp_path):
    rng = np.random.default_rng(62)
    scene, surveyed = shifted_scene(tmp_path, rng, np.array([0.5, -0.9]), kinds=["x-panel"] * 2)
    results = check(scene, surveyed, size_px=24)
    assert {point["target"]["status"] for point in results["points"]} == {"not found"}
    assert all(point["residual_m"][:2] == [None, None] for point in results["points"])
