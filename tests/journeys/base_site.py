"""An invented site whose base was taken to stand a few metres from where it does.

ETRS89 / UTM zone 32N with ellipsoidal heights. What rests on the assumed position is moved by hand, in
geocentric coordinates and closed form; the change over the 200 m of the site is below 0.1 mm.
"""

import numpy as np
import pyproj

from tests.frame import ecef_by_hand as hand
from tests.scenes import ORIGIN

FRAME, GRID = "EPSG:4937", "EPSG:25832"
# Where everything is laid out: the corner of the rasters is that of tests.scenes.
CENTRE = np.array([ORIGIN[0] + 100.0, ORIGIN[1] - 100.0])
LEVEL_M = 411.0
SHIFT_ENU = np.array([1.85, -1.15, 2.60])
SIGMA = "[0.008, 0.008, 0.02]"
ERROR = np.array([0.021, -0.013, 0.034])

_GRID = pyproj.CRS(GRID)
_TO_GRID = pyproj.Transformer.from_crs(_GRID.geodetic_crs, _GRID, always_xy=True)


def to_grid(place):
    """Longitude, latitude, height to easting, northing, height."""
    return np.array([*_TO_GRID.transform(place[0], place[1]), place[2]])


def to_degrees(position):
    """Easting, northing, height to longitude, latitude, height."""
    return np.array([*_TO_GRID.transform(position[0], position[1], direction="INVERSE"), position[2]])


PRECISE = to_degrees(np.array([*CENTRE, LEVEL_M + 1.5]))
SHIFT_M = hand.horizon(PRECISE).T @ SHIFT_ENU
ASSUMED = hand.geographic(hand.geocentric(PRECISE) - SHIFT_M)
# What easting, northing and height lack on the site.
LACKING = to_grid(PRECISE) - to_grid(ASSUMED)


def as_measured(position, use):
    """Return a true position (easting, northing, height) as it comes out with a base."""
    if use != "assumed":
        return np.asarray(position)
    return to_grid(hand.geographic(hand.geocentric(to_degrees(position)) - SHIFT_M))


def position_words(place, sigma=""):
    """Return a position of the settings."""
    return f"{{ latitude = {place[1]:.12f}, longitude = {place[0]:.12f}, height = {place[2]:.5f}{sigma} }}"


def base_words(points_use, products_use, *, sigma=f", sigma_m = {SIGMA}"):
    """Return the table [base] of the settings."""
    return (
        f'[base]\ncrs = "{FRAME}"\nassumed = {position_words(ASSUMED)}\n'
        f"precise = {position_words(PRECISE, sigma)}\n"
        f'points_use = "{points_use}"\nproducts_use = "{products_use}"\n'
    )


def ground(east, north):
    """Return the true height of the ground: a plane that nobody would call flat."""
    return LEVEL_M + 0.012 * (east - CENTRE[0]) - 0.007 * (north - CENTRE[1])
