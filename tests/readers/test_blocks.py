"""Windows of an orthomosaic against reading it whole, and each block decoded once."""

from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import rasterio
from numpy.testing import assert_array_equal
from rasterio.enums import ColorInterp

from geoqa.errors import InputError
from geoqa.readers._dataset import opened_source
from geoqa.readers.blocks import read_patches, reading_tile
from geoqa.readers.rasters import read_info
from tests.readers.raster_files import LAYOUTS, SHAPE, TILED, TURNED, blocks_of, counted, ground, write

REAL = Path(__file__).parents[2].parent / "shared" / "real"
on_open_data = [
    pytest.mark.real,
    pytest.mark.skipif(not REAL.exists(), reason="open data is not beside the repository"),
]


def picture(bands=3, *, seed=5):
    return np.random.default_rng(seed).integers(1, 255, (bands, *SHAPE)).astype("uint8")


def some_windows(n=25, *, shape=SHAPE, side=41, seed=2):
    """Return windows of one side, some of which hang over the edges of the raster."""
    rng = np.random.default_rng(seed)
    corners = rng.integers(-side // 2, np.array(shape) - side // 2, (n, 2))
    return np.hstack([corners, np.full((n, 2), side)])


def expected(whole, valid, window):
    """Return a window of a whole raster, padded with 0 that is not valid."""
    row, col, rows, cols = window.tolist()
    pad = max(rows, cols) + 200
    values = np.pad(whole, ((0, 0), (pad, pad), (pad, pad)))
    there = np.pad(valid, pad)
    part = np.s_[row + pad : row + pad + rows, col + pad : col + pad + cols]
    return values[:, *part], there[part]


def check(path, windows, whole, valid):
    """Compare all patches with the raster as a whole; return the order in which they came."""
    order = []
    for index, patch in read_patches(read_info(path), windows):
        values, there = expected(whole, valid, windows[index])
        assert_array_equal(patch.values, values)
        assert_array_equal(patch.valid, there)
        assert (patch.row0, patch.col0) == tuple(windows[index, :2])
        assert patch.values.dtype == whole.dtype
        order.append(index)
    assert sorted(order) == list(range(len(windows)))
    return order


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
def test_patches_are_those_of_the_whole_raster(tmp_path, layout):
    whole = picture()
    path = write(tmp_path / "ortho.tif", whole, photometric="rgb", **layout)
    check(path, some_windows(), whole, np.ones(SHAPE, dtype=bool))


def test_patches_of_a_turned_raster_are_right_over_its_edges(tmp_path):
    whole = picture()
    path = write(tmp_path / "ortho.tif", whole, transform=TURNED, photometric="rgb", **TILED)
    check(path, some_windows(), whole, np.ones(SHAPE, dtype=bool))


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
@pytest.mark.parametrize("seed", [2, 3])
def test_each_block_is_decoded_once_in_the_order_of_the_file(tmp_path, monkeypatch, layout, seed):
    path = write(tmp_path / "ortho.tif", picture(), photometric="rgb", **layout)
    info = read_info(path)
    with counted(monkeypatch) as windows:
        list(read_patches(info, some_windows(60, seed=seed)))
    touched = blocks_of(windows, info.block_shape)
    assert max(Counter(touched).values()) == 1
    tiles = [
        (row0 // reading_tile(info)[0], col0 // reading_tile(info)[1]) for (row0, _), (col0, _) in windows
    ]
    assert tiles == sorted(tiles)


def test_patch_comes_as_soon_as_its_last_block_is_decoded(tmp_path, monkeypatch):
    info = read_info(write(tmp_path / "ortho.tif", picture(), photometric="rgb", **TILED))
    windows = np.array([[140, 10, 5, 5], [60, 60, 10, 10], [3, 3, 5, 5]])
    with counted(monkeypatch) as read:
        patches = read_patches(info, windows)
        came = [(index, len(read)) for index, _ in patches]
    # The window in the first tile needs that alone; the one on the corner of four needs all of those.
    assert came == [(2, 1), (1, 4), (0, 5)]


def test_order_of_the_windows_changes_nothing(tmp_path):
    info = read_info(write(tmp_path / "ortho.tif", picture(), photometric="rgb", **TILED))
    windows = some_windows()
    mixed = np.random.default_rng(1).permutation(len(windows))
    straight = dict(read_patches(info, windows))
    for index, patch in read_patches(info, windows[mixed]):
        assert_array_equal(patch.values, straight[int(mixed[index])].values)


def test_window_beside_the_raster_is_empty(tmp_path):
    info = read_info(write(tmp_path / "ortho.tif", picture(), photometric="rgb", **TILED))
    windows = np.array([[-50, 10, 20, 20], [10, 500, 20, 20]])
    for _, patch in read_patches(info, windows):
        assert not patch.valid.any()
        assert not patch.values.any()
        assert patch.values.shape == (3, 20, 20)


def test_no_windows_give_no_patches(tmp_path):
    info = read_info(write(tmp_path / "ortho.tif", picture(), photometric="rgb"))
    assert list(read_patches(info, np.empty((0, 4), dtype=int))) == []


def test_window_larger_than_the_raster_holds_all_of_it(tmp_path):
    whole = picture()
    path = write(tmp_path / "ortho.tif", whole, photometric="rgb", **TILED)
    check(path, np.array([[-100, -100, 400, 400]]), whole, np.ones(SHAPE, dtype=bool))


def test_pixel_is_missing_where_all_bands_are_nodata(tmp_path):
    whole = picture()
    whole[:, 40:60, 70:90] = 0
    whole[0, 10:20, 10:20] = 0
    path = write(tmp_path / "ortho.tif", whole, nodata=0, photometric="rgb", **TILED)
    with rasterio.open(path) as dataset:
        valid = dataset.dataset_mask() > 0
    check(path, some_windows(), whole, valid)
    assert not valid[50, 80]
    assert valid[15, 15]


def test_internal_mask_is_heeded(tmp_path):
    valid = np.ones(SHAPE, dtype=bool)
    valid[30:70, 50:130] = False
    path = write(tmp_path / "ortho.tif", picture(), mask=valid, photometric="rgb", **TILED)
    check(path, some_windows(), picture(), valid)


def test_mask_beside_the_file_is_heeded(tmp_path):
    valid = np.ones(SHAPE, dtype=bool)
    valid[30:70, 50:130] = False
    path = write(tmp_path / "ortho.tif", picture(), photometric="rgb", **TILED)
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=False), rasterio.open(path, "r+") as dataset:
        dataset.write_mask(valid)
    assert (tmp_path / "ortho.tif.msk").exists()
    check(path, some_windows(), picture(), valid)


@pytest.mark.parametrize("nodata", [None, 0])
def test_transparency_is_heeded_and_no_colour(tmp_path, nodata):
    whole = picture(4)
    whole[3] = np.where(np.arange(SHAPE[1]) < 100, 255, 0)
    path = write(tmp_path / "ortho.tif", whole, photometric="rgb", alpha="yes", nodata=nodata, **TILED)
    check(path, some_windows(), whole[:3], whole[3] > 0)


def test_missing_numbers_are_not_valid_and_stand_as_0(tmp_path):
    whole = ground(*SHAPE)
    whole[20:40, 20:40] = np.nan
    path = write(tmp_path / "ortho.tif", whole, **TILED)
    check(path, some_windows(), np.nan_to_num(whole, nan=0.0)[None], np.isfinite(whole))


def test_blocks_that_were_never_written_are_not_valid(tmp_path):
    path = tmp_path / "sparse.tif"
    options = {
        "driver": "GTiff",
        "height": 150,
        "width": 190,
        "count": 1,
        "dtype": "uint8",
        "crs": "EPSG:25832",
    }
    values = np.full((64, 64), 7, dtype="uint8")
    with rasterio.open(path, "w", transform=TURNED, sparse_ok=True, **options, **TILED) as target:
        target.write(values, 1, window=((64, 128), (64, 128)))
    valid = np.zeros(SHAPE, dtype=bool)
    valid[64:128, 64:128] = True
    check(str(path), some_windows(), (valid * 7).astype("uint8")[None], valid)


def test_bands_are_given_as_red_green_blue_whatever_their_order(tmp_path):
    whole = picture(5)
    path = write(tmp_path / "ortho.tif", whole, **TILED)
    with rasterio.open(path, "r+") as dataset:
        dataset.colorinterp = (
            *(ColorInterp.blue, ColorInterp.green, ColorInterp.red),
            *(ColorInterp.undefined, ColorInterp.undefined),
        )
    check(path, some_windows(5), whole[[2, 1, 0]], np.ones(SHAPE, dtype=bool))


def test_single_band_stays_single(tmp_path):
    whole = ground(*SHAPE).astype("uint16")
    check(write(tmp_path / "ortho.tif", whole), some_windows(5), whole[None], np.ones(SHAPE, dtype=bool))


def test_patch_of_a_jpeg_in_luma_and_chroma_says_so(tmp_path):
    path = write(tmp_path / "ortho.tif", picture(), compress="jpeg", photometric="ycbcr", **TILED)
    assert all(patch.luma for _, patch in read_patches(read_info(path), some_windows(2)))


def test_raster_that_was_replaced_meanwhile_is_refused(tmp_path):
    info = read_info(write(tmp_path / "ortho.tif", picture(), photometric="rgb"))
    write(tmp_path / "ortho.tif", picture()[:, :100], photometric="rgb")
    with pytest.raises(InputError, match="replaced"):
        list(read_patches(info, some_windows(2)))


def test_small_blocks_are_read_several_at_a_time(tmp_path):
    tiles = read_info(write(tmp_path / "tiles.tif", ground(), tiled=True, blockxsize=16, blockysize=128))
    strips = read_info(write(tmp_path / "strips.tif", ground(), blockysize=6))
    assert reading_tile(tiles) == (128, 64)
    assert reading_tile(strips) == (66, 190)


@pytest.mark.parametrize(("cols", "least_mb"), [(300, 16), (400_000, 2 * 64 * 0.4)])
def test_cache_holds_the_strips_that_serve_several_windows(tmp_path, cols, least_mb):
    path = write(tmp_path / "wide.tif", np.zeros((70, cols), dtype="uint8"), tiled=False, blockysize=1)
    with opened_source(read_info(path)) as source, source.reading():
        assert rasterio.env.getenv()["GDAL_CACHEMAX"] >= least_mb * 1e6


def test_tiles_side_by_side_are_fetched_together_over_a_network(tmp_path):
    info = read_info(write(tmp_path / "tiles.tif", ground(), tiled=True, blockxsize=256, blockysize=256))
    assert reading_tile(replace(info, path="https://example.org/tiles.tif")) == (256, 4096)


class TestOpenData:
    """Pictures of raster-oddities (rasterio's tests, BSD) and neon-osbs-ortho; see their sources."""

    pytestmark = on_open_data

    @pytest.mark.parametrize("path", ["raster-oddities/RGB.byte.tif", "neon-osbs-ortho/OSBS_029.tif"])
    def test_patches_are_those_of_the_whole_picture(self, path):
        with rasterio.open(REAL / path) as dataset:
            whole, valid = dataset.read(), dataset.dataset_mask() > 0
        check(str(REAL / path), some_windows(40, shape=whole.shape[1:]), whole, valid)
