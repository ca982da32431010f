"""Panels are found where they are, to hundredths of a pixel, and nothing is found where there is none.

The bound is that of Fisher information for the position of a blurred edge pattern, σ = 1.88 √(s/S) / SNR for
a quadrant panel of side S and effective blur s (Robinson and Milanfar, IEEE TIP 13(9), 2004, gives the
principle; the closed form follows from the integral of a squared Gaussian).
"""

from dataclasses import replace

import numpy as np
import pytest

from geoqa.records.measurements import RasterPatch, TargetSearch, TargetStatus
from geoqa.targets import KINDS, locate, window_half_px
from tests.scenes import textured
from tests.site import REAL
from tests.targets.windows import COL0, ROW0, errors_px, patch_of, window

PANELS = ["quadrant-panel", "x-panel"]


@pytest.mark.parametrize("kind", PANELS)
@pytest.mark.parametrize("size_px", [16, 24, 40])
def test_clean_panels_are_found_to_three_hundredths_of_a_pixel(kind, size_px):
    rng = np.random.default_rng([1, size_px])
    errors, fixes = errors_px(rng, kind, size_px, 20)
    assert [fix.status for fix in fixes] == [TargetStatus.FOUND] * 20
    assert np.sqrt((errors**2).mean(axis=0)).max() <= 0.03


@pytest.mark.parametrize(("size_px", "snr"), [(16, 20), (24, 20), (32, 50)])
def test_quadrant_panel_comes_near_the_physical_bound(size_px, snr):
    rng = np.random.default_rng([2, size_px])
    errors, _ = errors_px(rng, "quadrant-panel", size_px, 60, snr=snr, ground=110.0)
    bound = 1.88 * np.sqrt(np.hypot(0.8, 12**-0.5) / size_px) / snr
    rmse = np.sqrt((errors**2).mean())
    # 120 numbers leave an RMSE uncertain by 6.5 %, so twice that is allowed above the goal of 1.15.
    assert rmse <= 1.13 * np.hypot(1.15 * bound, 0.004)


@pytest.mark.parametrize("kind", PANELS)
@pytest.mark.parametrize("angle", [0.0, 45.0, 17.0])
def test_there_is_no_bias(kind, angle):
    rng = np.random.default_rng([3, int(angle)])
    errors, _ = errors_px(rng, kind, 24, 24, snr=1e6, angle=angle, ground=110.0)
    # The renderer itself is good to about 0.0015 px, a picture of whole numbers to about 0.002 px.
    assert np.abs(errors.mean(axis=0)).max() <= 0.003


@pytest.mark.parametrize("kind", PANELS)
def test_the_stated_covariance_is_true(kind):
    rng = np.random.default_rng(4)
    errors, fixes = errors_px(rng, kind, 24, 120, snr=20)
    inverse = np.linalg.inv([fix.covariance_px2 for fix in fixes])
    distances = np.einsum("ni,nij,nj->n", errors, inverse, errors)
    # Chi-square with two degrees of freedom, 95 %: 5.991 (handbook table).
    assert 0.90 <= np.mean(distances <= 5.991) <= 1.0
    assert np.mean(distances) > 1.0, "the ellipses are far too large"


@pytest.mark.parametrize("kind", PANELS)
def test_kind_auto_names_the_kind(kind):
    rng = np.random.default_rng(5)
    for size_px in (16, 24, 40):
        patch, search, _ = window(rng, kind, size_px)
        fix = locate(patch, search, "auto")
        assert (fix.status, fix.kind) == (TargetStatus.FOUND, kind)


@pytest.mark.parametrize("kind", PANELS)
def test_size_need_not_be_known(kind):
    rng = np.random.default_rng(6)
    for size_px in (16, 24, 48):
        patch, search, centre = window(rng, kind, size_px)
        fix = locate(patch, replace(search, size_px=None), kind)
        assert fix.status is TargetStatus.FOUND
        assert np.hypot(fix.row - centre[0], fix.col - centre[1]) < 0.1
        assert fix.size_px == pytest.approx(size_px, rel=0.1)


def test_two_panels_are_ambiguous_and_give_no_position():
    rng = np.random.default_rng(7)
    for _ in range(6):
        ground = textured((101, 101), rng)
        first, search, _ = window(rng, "quadrant-panel", 20, radius_px=30.0, offset=(-14, -14))
        side = first.values.shape[1]
        ground = first.values[0].astype(float)
        second, _, _ = window(
            rng, "quadrant-panel", 20, radius_px=30.0, offset=(14, 14), ground=ground, blur=0.01
        )
        assert second.values.shape[1] == side
        fix = locate(second, search, "quadrant-panel")
        assert fix.status is TargetStatus.AMBIGUOUS
        assert np.isnan([fix.row, fix.col]).all()
        assert "apart" in fix.reason


def test_empty_ground_is_not_found():
    rng = np.random.default_rng(8)
    for _ in range(40):
        half = window_half_px(15.0, 24.0)
        patch = patch_of(textured((2 * half + 1,) * 2, rng))
        fix = locate(patch, TargetSearch(ROW0 + half, COL0 + half, 15.0, 24.0), "auto")
        assert fix.status is TargetStatus.NOT_FOUND
        assert np.isnan([fix.row, fix.col]).all()
        assert fix.reason


def look_alikes(rng, side):
    """Yield what lies about on a site: stones, stripes, crossing lines, the corner of a box."""
    rows, cols = np.mgrid[:side, :side] - side / 2
    level = 105.0
    yield "stone", level + 90 * (np.hypot(rows, cols) < 9)
    yield "stripe", level + 90 * (np.abs(rows + 0.3 * cols) < 4)
    yield "crossing lines", level + 90 * ((np.abs(rows) < 2) | (np.abs(cols - 2) < 2))
    yield "corner of a box", level + 80 * ((rows > 0) & (cols > 0))
    yield "chequered floor", level + 70 * ((rows // 11 + cols // 11) % 2 - 0.5)
    yield "edge", level + 80 * (rows > 0.2 * cols)


def test_look_alikes_are_not_found():
    rng = np.random.default_rng(9)
    half = window_half_px(15.0, 24.0)
    side = 2 * half + 1
    for name, picture in look_alikes(rng, side):
        noisy = picture + textured((side, side), rng, level=0.0, contrast=5.0)
        fix = locate(patch_of(noisy), TargetSearch(ROW0 + half, COL0 + half, 15.0, 24.0), "auto")
        assert fix.status is not TargetStatus.FOUND, name


def test_the_surveyed_place_does_not_pull_the_result():
    rng = np.random.default_rng(10)
    patch, search, _ = window(rng, "x-panel", 24, offset=(3, -4))
    places = [(search.row + dr, search.col + dc) for dr, dc in ((0, 0), (4, 0), (0, -5), (-3, 3))]
    found = [locate(patch, replace(search, row=row, col=col), "x-panel") for row, col in places]
    spread = np.ptp([(fix.row, fix.col) for fix in found], axis=0)
    assert spread.max() < 0.005


def test_panel_beyond_the_search_radius_is_not_found():
    rng = np.random.default_rng(11)
    patch, search, _ = window(rng, "quadrant-panel", 20, offset=(8, 0))
    fix = locate(patch, replace(search, radius_px=5.0), "quadrant-panel")
    assert fix.status is TargetStatus.NOT_FOUND
    assert np.isnan([fix.row, fix.col]).all()


def test_window_of_low_pixels_holds_the_same_ground():
    # Rows half as high as columns are wide: radius and side are 2 ** 0.5 times as many rows.
    low = np.diag([0.5**0.5, 2**0.5])
    assert window_half_px(20.0, 10.0, low) == np.ceil(2**0.5 * 31.0) + 2
    assert window_half_px(20.0, 10.0, np.eye(2)) == window_half_px(20.0, 10.0) == 33


def test_window_without_data_is_not_found():
    half = window_half_px(10.0, 20.0)
    picture = np.full((2 * half + 1,) * 2, 120.0)
    patch = patch_of(picture, np.zeros(picture.shape, dtype=bool))
    fix = locate(patch, TargetSearch(ROW0 + half, COL0 + half, 10.0, 20.0), "auto")
    assert fix.status is TargetStatus.NOT_FOUND
    assert "no data" in fix.reason


def test_sixteen_bits_give_what_eight_do():
    rng = np.random.default_rng(12)
    patch, search, _ = window(rng, "quadrant-panel", 24)
    deep = RasterPatch(patch.values.astype("uint16") * 200, patch.valid, patch.row0, patch.col0)
    first, second = locate(patch, search, "quadrant-panel"), locate(deep, search, "quadrant-panel")
    assert (second.row, second.col) == pytest.approx((first.row, first.col), abs=1e-6)


def test_panel_of_another_size_is_not_passed_off_as_sound():
    rng = np.random.default_rng(13)
    patch, search, _ = window(rng, "quadrant-panel", 40)
    fix = locate(patch, replace(search, size_px=20.0), "quadrant-panel")
    assert fix.status is not TargetStatus.FOUND


@pytest.mark.real
@pytest.mark.parametrize("name", ["neon-osbs-ortho/OSBS_029.tif", "pdal-autzen/ortho_1ft_epsg2994.tif"])
def test_real_ground_without_targets_gives_none(name):
    # 60 of the windows that the benchmark draws by the thousand; the goal is 2 in 1,000.
    path = REAL / name
    if not path.exists():
        pytest.skip("open data is not beside the repository")
    from geoqa.readers.blocks import read_patches
    from geoqa.readers.rasters import read_info

    info = read_info(str(path))
    rng = np.random.default_rng(14)
    half = window_half_px(15.0, 30.0)
    places = rng.uniform(0, 1, (60, 2)) * info.shape
    windows = np.hstack([np.floor(places).astype(int) - half, np.full((60, 2), 2 * half + 1)])
    fixes = [
        locate(patch, TargetSearch(*places[index], 15.0, float(rng.uniform(10, 40))), "auto")
        for index, patch in read_patches(info, windows)
    ]
    assert sum(fix.status is TargetStatus.FOUND for fix in fixes) == 0


@pytest.mark.real
def test_photographed_corners_are_found_where_the_camera_model_has_them():
    # OpenCV's sample photographs (Apache-2.0, BSD-3-Clause): real corners of a board, positions from a camera
    # model fitted to all pictures; first pixel's centre at (0, 0) there, at (0.5, 0.5) here.
    folder = REAL / "checkerboard-photos"
    if not folder.exists():
        pytest.skip("open data is not beside the repository")
    from PIL import Image

    from geoqa.targets._candidates import SearchArea
    from geoqa.targets._centres import centre_of
    from geoqa.targets._finds import examine
    from geoqa.targets.quadrant_panel import PATTERN

    table = np.genfromtxt(folder / "corners.csv", delimiter=",", names=True, dtype=None, encoding="utf-8")
    pictures = {
        name: np.asarray(Image.open(folder / name).convert("L"), float) for name in set(table["image"])
    }
    errors = []
    for line in table[::6]:
        col, row = line["col_px_camera_model"] + 0.5, line["row_px_camera_model"] + 0.5
        top, left = int(row) - 20, int(col) - 20
        crop = pictures[line["image"]][top : top + 41, left : left + 41]
        if crop.shape != (41, 41):
            continue
        area = SearchArea(row - top, col - left, 6.0, None)
        finds = [
            find
            for find in examine(crop, np.ones_like(crop, bool), area, PATTERN)
            if area.holds(find.row, find.col)
        ]
        if finds:
            centre = centre_of(crop, np.ones_like(crop, bool), finds[0]) or finds[0]
            errors.append((centre.row + top - row, centre.col + left - col))
    errors = np.array(errors)
    assert len(errors) >= 40
    assert np.sqrt((errors**2).sum(axis=1).mean()) <= 0.35
    assert np.abs(errors.mean(axis=0)).max() < 0.15, "a half-pixel mistake shows as a mean of 0.5"


def test_every_kind_names_itself():
    assert set(PANELS) <= set(KINDS.all())
