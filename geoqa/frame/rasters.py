"""Between positions in the common frame and rows and columns of a raster."""

import numpy as np
from affine import Affine

from geoqa.frame.axes import equal_crs
from geoqa.frame.projection import convert
from geoqa.numerics.arrays import FloatArray
from geoqa.records.measurements import RasterInfo
from geoqa.records.points import CommonFrame

# Half the baseline of the numerical derivative, in pixels: long against rounding, short against curvature.
_HALF_STEP_PX = 8.0
# Points on each edge of an outline whose edges may be curved.
_POINTS_PER_EDGE = 16


def to_pixels(position_m: FloatArray, frame: CommonFrame, info: RasterInfo) -> FloatArray:
    """Return row and column of positions, shape (n, 2), counted from the raster's upper-left corner.

    Parameters
    ----------
    position_m : array, shape (n, 2)
        Easting and northing in the common frame, metres.

    Returns
    -------
    array, shape (n, 2)
        Pixel centres at .5; NaN where a position is NaN or cannot be expressed in the raster's CRS.
    """
    plan = convert(np.asarray(position_m, float) / frame.unit.metres, frame.crs, info.crs)
    transform = info.transform
    # The origin is taken off first: eastings and northings are large against a pixel.
    steps = plan - (transform.c, transform.f)
    inverse = ~Affine(transform.a, transform.b, 0.0, transform.d, transform.e, 0.0)
    row = inverse.d * steps[:, 0] + inverse.e * steps[:, 1]
    col = inverse.a * steps[:, 0] + inverse.b * steps[:, 1]
    return np.column_stack([row, col])


def from_pixels(row_col: FloatArray, frame: CommonFrame, info: RasterInfo) -> FloatArray:
    """Return easting and northing in metres in the common frame, shape (n, 2); inverse of `to_pixels`."""
    row, col = np.asarray(row_col, float).T
    transform = info.transform
    east = transform.a * col + transform.b * row + transform.c
    north = transform.d * col + transform.e * row + transform.f
    return convert(np.column_stack([east, north]), info.crs, frame.crs) * frame.unit.metres


def covariance_to_m2(
    covariance_px2: FloatArray, frame: CommonFrame, info: RasterInfo, row_col: FloatArray
) -> FloatArray:
    """Return covariances in east, north order, shape (n, 2, 2), square metres.

    Parameters
    ----------
    covariance_px2 : array, shape (n, 2, 2)
        In row, col order; NaN stays NaN.
    row_col : array, shape (n, 2)
        Where in the raster; it matters only where the raster's CRS is not that of the frame.
    """
    if equal_crs(info.crs, frame.crs):
        jacobian = np.broadcast_to(info.cell_axes_m, (len(row_col), 2, 2))
    else:
        jacobian = _jacobian(np.asarray(row_col, float), frame, info)
    turned: FloatArray = jacobian @ np.asarray(covariance_px2, float) @ jacobian.transpose(0, 2, 1)
    return turned


def ground_axes_m(info: RasterInfo, frame: CommonFrame) -> FloatArray:
    """Return the matrix from (row, col) steps to east, north in metres in the middle of a raster."""
    middle: FloatArray = np.array([info.shape]) / 2.0
    axes: FloatArray = _jacobian(middle, frame, info)[0]
    return axes


def outline_m(info: RasterInfo, frame: CommonFrame) -> FloatArray:
    """Return the raster's edge in the common frame, shape (k, 2), metres, from its upper-left corner.

    The ring is open. In a CRS other than the frame's the edges are curved: there each carries points
    in between.
    """
    rows, cols = info.shape
    corners = np.array([[0.0, 0.0], [0.0, cols], [rows, cols], [rows, 0.0]])
    count = 1 if equal_crs(info.crs, frame.crs) else _POINTS_PER_EDGE
    along = np.arange(count)[:, None] / count
    edges = [
        start + along * (end - start)
        for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True)
    ]
    return from_pixels(np.concatenate(edges), frame, info)


def _jacobian(row_col: FloatArray, frame: CommonFrame, info: RasterInfo) -> FloatArray:
    """Return the derivatives of east, north by row, col, shape (n, 2, 2), metres a pixel."""
    columns = []
    for step in _HALF_STEP_PX * np.eye(2):
        ahead, behind = (from_pixels(row_col + sign * step, frame, info) for sign in (1, -1))
        columns.append((ahead - behind) / (2.0 * _HALF_STEP_PX))
    return np.stack(columns, axis=-1)
