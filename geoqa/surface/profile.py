"""Where two profiles of the surface run through a point: how far, in which steps, along which places."""

import math

import numpy as np

from geoqa.numerics.arrays import FloatArray

# Common practice: enough of the ground to see a kerb, a slope or a bush beside the point.
_LEAST_REACH_M = 2.5
_LEAST_REACH_CELLS = 12
# To either side; on a raster finer than a tenth of a metre the steps are longer than a cell.
_MOST_STEPS = 25
# West to east and south to north.
_DIRECTIONS = np.array([[1.0, 0.0], [0.0, 1.0]])


def profile_steps(cell_m: float) -> tuple[float, int]:
    """Return the step of a profile in metres, and how many of them it reaches to either side.

    It reaches max(2.5 m, 12 cells), with about one step a cell and no more than 25.

    Examples
    --------
    >>> profile_steps(0.25)
    (0.25, 12)
    >>> profile_steps(0.02)
    (0.1, 25)
    """
    reach_m = max(_LEAST_REACH_M, _LEAST_REACH_CELLS * cell_m)
    # Rounded first, so that 3 m of 0.25 m cells are 12 cells whatever the last bit of their size.
    steps = min(math.ceil(round(reach_m / cell_m, 6)), _MOST_STEPS)
    return reach_m / steps, steps


def profile_places_m(position_m: FloatArray, cell_m: float) -> FloatArray:
    """Return the places of both profiles through each point, easting and northing in metres.

    Parameters
    ----------
    position_m : array, shape (n, 2)
        Easting and northing of the points, metres; NaN stays NaN.
    cell_m
        Side of a cell of the elevation raster.

    Returns
    -------
    array, shape (n, 2, k, 2)
        From west to east, then from south to north; the middle of the k places is the point.
    """
    step_m, steps = profile_steps(cell_m)
    along_m = step_m * np.arange(-steps, steps + 1)
    places: FloatArray = position_m[:, None, None, :] + along_m[:, None] * _DIRECTIONS[:, None, :]
    return places
