"""Every kind is found where it is; what is wrong with a target is said, and never becomes a sound position.

Centres are known from the renderer, which tests/demo/test_render.py holds against polygons.
"""

from dataclasses import replace

import numpy as np
import pytest

from geoqa.records.measurements import RasterPatch, TargetStatus
from geoqa.targets import KINDS, candidates, locate
from tests.targets.scenes import (
    PAINTED,
    Outcomes,
    noise_free_scene,
    plain_look,
    random_look,
    target_scene,
)

ALL_KINDS = sorted(KINDS.all())
SYMMETRIC = [kind for kind in ALL_KINDS if not kind.startswith("l-mark")]
PANELS = [kind for kind in SYMMETRIC if kind not in PAINTED]


def outcomes_of(kind, count, seed, condition="clean", **wanted):
    """Return what becomes of scenes with random looks."""
    rng = np.random.default_rng([seed, len(kind), ord(kind[0])])
    outcomes = Outcomes()
    for _ in range(count):
        scene = target_scene(kind, random_look(rng, kind=kind, **wanted), rng, condition)
        outcomes.add(scene, scene.locate(kind))
    return outcomes


@pytest.mark.parametrize("kind", ALL_KINDS)
def test_a_clean_target_is_found_at_its_point(kind):
    rng = np.random.default_rng([1, len(kind)])
    outcomes = Outcomes()
    for angle in (0.0, 45.0, 17.0, 133.0, 271.0, 200.0):
        look = plain_look(kind, size_px=float(rng.uniform(16.0, 32.0)), angle_deg=angle, snr=50.0)
        scene = target_scene(kind, look, rng)
        fix = scene.locate(kind)
        outcomes.add(scene, fix)
        assert fix.kind == kind
        assert fix.size_px == pytest.approx(look.size_px, rel=0.05)
    assert outcomes.share("found") == 1.0
    # An L mark's corner has no symmetry: its bound at 16 px and signal to noise 50 is 0.022 px.
    assert outcomes.rmse_px() < (0.05 if kind.startswith("l-mark") else 0.02)


@pytest.mark.parametrize("kind", ["disc", "painted-cross"])
def test_uneven_ground_widens_the_ellipse_of_paint(kind):
    rng = np.random.default_rng([10, len(kind)])
    outcomes = Outcomes()
    while len(outcomes.errors) < 40:
        scene = target_scene(kind, random_look(rng, kind=kind, sizes=(16.0, 48.0)), rng)
        fix = scene.locate(kind)
        if fix.status == "found":
            outcomes.add(scene, fix)
    # Of 40, a share of 0.93 leaves fewer than 33 inside in one case of 170 (binomial distribution).
    assert outcomes.inside_95() >= 0.82
    assert np.median(outcomes.distances) > 0.5, "the ellipses are far too large"


@pytest.mark.parametrize("kind", ALL_KINDS)
def test_no_place_in_a_pixel_and_no_angle_moves_the_centre(kind):
    rng = np.random.default_rng([9, len(kind), ord(kind[0])])
    for angle in (0.0, 45.0, 23.0):
        scenes = [
            noise_free_scene(kind, 24.0, angle, ((down + 0.5) / 3, (across + 0.5) / 4), rng)
            for down, across in np.ndindex(3, 4)
        ]
        errors = np.array([scene.error(scene.locate(kind)) for scene in scenes])
        # The renderer itself is good to about 0.0015 px.
        assert np.abs(errors.mean(axis=0)).max() <= 0.003, angle
        assert np.abs(errors).max() <= 0.01, angle


@pytest.mark.parametrize(
    "kind", ["bow-tie-panel", "concentric-rings", "disc", "l-mark-outer", "painted-cross"]
)
def test_the_stated_covariance_holds_for_every_kind(kind):
    rng = np.random.default_rng([2, len(kind)])
    outcomes = Outcomes()
    for _ in range(40):
        scene = target_scene(kind, plain_look(kind, angle_deg=float(rng.uniform(0, 360)), snr=20.0), rng)
        outcomes.add(scene, scene.locate(kind))
    # Of 40, a share of 0.95 leaves fewer than 34 inside in one case of 300 (binomial distribution).
    assert outcomes.inside_95() >= 0.85
    assert np.mean(outcomes.distances) > 0.7, "the ellipses are far too large"


@pytest.mark.parametrize(
    "kind", ["bow-tie-panel", "concentric-rings", "round-quadrant-panel", "painted-cross"]
)
def test_auto_names_the_kind(kind):
    rng = np.random.default_rng([3, len(kind)])
    for size_px in (18.0, 30.0):
        scene = target_scene(kind, plain_look(kind, size_px=size_px, angle_deg=31.0, snr=50.0), rng)
        fix = scene.locate("auto")
        assert (fix.status, fix.kind) == (TargetStatus.FOUND, kind)


def test_an_l_mark_under_auto_is_suspect_since_its_corner_is_not_named():
    rng = np.random.default_rng(4)
    scene = target_scene("l-mark-outer", plain_look("l-mark-outer", snr=50.0), rng)
    fix = scene.locate("auto")
    assert fix.status is TargetStatus.SUSPECT
    assert "which point" in fix.flags
    assert "l-mark-inner" in fix.reason


def test_the_corners_of_an_l_mark_lie_a_stroke_apart():
    rng = np.random.default_rng(5)
    scene = target_scene(
        "l-mark-outer", plain_look("l-mark-outer", size_px=30.0, angle_deg=0.0, snr=50.0), rng
    )
    outer, inner = scene.locate("l-mark-outer"), scene.locate("l-mark-inner")
    # The renderer's strokes are a fifth as wide as they are long, along rows and columns at 0°.
    assert (inner.row - outer.row, inner.col - outer.col) == pytest.approx((6.0, 6.0), abs=0.15)


@pytest.mark.parametrize("kind", ["quadrant-panel", "x-panel", "concentric-rings"])
def test_shadow_across_a_panel_is_seen_and_taken_off(kind):
    outcomes = outcomes_of(kind, 10, 6, "shadow", sizes=(20.0, 40.0))
    rng = np.random.default_rng([7, len(kind)])
    scene = target_scene(kind, random_look(rng, kind=kind, size_px=30.0), rng, "shadow")
    assert "shadow" in scene.locate(kind).flags
    assert outcomes.share("found") >= 0.6
    assert np.median(np.abs(outcomes.errors)) < 0.03
    assert outcomes.inside_95() >= 0.8


@pytest.mark.parametrize("kind", PANELS)
def test_over_exposure_does_not_move_a_centre(kind):
    outcomes = outcomes_of(kind, 8, 8, "over-exposed", jpeg=None, things=False)
    assert outcomes.share("found") >= 0.75
    assert outcomes.rmse_px() < 0.05


@pytest.mark.parametrize("condition", ["ghost", "seam"])
@pytest.mark.parametrize("kind", ["quadrant-panel", "x-panel", "concentric-rings"])
def test_a_torn_or_doubled_panel_is_not_passed_off_as_sound(kind, condition):
    outcomes = outcomes_of(kind, 10, 9, condition, sizes=(20.0, 40.0))
    assert outcomes.share("found") <= 0.2
    assert outcomes.share("suspect") >= 0.5


def test_what_lies_on_a_panel_is_named():
    rng = np.random.default_rng(10)
    flags = []
    for _ in range(8):
        scene = target_scene("quadrant-panel", random_look(rng, size_px=32.0, things=False), rng, "pole")
        flags += scene.locate("quadrant-panel").flags
    assert flags.count("pole on point") >= 4


@pytest.mark.parametrize("kind", ["bow-tie-panel", "disc", "painted-cross"])
def test_twins_are_ambiguous(kind):
    outcomes = outcomes_of(kind, 6, 11, "twin", sizes=(14.0, 20.0), things=False)
    assert outcomes.share("ambiguous") >= 0.8
    assert outcomes.share("found") == 0.0


@pytest.mark.parametrize("kind", ["quadrant-panel", "disc", "l-mark-outer"])
def test_a_dark_target_is_found_like_a_bright_one(kind):
    rng = np.random.default_rng([12, len(kind)])
    look = plain_look(kind, angle_deg=20.0, snr=50.0, ground=190.0 if kind in PAINTED else 120.0)
    scene = target_scene(kind, replace(look, dark=190.0, bright=60.0), rng)
    assert scene.locate(kind).status is TargetStatus.FOUND
    assert np.abs(scene.error(scene.locate(kind))).max() < 0.1


def test_a_mirrored_picture_gives_the_mirrored_centre():
    rng = np.random.default_rng(13)
    scene = target_scene(
        "quadrant-panel", plain_look("quadrant-panel", size_px=30.0, angle_deg=20.0, snr=50.0), rng
    )
    grey = scene.patch.values[0]
    mirrored = RasterPatch(
        scene.patch.values[:, :, ::-1], scene.patch.valid, scene.patch.row0, scene.patch.col0
    )
    cols = grey.shape[1]
    search = replace(scene.search, col=2 * scene.patch.col0 + cols - scene.search.col)
    fix, there = locate(mirrored, search, "quadrant-panel"), scene.locate("quadrant-panel")
    assert fix.row == pytest.approx(there.row, abs=1e-3)
    assert fix.col == pytest.approx(2 * scene.patch.col0 + cols - there.col, abs=1e-3)


def test_a_hole_in_a_panel_leaves_its_centre():
    rng = np.random.default_rng(14)
    scene = target_scene(
        "quadrant-panel", plain_look("quadrant-panel", size_px=32.0, angle_deg=20.0, snr=50.0), rng
    )
    row, col = int(scene.row - scene.patch.row0), int(scene.col - scene.patch.col0)
    valid, values = scene.patch.valid.copy(), scene.patch.values.copy()
    valid[row + 5 : row + 9, col - 12 : col - 4] = False
    values[:, ~valid] = 0
    holed = RasterPatch(values, valid, scene.patch.row0, scene.patch.col0)
    fix = locate(holed, scene.search, "quadrant-panel")
    assert "partly without data" in fix.flags
    assert np.abs(scene.error(fix)).max() < 0.1


def test_bands_and_depth_change_nothing():
    rng = np.random.default_rng(15)
    scene = target_scene("x-panel", plain_look("x-panel", angle_deg=20.0, snr=50.0), rng)
    there = scene.locate("x-panel")
    for bands, scale, dtype in ((1, 200, "uint16"), (3, 1, "uint8"), (5, 0.01, "float32")):
        values = (scene.patch.values[0].astype(float) * scale).astype(dtype)[None].repeat(bands, axis=0)
        patch = RasterPatch(values, scene.patch.valid, scene.patch.row0, scene.patch.col0)
        fix = locate(patch, scene.search, "x-panel")
        assert fix.status is there.status
        assert (fix.row, fix.col) == pytest.approx((there.row, there.col), abs=2e-3)


def test_a_wide_search_lists_every_target():
    rng = np.random.default_rng(16)
    scene = target_scene("bow-tie-panel", plain_look("bow-tie-panel", size_px=18.0, snr=50.0), rng, "twin")
    places = {
        (round(fix.row / 4), round(fix.col / 4)) for fix in candidates(scene.patch, scene.search, "auto")
    }
    assert len(places) >= 2


def test_the_outline_goes_round_the_target():
    rng = np.random.default_rng(17)
    for kind in ("quadrant-panel", "disc", "painted-cross", "l-mark-outer"):
        scene = target_scene(kind, plain_look(kind, size_px=30.0, angle_deg=0.0, snr=50.0), rng)
        fix = scene.locate(kind)
        assert np.ptp(fix.outline, axis=0) == pytest.approx([30.0, 30.0], rel=0.05)
