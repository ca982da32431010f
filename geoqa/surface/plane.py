"""The plane through the cells around a point: slope, roughness and relief of the surface there."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoqa.numerics.arrays import BoolArray, FloatArray, IntArray

# A smaller window calls flat ground steep on a noisy fine raster: with noise σ the slope of a plane over
# k × k cells scatters by σ √12 / (k √(k² − 1) cell), which is 8 % for 3 × 3 cells of 5 cm and noise of 1 cm.
_SIDE_M = 1.0
_LEAST_CELLS_FROM_CENTRE = 2
_MOST_NODES_FROM_CENTRE = 7
# On a raster finer than about a millimetre the window is smaller than a metre.
_MOST_CELLS_FROM_CENTRE = 500
_LEAST_CELLS = 6
# Cells in one line leave a determinant of rounding errors; the flattest true area of 15 × 15 has 0.01.
_IN_LINE = 1e-9
# Rows of cells that are worked on together: as many as stay in the processor's cache.
_TOGETHER = 2048


@dataclass(frozen=True, eq=False)
class PlaneWindow:
    """The cells around a point that a plane is fitted to.

    Attributes
    ----------
    row_offsets, col_offsets : arrays of int
        From the cell that holds the point, alike in both directions.
    cell_axes_m : array, shape (2, 2)
        From steps in row and col to metres east and north.
    """

    row_offsets: IntArray
    col_offsets: IntArray
    cell_axes_m: FloatArray

    @property
    def reach(self) -> IntArray:
        """Return how many rows and columns the window reaches from the cell that holds the point."""
        return np.array([self.row_offsets[-1], self.col_offsets[-1]])

    @property
    def size(self) -> int:
        """Return the number of cells."""
        return len(self.row_offsets) * len(self.col_offsets)


@dataclass(frozen=True, eq=False)
class Planes:
    """Planes fitted to n windows; heights in the unit of the cells, NaN where there is no plane.

    Attributes
    ----------
    gradient : array, shape (n, 2)
        Rise for each metre east and north.
    roughness, relief : arrays, shape (n,)
        Root mean square, and largest, deviation of the cells from the plane.
    """

    gradient: FloatArray
    roughness: FloatArray
    relief: FloatArray


def plane_window(cell_axes_m: FloatArray) -> PlaneWindow:
    """Return the window around a point: max(1 m, 5 cells) along rows and along columns.

    Of very fine rasters every k-th cell is taken, so that no more than 15 × 15 are.

    Parameters
    ----------
    cell_axes_m : array, shape (2, 2)
        From steps in row and col to metres east and north; rotated, sheared and south-up alike.

    Examples
    --------
    >>> plane_window(np.array([[0.0, 0.25], [-0.25, 0.0]])).row_offsets
    array([-2, -1,  0,  1,  2])
    >>> plane_window(np.array([[0.0, 0.05], [-0.05, 0.0]])).row_offsets
    array([-10,  -8,  -6,  -4,  -2,   0,   2,   4,   6,   8,  10])
    """
    row_m, col_m = np.hypot(*np.asarray(cell_axes_m, dtype=float))
    return PlaneWindow(_offsets(float(row_m)), _offsets(float(col_m)), np.array(cell_axes_m, dtype=float))


def _offsets(cell_m: float) -> IntArray:
    # Rounded first, so that 1 m of 0.2 m cells is 5 cells whatever the last bit of their size.
    cells = np.ceil(round(0.5 * _SIDE_M / cell_m - 0.5, 6))
    reach = int(np.clip(cells, _LEAST_CELLS_FROM_CENTRE, _MOST_CELLS_FROM_CENTRE))
    step = reach // (_MOST_NODES_FROM_CENTRE + 1) + 1
    return step * np.arange(-(reach // step), reach // step + 1)


def fit_planes(cells: NDArray[np.floating[Any]], window: PlaneWindow) -> Planes:
    """Return the planes fitted by least squares, one for each row of cells.

    Parameters
    ----------
    cells : array, shape (n, rows × cols)
        Heights at the offsets of the window, row by row; NaN where there is none.
    window
        Where the cells stand.

    Returns
    -------
    Planes
        NaN where fewer than six cells have a height, or all that have lie in one line.
    """
    fitted = np.full((len(cells), 4), np.nan)
    for start in range(0, len(cells), _TOGETHER):
        part = slice(start, start + _TOGETHER)
        heights = cells[part].astype(np.float64)
        there = ~np.isnan(heights)
        complete = there.all(axis=1)
        found = fitted[part]
        if complete.all():
            found[:] = _fit(heights, None, window)
            continue
        found[complete] = _fit(heights[complete], None, window)
        some = ~complete & (there.sum(axis=1) >= _LEAST_CELLS)
        if some.any():
            found[some] = _fit(np.where(there[some], heights[some], 0.0), there[some], window)
    # Steps in row and col are (row, col) axes times metres; a gradient goes the other way.
    gradient = np.linalg.solve(window.cell_axes_m.T, fitted[:, :2].T).T
    return Planes(gradient, fitted[:, 2], fitted[:, 3])


def _fit(heights: FloatArray, there: BoolArray | None, window: PlaneWindow) -> FloatArray:
    """Return rise for each row and col, roughness and relief; missing heights stand as 0 in `heights`.

    All cells are there where `there` is None.
    """
    rows = np.repeat(window.row_offsets, len(window.col_offsets)).astype(float)
    cols = np.tile(window.col_offsets, len(window.row_offsets)).astype(float)
    powers = np.column_stack([np.ones_like(rows), rows, cols, rows**2, rows * cols, cols**2])
    share = np.ones((1, window.size)) if there is None else there.astype(float)
    count, r, c, rr, rc, cc = (share @ powers).T
    heights = (heights - (heights.sum(axis=1) / count)[:, None]) * share
    rr, rc, cc = rr - r * r / count, rc - r * c / count, cc - c * c / count
    determinant = rr * cc - rc**2
    determinant = np.where(determinant > _IN_LINE * rr * cc, determinant, np.nan)
    rz, cz = (heights @ powers[:, 1:3]).T
    rise = np.column_stack([(cc * rz - rc * cz) / determinant, (rr * cz - rc * rz) / determinant])
    centre = (rise * np.column_stack([r / count, c / count])).sum(axis=1)
    deviation = (heights - rise @ powers[:, 1:3].T + centre[:, None]) * share
    roughness = np.sqrt(np.einsum("ij,ij->i", deviation, deviation) / count)
    return np.column_stack([rise, roughness, np.abs(deviation).max(axis=1)])
