"""Collect rectangles of cells around many points from a grid that comes tile by tile."""

from dataclasses import dataclass
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from geoqa.numerics.arrays import IntArray
from geoqa.numerics.tiling import Visit


@dataclass(frozen=True, eq=False)
class Cells:
    """A rectangle of cells for each of n points.

    Attributes
    ----------
    origins : array of int, shape (n, 2)
        Row, column that the offsets count from.
    row_offsets, col_offsets : arrays of int, ascending
        Of the cells, alike for all points.
    numbers : array, shape (n, rows × cols)
        What the grid holds in the cells, row by row; NaN where nothing was filled in.
    """

    origins: IntArray
    row_offsets: IntArray
    col_offsets: IntArray
    numbers: NDArray[np.floating[Any]]

    @classmethod
    def empty(
        cls, origins: IntArray, row_offsets: IntArray, col_offsets: IntArray, dtype: type[np.floating[Any]]
    ) -> Self:
        """Return the cells at these offsets from each origin, none filled in."""
        count = len(row_offsets) * len(col_offsets)
        return cls(origins, row_offsets, col_offsets, np.full((len(origins), count), np.nan, dtype))

    @property
    def windows(self) -> IntArray:
        """Return first row, first column, rows, columns that enclose the cells, shape (n, 4)."""
        shape = np.broadcast_to(self._last - self._first + 1, self.origins.shape)
        return np.hstack([self.origins + self._first, shape])

    def fill_in(self, grid: NDArray[Any], visit: Visit) -> None:
        """Fill in what lies in one part of the grid; `grid` holds the numbers in `visit.window`."""
        places = self.origins[visit.members] - (visit.window.row0, visit.window.col0)
        first, last = places + self._first, places + self._last
        whole = (first >= 0).all(axis=1) & (last < grid.shape).all(axis=1)
        # A number beyond single precision becomes infinite, and any NaN stays one.
        with np.errstate(over="ignore", invalid="ignore"):
            if whole.any():
                self.numbers[visit.members[whole]] = self._taken(grid, places[whole])
            if not whole.all():
                self._fill_in_part(grid, places[~whole], visit.members[~whole])

    @property
    def _first(self) -> IntArray:
        return np.array([self.row_offsets[0], self.col_offsets[0]])

    @property
    def _last(self) -> IntArray:
        return np.array([self.row_offsets[-1], self.col_offsets[-1]])

    def _taken(self, grid: NDArray[Any], places: IntArray) -> NDArray[Any]:
        width = grid.shape[1]
        steps = (self.row_offsets[:, None] * width + self.col_offsets).ravel()
        cells = (places[:, 0] * width + places[:, 1])[:, None] + steps
        # No index is out of range here, and clipping is quicker than looking for one.
        return np.asarray(np.take(grid.ravel(), cells, mode="clip"))

    def _fill_in_part(self, grid: NDArray[Any], places: IntArray, members: IntArray) -> None:
        height, width = grid.shape
        rows, cols = places[:, :1] + self.row_offsets, places[:, 1:] + self.col_offsets
        row_in, col_in = (rows >= 0) & (rows < height), (cols >= 0) & (cols < width)
        here = (row_in[:, :, None] & col_in[:, None, :]).reshape(len(members), -1)
        rows, cols = np.clip(rows, 0, height - 1), np.clip(cols, 0, width - 1)
        found = grid[rows[:, :, None], cols[:, None, :]].reshape(len(members), -1)
        self.numbers[members] = np.where(here, found, self.numbers[members])
