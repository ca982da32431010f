"""The shape of a raster's cells on the ground."""

import numpy as np

from geoqa.numerics.arrays import FloatArray


def square_cells() -> FloatArray:
    """Return the stretch of square cells."""
    return np.eye(2)


def cell_stretch(axes_m: FloatArray) -> FloatArray:
    """Return the 2 × 2 matrix from (row, col) steps to lengths on the ground, in sides of a square cell.

    That cell has the same area; how the raster is turned or mirrored is left out, so that square cells give
    the identity matrix.

    Parameters
    ----------
    axes_m : array, shape (2, 2)
        From (row, col) steps to metres east and north. NaN where they are not known gives NaN.

    Examples
    --------
    >>> cell_stretch(np.array([[0.0, 1.0], [-4.0, 0.0]])).round(12).tolist()
    [[2.0, 0.0], [0.0, 0.5]]
    """
    if not np.isfinite(axes_m).all():
        return np.full((2, 2), np.nan)
    _, lengths, directions = np.linalg.svd(axes_m)
    stretch: FloatArray = (directions.T * lengths / np.sqrt(lengths.prod())) @ directions
    return stretch
