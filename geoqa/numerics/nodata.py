"""Which numbers of a raster stand for missing data."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoqa.numerics.arrays import BoolArray

# Four steps of a 32-bit floating-point number: what writing and reading a nodata value as text may cost.
_ROUNDING = 4 * float(np.finfo(np.float32).eps)


def equals_nodata(values: NDArray[Any], nodata: float | None) -> BoolArray:
    """Return where values are the nodata value; floating-point ones up to single-precision rounding.

    Parameters
    ----------
    values : array
        Of any type.
    nodata
        None: nothing equals it.

    Examples
    --------
    >>> equals_nodata(np.array([-9999.0, 0.0, np.nan]), -9999.0)
    array([ True, False, False])
    >>> equals_nodata(np.array([np.float32(-3.4e38)]), -3.4e38)
    array([ True])
    """
    if nodata is None:
        return np.zeros(values.shape, dtype=bool)
    if np.isnan(nodata):
        return np.asarray(np.isnan(values))
    if values.dtype.kind != "f" or np.isinf(nodata):
        return np.asarray(values == nodata)
    with np.errstate(over="ignore", invalid="ignore"):
        return np.asarray(np.abs(values.astype(np.float64) - nodata) <= _ROUNDING * abs(nodata))
