"""The first points of a file in words, for the user to see how it was understood."""

import numpy as np
import pyproj

from geoqa.records.points import SurveyPoints
from geoqa.units import LinearUnit

# A tenth of a millimetre beside ten million metres, and on the ground in degrees.
_DIGITS = 12


def first_points(points: SurveyPoints, count: int = 3) -> tuple[str, ...]:
    """Return a line for each of the first points: id, coordinates by name, their unit and the CRS.

    Numbers, units and CRS are those of the file, before any computation; what the file does not
    state is said to be so. A point without a height is plan only.

    Examples
    --------
    The line of a point in a table whose header says metres:

        CP01: easting 431250.118 m, northing 5412380.472 m, height 212.34 m (not in the file: CRS)
    """
    return tuple([_line(points, row) for row in range(min(count, len(points)))])


def _line(points: SurveyPoints, row: int) -> str:
    names = ("longitude", "latitude") if points.geographic else ("easting", "northing")
    first, second, height = points.coordinates[row].tolist()
    unit = "°" if points.geographic else _unit(points.unit)
    plan = ", ".join(
        f"{name} {value:.{_DIGITS}g}{unit}" for name, value in zip(names, (first, second), strict=True)
    )
    flat = bool(np.isnan(height))
    level = "no height" if flat else f"height {height:.{_DIGITS}g}{_unit(points.height_unit)}"
    return f"{points.ids[row]}: {plan}, {level} ({_about(points, flat=flat)})"


def _unit(unit: LinearUnit | None) -> str:
    return "" if unit is None else f" {unit.symbol}"


def _about(points: SurveyPoints, *, flat: bool) -> str:
    """Return the CRS, and what the file does not state."""
    missing = []
    if points.unit is None and not points.geographic:
        missing.append("unit")
    if points.height_unit is None and not flat:
        missing.append("unit of the height")
    if points.crs is None:
        missing.append("CRS")
    said = [] if points.crs is None else [_crs(points.crs)]
    if missing:
        said.append(f"not in the file: {', '.join(missing)}")
    return "; ".join(said)


def _crs(crs: pyproj.CRS) -> str:
    authority = crs.to_authority(min_confidence=100)
    return f"{crs.name}, {':'.join(authority)}" if authority else str(crs.name)
