"""The grey picture behind the map: its values, its place, and when there is none."""

import numpy as np
import pytest
import rasterio
from affine import Affine
from numpy.testing import assert_allclose
from rasterio.enums import Resampling

from geoqa.readers import backdrop
from geoqa.readers.backdrop import read_backdrop
from geoqa.readers.rasters import read_info
from geoqa.units import LinearUnit
from tests.builders import make_frame
from tests.readers.raster_files import NORTH_UP, SOUTH_UP, TILED, TURNED, write

SHAPE = (400, 600)


def ramp(transform=NORTH_UP, *, dtype="uint8"):
    """Return a picture that brightens to the east, one grey level for each 3 columns."""
    values = np.tile(np.arange(SHAPE[1]) // 3, (SHAPE[0], 1)).astype(dtype)
    return np.repeat(values[None], 3, axis=0)


def ortho(folder, values, *, overviews=(), **profile):
    path = write(folder / "ortho.tif", values, photometric="rgb", **(TILED | profile))
    if overviews:
        with rasterio.open(path, "r+") as dataset:
            dataset.build_overviews(overviews, Resampling.average)
    return read_info(path)


def extent_of(info):
    """Return west, south, east, north of the whole raster in metres."""
    t, rows, cols = info.transform, *info.shape
    corners = [
        (t.a * col + t.b * row + t.c, t.d * col + t.e * row + t.f) for row in (0, rows) for col in (0, cols)
    ]
    east, north = np.array(corners).T * info.unit_m
    return east.min(), north.min(), east.max(), north.max()


def picture_of(info, extent_m, **limits):
    """Return the backdrop in the frame of the raster itself."""
    unit = next(item for item in LinearUnit if item.metres == info.unit_m)
    return read_backdrop(info, extent_m, make_frame(info.crs, unit), **limits)


def place(transform, row, col):
    return (
        transform.a * col + transform.b * row + transform.c,
        transform.d * col + transform.e * row + transform.f,
    )


def test_small_picture_is_given_pixel_by_pixel(tmp_path):
    info = ortho(tmp_path, ramp())
    found = picture_of(info, extent_of(info))
    assert_allclose(found.grey, ramp()[0], rtol=0, atol=1e-9)
    assert_allclose(tuple(found.transform), tuple(NORTH_UP), rtol=0, atol=1e-9)


@pytest.mark.parametrize("transform", [NORTH_UP, SOUTH_UP, TURNED], ids=["north up", "south up", "turned"])
@pytest.mark.parametrize("overviews", [(), (2, 4)], ids=["without overviews", "with overviews"])
def test_decimated_picture_lies_where_the_raster_lies(tmp_path, transform, overviews):
    info = ortho(tmp_path, ramp(), transform=transform, overviews=overviews)
    found = picture_of(info, extent_of(info), most_px=150)
    assert found.grey.shape == (100, 150)
    for row, col in ((0.0, 0.0), (100.0, 150.0), (50.0, 30.0)):
        expected = place(transform, row * 4, col * 4)
        assert_allclose(place(found.transform, row, col), expected, rtol=0, atol=1e-6)
    # One pixel spans four columns, one and a third grey levels.
    assert_allclose(found.grey[50], (np.arange(150) * 4 + 2) / 3, rtol=0, atol=1.4)


def test_extent_cuts_the_picture(tmp_path):
    info = ortho(tmp_path, ramp())
    west, north = 512_000.0 + 0.2 * 300, 5_403_000.0 - 0.2 * 100
    found = picture_of(info, (west, north - 20.0, west + 40.0, north))
    assert found.grey.shape == (100, 200)
    assert_allclose(found.grey[0, 0], 100.0, rtol=0, atol=1e-9)
    assert_allclose(place(found.transform, 0, 0), (west, north), rtol=0, atol=1e-6)


def test_extent_and_transform_count_metres_where_the_crs_counts_feet(tmp_path):
    in_feet = Affine(0.9, 0.2, 600_000.0, 0.3, -0.8, 850_000.0)
    info = ortho(tmp_path, ramp(), crs="EPSG:2994", transform=in_feet)
    found = picture_of(info, extent_of(info))
    assert found.grey.shape == SHAPE
    assert_allclose(tuple(found.transform)[:6], 0.3048 * np.array(in_feet[:6]), rtol=0, atol=1e-6)


def test_extent_beside_the_raster_has_no_picture(tmp_path):
    info = ortho(tmp_path, ramp())
    assert picture_of(info, (0.0, 0.0, 10.0, 10.0)) is None


def test_missing_pixels_have_no_grey(tmp_path):
    valid = np.ones(SHAPE, dtype=bool)
    valid[:200] = False
    info = ortho(tmp_path, ramp(), mask=valid)
    found = picture_of(info, extent_of(info), most_px=150)
    assert np.isnan(found.grey[:50]).all()
    assert np.isfinite(found.grey[50:]).all()


def test_picture_without_a_valid_pixel_is_none(tmp_path):
    info = ortho(tmp_path, np.zeros((3, *SHAPE), dtype="uint8"), nodata=0)
    assert picture_of(info, extent_of(info)) is None


@pytest.mark.parametrize("dtype", ["uint16", "float32"])
def test_other_than_8_bits_is_stretched_between_2_and_98_per_cent(tmp_path, dtype):
    values = np.linspace(1000.0, 3000.0, SHAPE[0] * SHAPE[1]).reshape(SHAPE).astype(dtype)
    info = read_info(write(tmp_path / "ortho.tif", values, **TILED))
    grey = picture_of(info, extent_of(info)).grey
    # 2 % and 98 % of a ramp from 1000 to 3000 are 1040 and 2960.
    expected = np.clip((values.astype(float) - 1040.0) / 1920.0, 0.0, 1.0) * 255.0
    assert_allclose(grey, expected, rtol=0, atol=0.2)


def test_even_picture_is_middle_grey(tmp_path):
    info = read_info(write(tmp_path / "ortho.tif", np.full(SHAPE, 700, dtype="uint16")))
    assert_allclose(picture_of(info, extent_of(info)).grey, 127.5, rtol=0, atol=0)


@pytest.mark.parametrize(
    ("overviews", "drawn"), [((), False), ((2,), False), ((2, 4), True)], ids=["none", "too fine", "enough"]
)
def test_large_picture_is_drawn_only_from_coarse_overviews(tmp_path, monkeypatch, overviews, drawn):
    monkeypatch.setattr(backdrop, "LARGE_PX", 40_000)
    info = ortho(tmp_path, ramp(), overviews=overviews)
    assert (picture_of(info, extent_of(info), most_px=150) is not None) == drawn


def test_small_part_of_a_large_picture_is_drawn_without_overviews(tmp_path, monkeypatch):
    monkeypatch.setattr(backdrop, "LARGE_PX", 40_000)
    info = ortho(tmp_path, ramp())
    assert picture_of(info, (512_000.0, 5_402_980.0, 512_020.0, 5_403_000.0)) is not None


def test_grey_of_a_jpeg_is_its_luma(tmp_path):
    values = np.stack([np.full(SHAPE, level, dtype="uint8") for level in (200, 100, 50)])
    info = ortho(tmp_path, values, compress="jpeg", jpeg_quality=95)
    found = picture_of(
        read_info(write(tmp_path / "ycc.tif", values, compress="jpeg", photometric="ycbcr")), extent_of(info)
    )
    # ITU-R BT.601: 0.299 × 200 + 0.587 × 100 + 0.114 × 50 = 124.2; one level of rounding by the format.
    assert_allclose(found.grey, 124.2, rtol=0, atol=1.5)
