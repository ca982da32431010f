"""A decimated grey picture of the orthomosaic to draw the map on."""

import numpy as np
from affine import Affine
from rasterio.enums import Resampling

from geoqa.frame.rasters import from_pixels, to_pixels
from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.numerics.tiling import Window
from geoqa.readers._dataset import opened_source
from geoqa.readers._raster_notes import LARGE_PX
from geoqa.records.measurements import Backdrop, RasterInfo, RasterPatch
from geoqa.records.points import CommonFrame

# Shares of the pixels, in per cent, that black and white of a picture beyond 8 bits stand for.
_STRETCH_PERCENT = (2.0, 98.0)


def read_backdrop(
    info: RasterInfo,
    extent_m: tuple[float, float, float, float],
    frame: CommonFrame,
    *,
    most_px: int = 1250,
) -> Backdrop | None:
    """Return the raster within an extent as a grey picture, or None where there is none to be had quickly.

    Parameters
    ----------
    info
        The orthomosaic.
    extent_m
        West, south, east, north in the common frame, metres.
    frame
        The common frame.
    most_px
        Longest side of the picture.

    Returns
    -------
    Backdrop or None
        None where the extent misses the raster, nothing there is valid, or more than 60 million pixels
        would have to be decoded because overviews are missing.

    Raises
    ------
    InputError
        Where the file cannot be decoded.
    """
    window = _window(info, extent_m, frame)
    if window is None:
        return None
    rows, cols = window.shape
    factor = max(1.0, max(rows, cols) / most_px)
    # The overview that is read is the coarsest that is no coarser than the picture.
    overview = max((step for step in info.overview_factors if 1 <= step <= factor), default=1)
    if rows * cols / overview**2 > LARGE_PX:
        return None
    shape = (max(1, round(rows / factor)), max(1, round(cols / factor)))
    resampling = Resampling.average if info.overview_factors else Resampling.nearest
    with opened_source(info) as source, source.reading():
        values, valid = source.read_valid(window, out_shape=shape, resampling=resampling)
    if not valid.any():
        return None
    grey = RasterPatch(values, valid, window.row0, window.col0, info.luma).grey
    shown = np.where(valid, grey if info.dtype == "uint8" else _stretched(grey, valid), np.nan)
    return Backdrop(shown, _transform(info, window, shape, frame))


def _window(
    info: RasterInfo, extent_m: tuple[float, float, float, float], frame: CommonFrame
) -> Window | None:
    """Return the part of the raster that encloses an extent, or None where the two do not meet."""
    west, south, east, north = extent_m
    corners = np.array([[west, south], [west, north], [east, south], [east, north]])
    places = to_pixels(corners, frame, info)
    low, high = np.floor(places.min(axis=0)), np.ceil(places.max(axis=0))
    if not np.isfinite([low, high]).all():
        return None
    row0, col0 = (int(length) for length in np.clip(low, 0, info.shape))
    row1, col1 = (int(length) for length in np.clip(high, 0, info.shape))
    return Window(row0, row1, col0, col1) if row1 > row0 and col1 > col0 else None


def _stretched(grey: FloatArray, valid: BoolArray) -> FloatArray:
    """Return grey values between 0 and 255, black and white at the given shares of the valid pixels."""
    black, white = np.percentile(grey[valid], _STRETCH_PERCENT)
    if not white > black:
        return np.full(grey.shape, 127.5)
    shown: FloatArray = np.clip((grey - black) / (white - black), 0.0, 1.0) * 255.0
    return shown


def _transform(info: RasterInfo, window: Window, shape: tuple[int, int], frame: CommonFrame) -> Affine:
    """Return the transform of the picture; in another CRS than the frame's it follows three corners."""
    corners = np.array([[window.row0, window.col0], [window.row1, window.col0], [window.row0, window.col1]])
    upper_left, lower_left, upper_right = from_pixels(corners, frame, info)
    down = (lower_left - upper_left) / shape[0]
    across = (upper_right - upper_left) / shape[1]
    return Affine(across[0], down[0], upper_left[0], across[1], down[1], upper_left[1])
