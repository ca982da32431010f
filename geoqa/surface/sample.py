"""Heights at points from the cells around them, and why a point has none."""

from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.numerics.bilinear import between_centres
from geoqa.numerics.nodata import equals_nodata
from geoqa.records.measurements import SurfaceStatus

# Common practice for "no data" in elevation rasters, found where the file does not declare it; the last
# limit catches the largest 32-bit number with either sign.
_CUSTOMARY_NODATA = (-9999.0, -32767.0, -32768.0, -99999.0, -999999.0)
_BEYOND_ANY_HEIGHT = 1e30


class Outcome(IntEnum):
    """What became of one point; `SurfaceStatus` and the reason follow from it."""

    SAMPLED = 0
    NOT_SOUGHT = 1
    NO_POSITION = 2
    OUTSIDE = 3
    RIM = 4
    HOLE = 5
    BESIDE_HOLE = 6
    UNDECLARED = 7


_STATUS_AND_REASON: dict[Outcome, tuple[SurfaceStatus, str | None]] = {
    Outcome.SAMPLED: (SurfaceStatus.SAMPLED, None),
    Outcome.NOT_SOUGHT: (SurfaceStatus.NOT_SOUGHT, None),
    Outcome.NO_POSITION: (
        SurfaceStatus.OUTSIDE,
        "the point has no position in the CRS of the elevation raster",
    ),
    Outcome.OUTSIDE: (SurfaceStatus.OUTSIDE, "the point lies outside the elevation raster"),
    Outcome.RIM: (
        SurfaceStatus.NO_DATA,
        "the point lies in the outer half cell of the elevation raster, where four cell centres do not "
        "surround it",
    ),
    Outcome.HOLE: (SurfaceStatus.NO_DATA, "none of the four cells around the point holds data"),
    Outcome.BESIDE_HOLE: (
        SurfaceStatus.NO_DATA,
        "not all of the four cells around the point hold data",
    ),
    Outcome.UNDECLARED: (
        SurfaceStatus.NO_DATA,
        "a cell around the point holds a number that commonly stands for missing data, such as −9999, though "
        "the file does not declare it as its nodata value",
    ),
}


def outcomes_by_place(places: FloatArray, shape: tuple[int, int], sought: BoolArray) -> NDArray[np.int64]:
    """Return the `Outcome` of each point as far as its place decides it; `SAMPLED` where heights decide.

    Parameters
    ----------
    places : array, shape (n, 2)
        Row, col from the corner of the upper-left cell; NaN where there is no position.
    shape
        Rows, columns of the raster.
    sought : array of bool, shape (n,)
        False where no height is wanted.
    """
    outcomes = np.full(len(places), int(Outcome.SAMPLED))
    outcomes[~between_centres(places, shape)] = Outcome.RIM
    outcomes[~((places >= 0) & (places < np.array(shape))).all(axis=1)] = Outcome.OUTSIDE
    outcomes[~np.isfinite(places).all(axis=1)] = Outcome.NO_POSITION
    outcomes[~sought] = Outcome.NOT_SOUGHT
    return outcomes


def outcomes_by_corners(corners: NDArray[Any], nodata: float | None) -> NDArray[np.int64]:
    """Return the `Outcome` of points from the numbers of the file in the four cells around each, (n, 4)."""
    declared = ~np.isfinite(corners) | equals_nodata(corners, nodata)
    missing = missing_heights(corners, nodata)
    outcomes = np.full(len(corners), int(Outcome.SAMPLED))
    outcomes[missing.any(axis=1)] = Outcome.BESIDE_HOLE
    outcomes[declared.all(axis=1)] = Outcome.HOLE
    outcomes[(missing & ~declared).any(axis=1)] = Outcome.UNDECLARED
    return outcomes


def missing_heights(cells: NDArray[Any], nodata: float | None) -> BoolArray:
    """Return where numbers of the file are no heights: not finite, nodata, or −9999 and the like."""
    low, high = (float(pick.reduce(cells, axis=None)) for pick in (np.fmin, np.fmax))
    near = nodata is not None and low - 1.0 <= nodata <= high + 1.0
    # One look at the range does for most rasters.
    if low > max(_CUSTOMARY_NODATA) and high < _BEYOND_ANY_HEIGHT and not near:
        return np.asarray(np.isnan(cells))
    missing = ~(np.abs(cells) < _BEYOND_ANY_HEIGHT) | equals_nodata(cells, nodata)
    for number in _CUSTOMARY_NODATA:
        missing |= cells == number
    return np.asarray(missing)


def statuses_and_reasons(
    outcomes: NDArray[np.int64],
) -> tuple[tuple[SurfaceStatus, ...], tuple[str | None, ...]]:
    """Return status and reason of each point."""
    table = [_STATUS_AND_REASON[Outcome(code)] for code in range(len(Outcome))]
    statuses = np.array([status for status, _ in table], dtype=object)
    reasons = np.array([reason for _, reason in table], dtype=object)
    return tuple(statuses[outcomes].tolist()), tuple(reasons[outcomes].tolist())
