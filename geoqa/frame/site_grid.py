"""Site coordinates: those of a map grid scaled about an origin to lengths on the ground, then moved.

    site = origin + scale · (grid − origin) + offset

Scale, origin and offset are given, never estimated: a scale fitted to the checkpoints would take away
what they are there to show.
"""

import numpy as np
import pyproj

from geoqa.errors import FrameError
from geoqa.frame.axes import crs_name
from geoqa.frame.datums import geographic
from geoqa.frame.projection import to_geographic
from geoqa.numerics.arrays import FloatArray
from geoqa.records.points import CoordinateStep
from geoqa.records.settings import SiteGrid

POINTS, PRODUCTS = "points", "products"
# Grids of countries and heights of sites make up less than this (common practice: 400 parts in a million
# on a UTM meridian, 157 for each 1000 m of height).
_LARGEST_DEPARTURE = 0.001
# Two factors that are nearer than this are one (parts of 1).
_ALIKE = 20e-6


def to_grid(plan_m: FloatArray, site: SiteGrid) -> FloatArray:
    """Return positions of the map grid, shape (n, 2), metres, from site coordinates.

    Examples
    --------
    >>> to_grid(np.array([[1_010.0, 2_000.0]]), SiteGrid(scale=1.0005, offset_m=(9.5, -1.0)))
    array([[1000., 2000.]])
    """
    origin, offset = np.array(site.origin_m), np.array(site.offset_m)
    grid: FloatArray = origin + (plan_m - offset - origin) / site.scale
    return grid


def to_site(plan_m: FloatArray, site: SiteGrid) -> FloatArray:
    """Return site coordinates, shape (n, 2), metres; the inverse of `to_grid`."""
    origin, offset = np.array(site.origin_m), np.array(site.offset_m)
    local: FloatArray = origin + site.scale * (plan_m - origin) + offset
    return local


def refuse_degrees(crs: pyproj.CRS, where: str) -> None:
    """Raise `FrameError` where a CRS counts in degrees, which no scale turns into site coordinates."""
    if crs.is_geographic:
        message = (
            f"{where}: site coordinates are those of a map grid, scaled, and {crs_name(crs)} counts in "
            "degrees. Name the map grid, or take the file out of site_grid.applies_to."
        )
        raise FrameError(message)


def site_step(before_m: FloatArray, after_m: FloatArray, site: SiteGrid, *, inverse: bool) -> CoordinateStep:
    """Return the step between map grid and site coordinates; heights stay."""
    way = "site to grid" if inverse else "grid to site"
    numbers = ", ".join(f"{name} {one:g}, {two:g} m" for name, (one, two) in _pairs(site))
    change = np.column_stack([after_m - before_m, np.zeros(len(before_m))])
    return CoordinateStep("site grid", f"{way}: scale {site.scale:.10g}, {numbers}", None, change)


def _pairs(site: SiteGrid) -> tuple[tuple[str, tuple[float, float]], ...]:
    return ("origin", site.origin_m), ("offset", site.offset_m)


def remarks(site: SiteGrid, crs: pyproj.CRS, plan: FloatArray, height_m: FloatArray) -> tuple[str, ...]:
    """Return warnings on a scale that is larger than any site needs, or the inverse of what fits here.

    Parameters
    ----------
    plan : array, shape (n, 2)
        Positions in the map grid, in its unit; n > 0.
    height_m : array, shape (n,)
        NaN where a point has none. The heights of gravity-related systems serve: 30 m are 5 parts in a
        million.
    """
    told = []
    if abs(site.scale - 1.0) > _LARGEST_DEPARTURE:
        told.append(
            f"site_grid.scale is {site.scale:.8g}, {abs(site.scale - 1) * 1e6:.0f} parts in a million "
            "from 1: more than grids of countries and heights of sites make up. Check the number."
        )
    factor = combined_factor(crs, plan.mean(axis=0), _middle(height_m))
    if factor is not None and abs(site.scale - factor) < _ALIKE < abs(site.scale * factor - 1.0):
        told.append(
            f"site_grid.scale is {site.scale:.8g}; the combined factor from ground to grid is {factor:.8f} "
            f"here, and the scale leads from grid to ground, where {1 / factor:.8f} fits. Check whether the "
            "inverse is meant."
        )
    return tuple(told)


def _middle(height_m: FloatArray) -> float:
    known = height_m[np.isfinite(height_m)]
    return float(np.median(known)) if len(known) else 0.0


def combined_factor(crs: pyproj.CRS, place: FloatArray, height_m: float) -> float | None:
    """Return the length in a map grid of 1 m on the ground, or None where the grid is tied to no place.

    The scale of the projection times R / (R + h).

    Parameters
    ----------
    place : array, shape (2,)
        In the grid, in its unit.
    """
    if crs.geodetic_crs is None:
        return None
    longitude, latitude = to_geographic(place[None], crs)[0]
    if not np.isfinite([longitude, latitude]).all():
        return None
    ellipsoid = geographic(crs, crs.name).ellipsoid
    if ellipsoid is None:
        return None
    factors = pyproj.Proj(crs).get_factors(longitude, latitude)
    radius_m = _gauss_radius_m(ellipsoid.semi_major_metre, ellipsoid.inverse_flattening, latitude)
    return float(factors.meridional_scale) * radius_m / (radius_m + height_m)


def _gauss_radius_m(axis: float, inverse: float, latitude_deg: float) -> float:
    """Return the mean radius of curvature, √(M N)."""
    eccentricity_2 = (2 - 1 / inverse) / inverse if inverse else 0.0
    flat = 1.0 - eccentricity_2 * np.sin(np.radians(latitude_deg)) ** 2
    return float(axis * np.sqrt(1.0 - eccentricity_2) / flat)
