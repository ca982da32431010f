"""Collect rectangles of cells around many points from a grid that comes tile by tile."""

from dataclasses import dataclass
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from geoqa.numerics.arrays import BoolArray, IntArray
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
        # A number beyond single precision becomes infinite, and any NaN stays one.
        with np.errstate(over="ignore", invalid="ignore"):
            found = self._taken(grid, places).astype(self.numbers.dtype, copy=False)
        whole = ((places >= -self._first) & (places < np.array(grid.shape) - self._last)).all(axis=1)
        if not whole.all():
            here = self._within(grid.shape, places[~whole])
            found[~whole] = np.where(here, found[~whole], self.numbers[visit.members[~whole]])
        self.numbers[visit.members] = found

    @property
    def _first(self) -> IntArray:
        return np.array([self.row_offsets[0], self.col_offsets[0]])

    @property
    def _last(self) -> IntArray:
        return np.array([self.row_offsets[-1], self.col_offsets[-1]])

    def _taken(self, grid: NDArray[Any], places: IntArray) -> NDArray[Any]:
        """Return the cells of each place; those beyond the grid come from anywhere in it."""
        width = grid.shape[1]
        steps = (self.row_offsets[:, None] * width + self.col_offsets).ravel()
        cells = (places[:, 0] * width + places[:, 1])[:, None] + steps
        return np.asarray(np.take(grid.ravel(), cells, mode="clip"))

    def _within(self, shape: tuple[int, ...], places: IntArray) -> BoolArray:
        """Return which cells of each place lie in a grid of this shape, shape (n, rows × cols)."""
        rows, cols = places[:, :1] + self.row_offsets, places[:, 1:] + self.col_offsets
        row_in, col_in = (rows >= 0) & (rows < shape[0]), (cols >= 0) & (cols < shape[1])
        return (row_in[:, :, None] & col_in[:, None, :]).reshape(len(places), -1)
