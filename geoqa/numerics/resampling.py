"""A picture as a smooth surface: values and slopes on a grid moved by a fraction of a pixel."""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from geoqa.numerics.arrays import BoolArray, FloatArray

S = TypeVar("S", bound=np.generic)

# Pixels that the smoothing and the spline reach beyond the one asked for.
_REACH_PX = 3


@dataclass(frozen=True)
class SmoothPicture:
    """A cubic spline through a slightly smoothed picture.

    Positions count from the corner of the first pixel, whose centre is 0.5, 0.5.

    Attributes
    ----------
    coefficients : array, shape (rows, cols)
        Of the cubic B-spline, one a pixel centre.
    valid : array, shape (rows, cols)
        True where no missing pixel has a share in the surface.
    """

    coefficients: FloatArray
    valid: BoolArray

    def window(self, row: float, col: float, half: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return values and slopes along rows and columns on a pixel grid centred at a position.

        All three have the shape (2 half + 1, 2 half + 1). Their grid has one phase, so that a separable
        filter of four taps an axis does the interpolation. Beyond the picture the values mean nothing:
        see `usable`.
        """
        (row0, row_share), (col0, col_share) = _split(row), _split(col)
        block = _cut(self.coefficients, row0 - 1, col0 - 1, half, 3)
        along = _filter(block.T, _bspline(col_share)).T
        slopes = _filter(block.T, _bspline_slope(col_share)).T
        values = _filter(along, _bspline(row_share))
        slope_row = _filter(along, _bspline_slope(row_share))
        slope_col = _filter(slopes, _bspline(row_share))
        return values, slope_row, slope_col

    def usable(self, row: float, col: float, half: int) -> BoolArray:
        """Return which places of `window` rest on valid pixels only."""
        (row0, row_share), (col0, col_share) = _split(row), _split(col)
        return _cut(self.valid, row0 + round(row_share), col0 + round(col_share), half, 0)


def smooth_picture(picture: FloatArray, valid: BoolArray, smoothing_px: float) -> SmoothPicture:
    """Return the spline surface of a picture after Gaussian smoothing; missing pixels have no share.

    The smoothing keeps the interpolated noise alike at every sub-pixel phase, so that no phase is
    preferred by a fit.
    """
    if valid.all():
        smooth, usable = ndimage.gaussian_filter(picture, smoothing_px, mode="nearest"), valid
    else:
        share = ndimage.gaussian_filter(valid.astype(float), smoothing_px, mode="nearest")
        total = ndimage.gaussian_filter(np.where(valid, picture, 0.0), smoothing_px, mode="nearest")
        middle = float(picture[valid].mean()) if valid.any() else 0.0
        smooth = np.where(share > 1e-3, total / np.maximum(share, 1e-3), middle)
        usable = ndimage.binary_erosion(valid, iterations=_REACH_PX, border_value=1)
    return SmoothPicture(ndimage.spline_filter(smooth, order=3, mode="mirror"), usable)


def _split(position: float) -> tuple[int, float]:
    """Return index and share of the pixel centre at or before a position."""
    index = int(np.floor(position - 0.5))
    return index, position - 0.5 - index


def _cut(values: NDArray[S], row0: int, col0: int, half: int, extra: int) -> NDArray[S]:
    """Return rows row0 − half … row0 + half + extra and the columns likewise; 0 beyond the array."""
    length = 2 * half + 1 + extra
    out = np.zeros((length, length), dtype=values.dtype)
    top, left = row0 - half, col0 - half
    rows = slice(max(top, 0), max(min(top + length, values.shape[0]), 0))
    cols = slice(max(left, 0), max(min(left + length, values.shape[1]), 0))
    part = values[rows, cols]
    if part.size:
        out[rows.start - top : rows.stop - top, cols.start - left : cols.stop - left] = part
    return out


def _filter(values: FloatArray, taps: FloatArray) -> FloatArray:
    """Return the sums of taps × values down each column, without the ends."""
    length = values.shape[0] - len(taps) + 1
    result: FloatArray = taps[0] * values[:length]
    for k in range(1, len(taps)):
        result += taps[k] * values[k : k + length]
    return result


def _bspline(t: float) -> FloatArray:
    """Return the weights of the coefficients at −1, 0, 1, 2 for the value at t in [0, 1)."""
    return np.array([(1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3]) / 6.0


def _bspline_slope(t: float) -> FloatArray:
    """Return the weights of the coefficients at −1, 0, 1, 2 for the slope at t in [0, 1)."""
    return np.array([-((1 - t) ** 2), 3 * t**2 - 4 * t, -3 * t**2 + 2 * t + 1, t**2]) / 2.0
