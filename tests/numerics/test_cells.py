"""Cells collected tile by tile are those of the whole grid."""

import numpy as np
import pytest

from geoqa.numerics.cells import Cells
from geoqa.numerics.tiling import visits


@pytest.mark.parametrize("tile", [(7, 9), (1, 40), (50, 50)])
def test_cells_from_tiles_are_those_of_the_whole_grid_and_missing_beyond(tile):
    grid = np.arange(40.0 * 40.0).reshape(40, 40)
    rng = np.random.default_rng(1)
    rows, cols = np.array([-4, -2, 0, 2, 4]), np.array([-3, 0, 3])
    cells = Cells.empty(rng.integers(0, 40, (80, 2)), rows, cols, np.float64)
    windows = cells.windows
    clipped = np.clip(np.hstack([windows[:, :2], windows[:, :2] + windows[:, 2:]]), 0, 40)
    for visit in visits(clipped, tile):
        part = visit.window
        cells.fill_in(grid[part.row0 : part.row1, part.col0 : part.col1], visit)
    around = np.pad(grid, 10, constant_values=np.nan)
    for (row, col), numbers in zip(cells.origins + 10, cells.numbers, strict=True):
        np.testing.assert_array_equal(numbers, around[np.ix_(row + rows, col + cols)].ravel())


def test_windows_enclose_the_cells():
    cells = Cells.empty(np.array([[10, 20]]), np.array([-2, 0, 2]), np.array([0, 1]), np.float64)
    assert cells.windows.tolist() == [[8, 20, 5, 2]]
