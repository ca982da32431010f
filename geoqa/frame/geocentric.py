"""Geocentric coordinates of points on a datum, and a translation of all of them by one vector."""

import numpy as np
import pyproj
from pyproj.enums import TransformDirection
from pyproj.transformer import Transformer

from geoqa.errors import FrameError
from geoqa.frame.axes import crs_title
from geoqa.numerics.arrays import FloatArray

_FORWARD, _INVERSE = TransformDirection.FORWARD, TransformDirection.INVERSE


def to_geocentric(lon_lat_height: FloatArray, frame: pyproj.CRS) -> FloatArray:
    """Return X, Y, Z in metres, shape (n, 3).

    Parameters
    ----------
    lon_lat_height : array, shape (n, 3)
        Degrees from Greenwich, and metres above the ellipsoid of the frame.

    References
    ----------
    [IOGP373-7-2]_, EPSG method 9602, geographic/geocentric conversions.
    """
    return _converted(lon_lat_height, frame, _FORWARD)


def from_geocentric(geocentric_m: FloatArray, frame: pyproj.CRS) -> FloatArray:
    """Return longitude, latitude in degrees and ellipsoidal height in metres; inverse of `to_geocentric`."""
    return _converted(geocentric_m, frame, _INVERSE)


def translated(lon_lat_height: FloatArray, shift_m: FloatArray, frame: pyproj.CRS) -> FloatArray:
    """Return positions moved by one geocentric vector, longitude, latitude, height, shape (n, 3).

    Parameters
    ----------
    lon_lat_height : array, shape (n, 3)
        Degrees and metres, without gaps.
    shift_m : array, shape (3,) or (n, 3)
        Along the geocentric axes.

    References
    ----------
    [IOGP373-7-2]_, EPSG method 1031, geocentric translations.
    """
    moved = from_geocentric(to_geocentric(lon_lat_height, frame) + shift_m, frame)
    # PROJ counts from −180 to 180; a file that counts on keeps its count.
    moved[:, 0] += 360.0 * np.round((lon_lat_height[:, 0] - moved[:, 0]) / 360.0)
    return moved


def to_horizon(lon_lat: FloatArray) -> FloatArray:
    """Return the matrices that turn a geocentric vector to east, north, up, shape (n, 3, 3).

    Parameters
    ----------
    lon_lat : array, shape (n, 2 or more)
        Longitude and latitude in degrees.

    References
    ----------
    [IOGP373-7-2]_, EPSG method 9836, geocentric/topocentric conversions.

    Examples
    --------
    >>> to_horizon(np.array([[0.0, 0.0]])).round(9).tolist()
    [[[-0.0, 1.0, 0.0], [-0.0, -0.0, 1.0], [1.0, 0.0, 0.0]]]
    """
    longitude, latitude = np.radians(lon_lat[:, 0]), np.radians(lon_lat[:, 1])
    sin_lon, cos_lon = np.sin(longitude), np.cos(longitude)
    sin_lat, cos_lat = np.sin(latitude), np.cos(latitude)
    rows = [
        [-sin_lon, cos_lon, np.zeros_like(sin_lon)],
        [-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat],
        [cos_lat * cos_lon, cos_lat * sin_lon, sin_lat],
    ]
    return np.moveaxis(np.array(rows), -1, 0)


def turned(covariance_m2: FloatArray, lon_lat: FloatArray) -> FloatArray:
    """Return a geocentric covariance, shape (3, 3), along east, north, up at a place, shape (2 or more,)."""
    turn = to_horizon(lon_lat[None])[0]
    horizon: FloatArray = turn @ covariance_m2 @ turn.T
    return horizon


def _converted(values: FloatArray, frame: pyproj.CRS, direction: TransformDirection) -> FloatArray:
    ellipsoid = frame.ellipsoid
    if ellipsoid is None:
        message = f"{crs_title(frame)} has no ellipsoid, so nothing can be moved in it. Name the CRS."
        raise FrameError(message)
    # PROJ's own conversion on the figure alone: no datum takes part, so none can be changed by it.
    figure = f"+a={ellipsoid.semi_major_metre!r} +b={ellipsoid.semi_minor_metre!r}"
    transformer = Transformer.from_pipeline(
        f"+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad +step +proj=cart {figure}"
    )
    first, second, third = np.asarray(values, dtype=float).T
    return np.column_stack(transformer.transform(first, second, third, direction=direction, errcheck=True))
