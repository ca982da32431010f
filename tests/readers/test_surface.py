"""Heights at points against scipy's interpolation of the whole raster, and the published figures."""

from collections import Counter

import numpy as np
import pytest
import rasterio
from affine import Affine
from numpy.testing import assert_allclose, assert_array_equal

from geoqa.errors import InputError
from geoqa.readers.rasters import read_info
from geoqa.readers.surface import read_surface
from geoqa.records.measurements import SurfaceStatus
from tests.readers.raster_files import (
    LAYOUTS,
    NORTH_UP,
    SHAPE,
    SOUTH_UP,
    TILED,
    TURNED,
    blocks_of,
    by_scipy,
    counted,
    ground,
    places,
    sample,
    write,
)


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
def test_heights_are_bilinear_between_cell_centres(tmp_path, layout):
    values = ground(*SHAPE)
    values[60:63, 90:97] = np.nan
    found = sample(write(tmp_path / "surface.tif", values, **layout), places())
    assert_allclose(found.height_m, by_scipy(values, places()), rtol=0, atol=1e-9)
    assert np.isfinite(found.height_m).sum() > 250


@pytest.mark.parametrize("nodata", [-9999.0, -3.4028234663852886e38, float("nan"), 0.0])
def test_height_is_missing_where_one_of_four_cells_is_nodata(tmp_path, nodata):
    holes = np.random.default_rng(1).random(SHAPE) < 0.05
    values = np.where(holes, np.float32(nodata), ground(*SHAPE))
    found = sample(write(tmp_path / "surface.tif", values, nodata=nodata, **TILED), places())
    expected = by_scipy(np.where(holes, np.nan, values), places())
    assert_allclose(found.height_m, expected, rtol=0, atol=1e-9)
    missing = np.isnan(expected)
    for status, gone in zip(found.statuses, missing, strict=True):
        assert (status is SurfaceStatus.SAMPLED) != gone


def test_masked_cells_carry_no_height(tmp_path):
    values, valid = ground(*SHAPE), np.ones(SHAPE, dtype=bool)
    valid[40:90, 60:120] = False
    found = sample(write(tmp_path / "surface.tif", values, mask=valid, **TILED), places())
    assert_allclose(found.height_m, by_scipy(np.where(valid, values, np.nan), places()), rtol=0, atol=1e-9)


def test_blocks_that_were_never_written_carry_no_height_of_0(tmp_path):
    path = tmp_path / "sparse.tif"
    options = {
        "driver": "GTiff",
        "height": 150,
        "width": 190,
        "count": 1,
        "dtype": "float32",
        "crs": "EPSG:25832",
    }
    with rasterio.open(path, "w", transform=NORTH_UP, sparse_ok=True, **options, **TILED) as target:
        target.write(np.full((64, 64), 210.0, dtype="float32"), 1, window=((0, 64), (64, 128)))
    found = sample(str(path), np.array([[30.0, 100.0], [100.0, 100.0], [30.0, 64.2]]))
    assert_array_equal(found.height_m, [210.0, np.nan, np.nan])
    assert found.statuses == (SurfaceStatus.SAMPLED, SurfaceStatus.NO_DATA, SurfaceStatus.NO_DATA)


@pytest.mark.parametrize("number", [-9999.0, -32767.0, -3.4028234663852886e38])
def test_undeclared_nodata_is_told_by_its_number(tmp_path, number):
    values = ground(*SHAPE)
    values[70:80, 70:80] = number
    found = sample(write(tmp_path / "surface.tif", values, **TILED), np.array([[75.0, 75.0], [20.0, 20.0]]))
    assert found.statuses == (SurfaceStatus.NO_DATA, SurfaceStatus.SAMPLED)
    assert np.isnan(found.height_m[0])
    assert "does not declare" in found.reasons[0]


@pytest.mark.parametrize("dtype", ["int16", "uint16", "int32", "float64"])
def test_whole_numbers_are_not_rounded(tmp_path, dtype):
    # The mean of the whole numbers 12 and 13 is 12.5.
    values = np.tile([12, 13], (10, 5)).astype(dtype)
    found = sample(write(tmp_path / "surface.tif", values), np.array([[5.0, 5.0], [5.0, 4.75]]))
    assert_allclose(found.height_m, [12.5, 12.25], rtol=0, atol=1e-12)


def test_scale_and_offset_of_the_band_are_applied_after_nodata(tmp_path):
    values = np.tile(np.arange(20, dtype="int16"), (20, 1)) * 10
    values[15:, :] = -32768
    path = write(tmp_path / "surface.tif", values, nodata=-32768)
    with rasterio.open(path, "r+") as dataset:
        dataset.scales, dataset.offsets = (0.01,), (200.0,)
    found = sample(path, np.array([[8.0, 8.0], [16.0, 8.0]]))
    # Half way between the cells that hold 70 and 80; a cell of 0.2 m rises by 10 × 0.01.
    assert_allclose(found.height_m, [200.75, np.nan], rtol=0, atol=1e-12)
    assert_allclose(found.gradient[0], [0.5, 0.0], rtol=0, atol=1e-6)


@pytest.mark.parametrize("transform", [NORTH_UP, SOUTH_UP, TURNED], ids=["north up", "south up", "turned"])
def test_tilted_ground_gives_its_gradient_in_ground_metres(tmp_path, transform):
    row, col = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]] + 0.5
    t = transform
    east, north = t.a * col + t.b * row, t.d * col + t.e * row
    values = 200.0 + 0.03 * east - 0.05 * north
    found = sample(write(tmp_path / "surface.tif", values, transform=transform, **TILED), places())
    whole = found.gradient[np.isfinite(found.height_m)]
    # Single precision of the cells around is 0.015 mm at 200 m.
    assert_allclose(whole, np.tile([0.03, -0.05], (len(whole), 1)), rtol=0, atol=2e-4)
    assert np.nanmax(found.relief_m) < 1e-4
    assert_allclose(
        found.slope_percent[np.isfinite(found.height_m)], 100 * np.hypot(0.03, 0.05), rtol=0, atol=0.03
    )


def test_feet_become_metres_in_plan_and_height(tmp_path):
    # EPSG: 2994 counts in feet of 0.3048 m. Cells of 2 ft rise by 0.1 ft to the east: 5 %.
    values = np.tile(700.0 + 0.1 * np.arange(40), (40, 1))
    path = write(
        tmp_path / "surface.tif",
        values,
        crs="EPSG:2994",
        transform=Affine(2.0, 0.0, 512_000.0, 0.0, -2.0, 5_403_000.0),
    )
    found = sample(path, np.array([[20.0, 20.0]]), unit=0.3048)
    assert_allclose(found.height_m, 0.3048 * (700.0 + 0.1 * 19.5), rtol=0, atol=1e-9)
    assert_allclose(found.gradient, [[0.05, 0.0]], rtol=0, atol=1e-5)


def test_plane_is_that_of_least_squares_over_the_cells_around(tmp_path):
    values = ground(*SHAPE)
    values[:, 100] = np.nan
    row_col = places(60)
    found = sample(write(tmp_path / "surface.tif", values, **TILED), row_col)
    padded = np.pad(values.astype(float), 10, constant_values=np.nan)
    for index in np.flatnonzero([status is SurfaceStatus.SAMPLED for status in found.statuses]):
        # Cells of 0.2 m: 1 m is five of them, centred on the one that holds the point.
        row, col = np.floor(row_col[index]).astype(int) + 10
        cells = padded[row - 2 : row + 3, col - 2 : col + 3]
        rows, cols = np.mgrid[-2:3, -2:3]
        east, north = 0.2 * cols, -0.2 * rows
        there = np.isfinite(cells)
        design = np.column_stack([np.ones(there.sum()), east[there], north[there]])
        solution = np.linalg.lstsq(design, cells[there], rcond=None)[0]
        deviation = cells[there] - design @ solution
        assert_allclose(found.gradient[index], solution[1:], rtol=0, atol=1e-4)
        assert_allclose(found.roughness_m[index], np.sqrt(np.mean(deviation**2)), rtol=0, atol=2e-5)
        assert_allclose(found.relief_m[index], np.abs(deviation).max(), rtol=0, atol=4e-5)


def test_step_beside_the_point_shows_as_relief(tmp_path):
    # A wall of 1.2 m through the middle of five cells; the plane takes its share.
    values = np.where(np.arange(40) < 20, 200.0, 201.2) * np.ones((40, 1))
    found = sample(
        write(tmp_path / "surface.tif", values.astype("float32")), np.array([[20.0, 20.2], [20.0, 8.0]])
    )
    assert found.relief_m[0] > 0.3
    assert found.relief_m[1] < 1e-4


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
def test_each_block_is_decoded_once(tmp_path, monkeypatch, layout):
    info = read_info(write(tmp_path / "surface.tif", ground(*SHAPE), **layout))
    with counted(monkeypatch) as windows:
        read_surface(info, places(), value_unit_m=1.0, sought=np.ones(300, dtype=bool))
    assert max(Counter(blocks_of(windows, info.block_shape)).values()) == 1


def test_blocks_far_from_all_points_are_not_decoded(tmp_path, monkeypatch):
    info = read_info(write(tmp_path / "surface.tif", ground(*SHAPE), **TILED))
    with counted(monkeypatch) as windows:
        read_surface(
            info, np.array([[90.0, 90.0], [100.0, 80.0]]), value_unit_m=1.0, sought=np.ones(2, dtype=bool)
        )
    assert blocks_of(windows, info.block_shape) == [(1, 1)]


def test_points_that_want_no_height_are_not_read(tmp_path, monkeypatch):
    info = read_info(write(tmp_path / "surface.tif", ground(*SHAPE), **TILED))
    with counted(monkeypatch) as windows:
        found = read_surface(info, places(5), value_unit_m=1.0, sought=np.zeros(5, dtype=bool))
    assert windows == []
    assert set(found.statuses) == {SurfaceStatus.NOT_SOUGHT}
    assert np.isnan(found.height_m).all()


def test_statuses_and_reasons_by_place(tmp_path):
    path = write(tmp_path / "surface.tif", ground(*SHAPE))
    found = sample(path, np.array([[50.0, 50.0], [0.3, 50.0], [-0.1, 50.0], [np.nan, 50.0]]))
    assert found.statuses == (
        SurfaceStatus.SAMPLED,
        SurfaceStatus.NO_DATA,
        SurfaceStatus.OUTSIDE,
        SurfaceStatus.OUTSIDE,
    )
    assert found.reasons[0] is None
    for reason, word in zip(found.reasons[1:], ("half cell", "outside", "no position"), strict=True):
        assert word in reason
    assert np.isnan(found.height_m[1:]).all()
    assert np.isnan(found.gradient[1:]).all()


@pytest.mark.parametrize("shape", [(2, 2), (1, 30), (30, 1), (3, 2)])
def test_tiny_rasters_have_heights_where_four_centres_are(tmp_path, shape):
    values = ground(*shape)
    middle = np.array([shape]) / 2.0
    found = sample(write(tmp_path / "surface.tif", values), middle)
    if min(shape) == 1:
        assert found.statuses == (SurfaceStatus.NO_DATA,)
    else:
        assert_allclose(found.height_m, by_scipy(values, middle), rtol=0, atol=1e-9)
        # Four cells, or six of 0.2 m: the smallest plane has six.
        assert np.isfinite(found.roughness_m).all() == (np.prod(shape) >= 6)


def test_no_points_give_no_samples(tmp_path):
    found = sample(write(tmp_path / "surface.tif", ground()), np.empty((0, 2)))
    assert len(found) == 0
    assert found.gradient.shape == (0, 2)


def test_cells_in_degrees_have_heights_but_no_slope(tmp_path):
    tiny = Affine(1e-6, 0.0, 9.0, 0.0, -1e-6, 48.0)
    found = sample(write(tmp_path / "surface.tif", ground(), crs="EPSG:4326", transform=tiny), places(20))
    assert_allclose(found.height_m, by_scipy(ground(), places(20)), rtol=0, atol=1e-9)
    assert np.isnan(found.gradient).all()


def test_picture_in_place_of_heights_is_refused(tmp_path):
    values = np.ones((3, 40, 40), dtype="uint8")
    with pytest.raises(InputError, match="picture"):
        sample(write(tmp_path / "ortho.tif", values, photometric="rgb"), np.array([[20.0, 20.0]]))


def test_first_band_holds_the_heights_and_transparency_none(tmp_path):
    values = np.stack([ground(*SHAPE), np.where(np.arange(190) < 90, 255.0, 0.0) * np.ones((150, 1))])
    path = write(tmp_path / "surface.tif", values.astype("float32"), alpha="yes", **TILED)
    found = sample(path, np.array([[40.0, 40.0], [40.0, 120.0]]))
    assert found.statuses == (SurfaceStatus.SAMPLED, SurfaceStatus.NO_DATA)


def test_numbers_beyond_single_precision_carry_no_plane_and_no_warning(tmp_path):
    values = np.full(SHAPE, 200.0)
    values[50, 50] = -1.7976931348623157e308
    path = write(tmp_path / "surface.tif", values, nodata=-1.7976931348623157e308)
    found = sample(path, np.array([[52.0, 52.0], [50.5, 50.5]]))
    assert found.statuses == (SurfaceStatus.SAMPLED, SurfaceStatus.NO_DATA)
    assert_allclose(found.roughness_m[0], 0.0, rtol=0, atol=1e-6)


def test_many_points_take_no_python_object_each(tmp_path):
    path = write(tmp_path / "surface.tif", ground(*SHAPE), **TILED)
    row_col = places(100_000)
    found = sample(path, row_col)
    assert_allclose(found.height_m, by_scipy(ground(*SHAPE), row_col), rtol=0, atol=1e-9)
    # Statuses and reasons are references to a handful of objects.
    assert len({id(reason) for reason in found.reasons}) <= 8
