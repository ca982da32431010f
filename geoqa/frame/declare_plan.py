"""What is declared for the plan of the products: the CRS to measure in, and coordinates of the site."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import PurePath

import numpy as np
import pyproj

from geoqa.errors import FrameError
from geoqa.frame.axes import crs_name, equal_crs
from geoqa.frame.declare_heights import HeightsOfPoints
from geoqa.frame.ground import coarse_grid, first_place, local_grid_at, why_no_ground_metres
from geoqa.frame.rasters import ground_axes_m
from geoqa.frame.site_grid import PRODUCTS, refuse_degrees
from geoqa.numerics.arrays import FloatArray
from geoqa.records.measurements import RasterInfo
from geoqa.records.points import CommonFrame
from geoqa.records.settings import SiteGrid


def measuring_crs(rasters: Sequence[RasterInfo], said: list[str]) -> pyproj.CRS:
    """Return the first CRS of the rasters that counts metres on the ground, or a grid around the site.

    Parameters
    ----------
    rasters
        One or two, the leading one first.
    said
        Sentences on what was taken to be so are added to it.
    """
    for info in rasters:
        if why_no_ground_metres(info.crs, _middle(info)) is None:
            return info.crs
    leading = rasters[0]
    return _around(leading.crs, _middle(leading), PurePath(leading.path).name, said)


def measuring_crs_of_points(crs: pyproj.CRS, points: HeightsOfPoints, said: list[str]) -> pyproj.CRS:
    """Return the CRS of the points where it counts metres on the ground, else a grid around the first."""
    place = first_place(points.surveys, points.plan_unit(), crs)
    if place is None or why_no_ground_metres(crs, place) is None:
        return crs
    return _around(crs, place, "points.crs", said)


def _around(crs: pyproj.CRS, place: FloatArray, where: str, said: list[str]) -> pyproj.CRS:
    grid = local_grid_at(crs, place, where)
    said.append(
        f"{crs_name(crs)} does not count metres on the ground: positions and residuals are in a "
        f"{grid.name[0].lower()}{grid.name[1:]}, east, north and up at the site."
    )
    return grid


def _middle(info: RasterInfo) -> FloatArray:
    rows, cols = info.shape
    t = info.transform
    return np.array([t.a * cols + t.b * rows, t.d * cols + t.e * rows]) / 2.0 + (t.c, t.f)


def on_ground(info: RasterInfo, frame: CommonFrame) -> RasterInfo:
    """Return what is known of a raster, with ground lengths of its cells where its CRS gives none."""
    name = PurePath(info.path).name
    why = why_no_ground_metres(info.crs, _middle(info))
    if why is None:
        told = coarse_grid(info.crs, _middle(info))
        return info if told is None else replace(info, notes=(*info.notes, f"{name}: {told}"))
    advice = (
        f"{name}: {why}. Its cells are measured on the ground; deliver the product in a survey grid: a UTM "
        "zone or the grid of the country."
    )
    return replace(info, ground_axes_m=ground_axes_m(info, frame), notes=(*info.notes, advice))


def site_of_products(
    site: SiteGrid | None, declared: pyproj.CRS, crs: pyproj.CRS, said: list[str]
) -> SiteGrid | None:
    """Return the site grid where the products are in it.

    Raises
    ------
    FrameError
        When the products are not declared in a survey grid.
    """
    if site is None or PRODUCTS not in site.applies_to:
        return None
    refuse_degrees(declared, "The products")
    if not equal_crs(declared, crs):
        message = (
            f"The products are in {crs_name(declared)}, which does not count metres on the ground, and "
            "coordinates of a site are those of a survey grid, scaled. Take “products” out of "
            "site_grid.applies_to, or name the survey grid with orthomosaic.crs or elevation.crs."
        )
        raise FrameError(message)
    said.append(
        f"The products are taken to be in coordinates of the site, scaled from {crs_name(crs)} as "
        "[site_grid] says; all positions are given in these."
    )
    return site
