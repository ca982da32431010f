"""The exact steps of a file of points: units and projections."""

from collections.abc import Iterator

import numpy as np
import pyproj

from geoqa.frame.axes import crs_name, equal_crs
from geoqa.frame.declare import Products
from geoqa.frame.declare_points import StatedPoints
from geoqa.records.points import CoordinateStep
from geoqa.units import LinearUnit


def ratio(unit: LinearUnit | None, unit_of_crs: LinearUnit | None) -> float:
    """Return the length of a unit in that of a CRS; 1 where either counts in degrees."""
    if unit is None or unit_of_crs is None or unit is unit_of_crs:
        return 1.0
    return unit.metres / unit_of_crs.metres


def unit_step(stated: StatedPoints) -> Iterator[CoordinateStep]:
    """Yield the step to metres where the file counts in feet."""
    metre = LinearUnit.METRE
    changed = []
    if stated.unit not in (None, metre):
        changed.append(f"easting and northing from {stated.unit}")
    if stated.has_heights and stated.height_unit is not metre:
        changed.append(f"heights from {stated.height_unit}")
    if changed:
        operation = f"{', '.join(changed)}, to {metre}"
        yield CoordinateStep("unit", operation, None, np.full((len(stated.survey), 3), np.nan))


def projection_step(stated: StatedPoints, products: Products) -> Iterator[CoordinateStep]:
    """Yield the step from the CRS of the points to that of the frame, where the two differ."""
    source, target = stated.crs, products.frame.crs
    if equal_crs(source, target):
        return
    names = [f"inverse of {_conversion(source)}"] if source.is_projected else []
    names += [_conversion(target)] if target.is_projected else []
    operation = f"{crs_name(source)} to {crs_name(target)}: {', '.join(names) or 'longitude and latitude'}"
    yield CoordinateStep("projection change", operation, None, np.full((len(stated.survey), 3), np.nan))


def _conversion(crs: pyproj.CRS) -> str:
    operation = crs.coordinate_operation
    if operation is None:
        return str(crs.name)
    return str(operation.method_name if operation.name in ("unnamed", "unknown") else operation.name)
