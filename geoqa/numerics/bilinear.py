"""Bilinear interpolation between cell centres."""

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray, IntArray


def between_centres(row_col: FloatArray, shape: tuple[int, int]) -> BoolArray:
    """Return for each place, shape (n, 2), whether four cell centres surround it.

    Rows and columns count from the corner of the first cell, so that centres stand at .5.

    Examples
    --------
    >>> between_centres(np.array([[0.5, 0.5], [0.4, 1.0], [1.5, 1.5]]), (2, 2))
    array([ True, False,  True])
    """
    lengths = np.array(shape)
    surrounded = (row_col >= 0.5) & (row_col <= lengths - 0.5) & (lengths >= 2)
    return np.asarray(surrounded.all(axis=1))


def lower_cells(row_col: FloatArray, shape: tuple[int, int]) -> tuple[IntArray, FloatArray]:
    """Return the first of the four cells around each place, and the shares of the way to the last.

    Parameters
    ----------
    row_col : array, shape (n, 2)
        Places between four centres. A place on the last centre of a row or column has the share 1.

    Returns
    -------
    cells : array of int, shape (n, 2)
        Row, column of the cell with the lowest of both.
    shares : array, shape (n, 2)
        Between 0 and 1.
    """
    cells = np.minimum(np.floor(row_col - 0.5).astype(np.int64), np.array(shape) - 2)
    return cells, row_col - 0.5 - cells


def bilinear(corners: FloatArray, shares: FloatArray) -> FloatArray:
    """Return the values between four cell centres, shape (n,).

    Parameters
    ----------
    corners : array, shape (n, 4)
        Values at (row, col), (row, col + 1), (row + 1, col), (row + 1, col + 1). NaN in one of them, even
        one without weight, makes the result NaN.
    shares : array, shape (n, 2)
        Of the way from the first row to the second, and from the first column to the second.

    Examples
    --------
    >>> bilinear(np.array([[0.0, 10.0, 20.0, 30.0]]), np.array([[0.5, 0.1]]))
    array([11.])
    """
    down, across = shares[:, 0], shares[:, 1]
    upper = corners[:, 0] + across * (corners[:, 1] - corners[:, 0])
    lower = corners[:, 2] + across * (corners[:, 3] - corners[:, 2])
    between: FloatArray = upper + down * (lower - upper)
    return between
