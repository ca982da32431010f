"""Where no checkpoint supports the map: the product outside the hull of the points that count."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from geoqa.numerics.arrays import FloatArray
from geoqa.records.assessment import Assessment


def hull(plan: FloatArray) -> BaseGeometry | None:
    """Return the convex hull of places, shape (n, 2), or None where they enclose nothing."""
    around = shapely.MultiPoint(plan).convex_hull
    return around if around.geom_type == "Polygon" and around.area > 0 else None


def product_area(assessment: Assessment) -> BaseGeometry:
    """Return the outline of the product, in the common frame, metres; empty where it is not known."""
    if len(assessment.mapped_area_m) < 3:
        return shapely.Polygon()
    return shapely.make_valid(shapely.Polygon(assessment.mapped_area_m))


def untested(assessment: Assessment, directions: Sequence[str]) -> BaseGeometry:
    """Return the part of the product that lies in no hull of points that count, in the common frame, metres.

    Parameters
    ----------
    directions
        plan, height or both; with both the hulls are joined. Empty where the outline is not known.
    """
    left = product_area(assessment)
    residuals = assessment.residuals
    for name, use in (("plan", residuals.horizontal), ("height", residuals.vertical)):
        tested = hull(residuals.survey_m[use.used, :2]) if name in directions else None
        left = left if tested is None else left.difference(tested)
    return left


def strokes(area: BaseGeometry, spacing: float) -> FloatArray:
    """Return the ends of parallel strokes that fill an area, rising to the right, shape (k, 2, 2).

    Parameters
    ----------
    spacing
        Distance between neighbours. Strokes lie where their distance from the origin of the coordinates is a
        multiple of it, so that they meet over the parts of an area.
    """
    if area.is_empty:
        return np.empty((0, 2, 2))
    west, south, east, north = area.bounds
    step = spacing * np.sqrt(2)
    rises = np.arange(np.ceil((south - east) / step), np.floor((north - west) / step) + 1) * step
    lines = shapely.linestrings([[[west, west + rise], [east, east + rise]] for rise in rises.tolist()])
    inside = shapely.get_parts(shapely.intersection(area, lines))
    kept = inside[shapely.get_type_id(inside) == shapely.GeometryType.LINESTRING]
    return shapely.get_coordinates(kept[~shapely.is_empty(kept)]).reshape(-1, 2, 2)
