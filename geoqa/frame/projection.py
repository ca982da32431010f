"""Conversions: between grids and longitude and latitude of one datum, exact to the computation."""

import numpy as np
import pyproj
from pyproj.enums import TransformDirection

from geoqa.frame.axes import equal_crs
from geoqa.numerics.arrays import FloatArray

_FORWARD, _INVERSE = TransformDirection.FORWARD, TransformDirection.INVERSE


def to_geographic(plan: FloatArray, crs: pyproj.CRS) -> FloatArray:
    """Return longitude and latitude on the CRS's own datum, shape (n, 2), in its own angular unit.

    Parameters
    ----------
    plan : array, shape (n, 2)
        Easting and northing in the unit of the CRS; of a geographic CRS longitude and latitude.

    Returns
    -------
    array, shape (n, 2)
        NaN where a position has no longitude and latitude.
    """
    return _convert(plan, crs, _INVERSE)


def from_geographic(lon_lat: FloatArray, crs: pyproj.CRS) -> FloatArray:
    """Return easting and northing in the unit of the CRS; the inverse of `to_geographic`."""
    return _convert(lon_lat, crs, _FORWARD)


def convert(plan: FloatArray, source: pyproj.CRS, target: pyproj.CRS) -> FloatArray:
    """Return plan positions, shape (n, 2), in another CRS whose datum is taken to be the same.

    Each in the unit of its CRS. Longitude and latitude stay as they are: no operation between datums
    is ever used here.
    """
    if equal_crs(source, target):
        return plan
    return from_geographic(to_geographic(plan, source), target)


def _convert(plan: FloatArray, crs: pyproj.CRS, direction: TransformDirection) -> FloatArray:
    if crs.is_geographic or not len(plan):
        return plan
    base = crs.geodetic_crs
    # The domain is left to be read off the result, so that the row is known: outside it PROJ gives inf.
    transformer = pyproj.Transformer.from_crs(base, crs, always_xy=True)
    first, second = transformer.transform(plan[:, 0], plan[:, 1], direction=direction)
    converted: FloatArray = np.column_stack([first, second])
    converted[~np.isfinite(converted).all(axis=1)] = np.nan
    return converted
