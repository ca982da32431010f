"""Laws of reading heights that need no reference."""

import tempfile
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from geoqa.readers.rasters import read_info
from geoqa.readers.surface import read_surface
from tests.readers.raster_files import LAYOUTS, NORTH_UP, SOUTH_UP, TILED, ground, write

SHAPE = (150, 190)
FEW = settings(max_examples=15, deadline=None)
FIELDS = ("height_m", "gradient", "roughness_m", "relief_m")


@pytest.fixture(scope="module")
def folder():
    with tempfile.TemporaryDirectory() as name:
        yield Path(name)


@lru_cache
def heights():
    values = ground(*SHAPE)
    values[30:34, 40:52] = -9999.0
    return values


def surface(folder, name, values, **profile):
    path = folder / f"{name}.tif"
    if not path.exists():
        write(path, values, nodata=-9999.0, **profile)
    return read_info(str(path))


def sample(info, row_col, unit=1.0):
    return read_surface(info, row_col, value_unit_m=unit, sought=np.ones(len(row_col), dtype=bool))


def places(seed, n=40):
    return np.random.default_rng(seed).uniform([-3.0, -3.0], np.array(SHAPE) + 3.0, (n, 2))


@FEW
@given(seed=st.integers(0, 10_000))
def test_order_of_the_points_changes_nothing(folder, seed):
    info = surface(folder, "tiles", heights(), **TILED)
    row_col = places(seed)
    mixed = np.random.default_rng(seed).permutation(len(row_col))
    straight, shuffled = sample(info, row_col), sample(info, row_col[mixed])
    for name in FIELDS:
        assert_array_equal(getattr(shuffled, name), getattr(straight, name)[mixed])
    assert shuffled.reasons == tuple(straight.reasons[index] for index in mixed)


@FEW
@given(seed=st.integers(0, 10_000))
def test_points_do_not_influence_each_other(folder, seed):
    info = surface(folder, "tiles", heights(), **TILED)
    row_col = places(seed, 8)
    together = sample(info, row_col)
    for index in range(len(row_col)):
        alone = sample(info, row_col[index : index + 1])
        for name in FIELDS:
            assert_allclose(getattr(alone, name)[0], getattr(together, name)[index], rtol=0, atol=1e-12)


@FEW
@given(seed=st.integers(0, 10_000), layout=st.sampled_from(sorted(LAYOUTS)))
def test_layout_of_the_file_changes_nothing(folder, seed, layout):
    tiles = sample(surface(folder, "tiles", heights(), **TILED), places(seed))
    other = sample(surface(folder, layout.replace(" ", "_"), heights(), **LAYOUTS[layout]), places(seed))
    for name in FIELDS:
        assert_array_equal(getattr(other, name), getattr(tiles, name))
    assert other.statuses == tiles.statuses


@FEW
@given(seed=st.integers(0, 10_000))
def test_raising_the_ground_raises_the_heights_and_nothing_else(folder, seed):
    # A power of two: exact in single precision at these heights.
    raised = np.where(heights() == -9999.0, heights(), heights() + np.float32(4.0))
    low = sample(surface(folder, "tiles", heights(), **TILED), places(seed))
    high = sample(surface(folder, "raised", raised, **TILED), places(seed))
    assert_allclose(high.height_m, low.height_m + 4.0, rtol=0, atol=4e-5)
    for name in ("gradient", "roughness_m", "relief_m"):
        assert_allclose(getattr(high, name), getattr(low, name), rtol=0, atol=2e-4)


@FEW
@given(seed=st.integers(0, 10_000))
def test_raster_stored_upside_down_is_the_same_ground(folder, seed):
    up = surface(folder, "tiles", heights(), transform=NORTH_UP, **TILED)
    flipped = heights()[::-1]
    down = surface(folder, "down", flipped, transform=SOUTH_UP, **TILED)
    row_col = places(seed)
    # The cell that holds a point is not the same one where the point lies on an edge.
    row_col = row_col[(np.abs(row_col - np.round(row_col)) > 1e-6).all(axis=1)]
    mirrored = np.column_stack([SHAPE[0] - row_col[:, 0], row_col[:, 1]])
    first, second = sample(up, row_col), sample(down, mirrored)
    for name in FIELDS:
        assert_allclose(getattr(second, name), getattr(first, name), rtol=0, atol=1e-9)


@FEW
@given(seed=st.integers(0, 10_000), unit=st.sampled_from([0.3048, 1200 / 3937]))
def test_unit_of_the_heights_scales_all_that_is_measured(folder, seed, unit):
    info = surface(folder, "tiles", heights(), **TILED)
    metres, feet = sample(info, places(seed)), sample(info, places(seed), unit)
    for name in FIELDS:
        assert_allclose(getattr(feet, name), unit * getattr(metres, name), rtol=1e-12, atol=0)


@FEW
@given(seed=st.integers(0, 10_000))
def test_height_lies_between_the_lowest_and_highest_of_four_cells(folder, seed):
    values = heights().astype(float)
    row_col = places(seed)
    found = sample(surface(folder, "tiles", heights(), **TILED), row_col)
    for (row, col), height in zip(row_col, found.height_m, strict=True):
        if np.isfinite(height):
            first = np.floor([row - 0.5, col - 0.5]).astype(int)
            cells = values[first[0] : first[0] + 2, first[1] : first[1] + 2]
            assert cells.min() - 1e-9 <= height <= cells.max() + 1e-9
