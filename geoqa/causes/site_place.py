"""Where on the Earth a site lies."""

import numpy as np

from geoqa.frame.projection import to_geographic
from geoqa.numerics.arrays import FloatArray
from geoqa.records.points import CommonFrame


def middle_of(frame: CommonFrame, position_m: FloatArray) -> FloatArray | None:
    """Return longitude, latitude in degrees and height in metres in the middle of points, shape (3,).

    Parameters
    ----------
    position_m : array, shape (n, 3)
        In the common frame; a missing height counts as 0.

    Returns
    -------
    array, or None
        None without a point, for a local grid, and where the CRS does not reach.
    """
    if not len(position_m) or frame.crs.geodetic_crs is None or frame.site_grid is not None:
        return None
    middle = position_m.mean(axis=0)
    lon_lat = to_geographic(middle[None, :2] / frame.unit.metres, frame.crs)[0]
    if not np.isfinite(lon_lat).all():
        return None
    return np.array([*lon_lat, np.nan_to_num(middle[2])])
