"""Averages over square blocks of pixels, with missing pixels left out."""

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray


def block_average(picture: FloatArray, valid: BoolArray, factor: int) -> tuple[FloatArray, BoolArray]:
    """Return the means of factor × factor blocks, and which of them can be used.

    A position (row, col), counted from the corner of the first pixel, stands at (row, col) / factor in
    the result.

    Parameters
    ----------
    picture, valid : arrays, shape (rows, cols)
        Grey values, and False where there is none.
    factor
        Side of a block in pixels; 1 returns the picture as it is.

    Returns
    -------
    picture : array, shape (ceil(rows / factor), ceil(cols / factor))
        Mean of the valid pixels of each block; 0 where the block cannot be used.
    valid : array of the same shape
        True where more than half of the block is valid. Blocks that reach beyond the picture count the
        pixels there as missing.

    Examples
    --------
    >>> block_average(np.array([[1.0, 3.0], [5.0, 7.0]]), np.ones((2, 2), dtype=bool), 2)
    (array([[4.]]), array([[ True]]))
    """
    if factor == 1:
        return np.where(valid, picture, 0.0), valid
    count = _block_sums(valid.astype(float), factor)
    total = _block_sums(np.where(valid, picture, 0.0), factor)
    usable = count > 0.5 * factor**2
    return np.where(usable, total / np.maximum(count, 1.0), 0.0), usable


def _block_sums(values: FloatArray, factor: int) -> FloatArray:
    rows, cols = (-(-length // factor) for length in values.shape)
    padded = np.zeros((rows * factor, cols * factor))
    padded[: values.shape[0], : values.shape[1]] = values
    sums: FloatArray = padded.reshape(rows, factor, cols, factor).sum(axis=(1, 3))
    return sums
