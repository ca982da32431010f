"""Points that lie off the map: which reading of their coordinates would bring them onto it."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pyproj
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import UTMConversion
from pyproj.exceptions import CRSError, ProjError

from geoqa.frame.axes import crs_name
from geoqa.frame.projection import convert
from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.numerics.polygons import inside
from geoqa.units import LinearUnit

# Share of the points that a reading must bring onto the map, and that may lie there as read: common practice.
SHARE = 0.8
_FALSE_NORTHING_M = 1e7


@dataclass(frozen=True, eq=False)
class Reading:
    """Another way to read the coordinates of the points, and which of them it brings onto the map."""

    cause: str
    words: str
    advice: str
    on_map: BoolArray

    @property
    def share(self) -> float:
        """Return the share of the points that it brings onto the map."""
        return float(self.on_map.mean()) if len(self.on_map) else 0.0


def readings(plan_m: FloatArray, crs: pyproj.CRS, unit: LinearUnit, area_m: FloatArray) -> list[Reading]:
    """Return every other reading of the coordinates, with the points that it brings onto the map.

    Parameters
    ----------
    plan_m : array, shape (n, 2)
        As read, in the common frame, all known.
    area_m : array, shape (k, 2)
        Outline of the map, k ≥ 3.
    """
    return [
        Reading(cause, words, advice, inside(np.where(np.isfinite(moved), moved, 1e15), area_m))
        for cause, words, advice, moved in _moved(plan_m, crs, unit)
    ]


def _moved(
    plan_m: FloatArray, crs: pyproj.CRS, unit: LinearUnit
) -> Iterator[tuple[str, str, str, FloatArray]]:
    yield (
        "axis-order",
        "easting and northing were exchanged",
        "Name the columns the other way round under [points.columns], and run again.",
        plan_m[:, ::-1],
    )
    for factor, words in ((0.3048, "feet were read as metres"), (1 / 0.3048, "metres were read as feet")):
        yield (
            "linear-unit",
            words,
            "State the unit of the points (points.unit), and run again.",
            plan_m * factor,
        )
    for code, words, moved in _zones(plan_m, crs, unit):
        yield (
            "projection-zone",
            words,
            f"Name the CRS of the points (points.crs = “{code}”), and run again.",
            moved,
        )


def _zones(plan_m: FloatArray, crs: pyproj.CRS, unit: LinearUnit) -> Iterator[tuple[str, str, FloatArray]]:
    """Yield the points read in the neighbouring zones, and on the other hemisphere, of a UTM CRS."""
    zone = crs.utm_zone
    if zone is None:
        return
    number, hemisphere = int(zone[:-1]), zone[-1]
    for step in (-1, 1, -2, 2):
        other = (number + step - 1) % 60 + 1
        source = _same_datum_zone(crs, other, hemisphere)
        if source is None:
            continue
        try:
            moved = convert(plan_m / unit.metres, source, crs) * unit.metres
        except ProjError:
            continue
        yield crs_name(source), f"they are in zone {other}{hemisphere} and were read in zone {zone}", moved
    sign = 1.0 if hemisphere == "S" else -1.0
    flipped = "N" if hemisphere == "S" else "S"
    source = _same_datum_zone(crs, number, flipped)
    yield (
        crs_name(source) if source is not None else f"UTM zone {number}{flipped}",
        f"they are counted on the other hemisphere ({number}{flipped})",
        plan_m + np.array([0.0, sign * _FALSE_NORTHING_M]),
    )


def _same_datum_zone(crs: pyproj.CRS, number: int, hemisphere: str) -> pyproj.CRS | None:
    """Return the UTM zone of this number on the same datum; None where it cannot be made."""
    return _zone(crs.to_wkt(), str(crs.utm_zone), number, hemisphere)


@lru_cache(maxsize=32)
def _zone(wkt: str, zone: str, number: int, hemisphere: str) -> pyproj.CRS | None:
    crs = pyproj.CRS(wkt)
    base = crs.geodetic_crs
    if base is None:
        return None
    try:
        return pyproj.CRS(crs.name.replace(f"zone {zone}", f"zone {number}{hemisphere}"))
    except CRSError:
        return _made(base, number, hemisphere)


def _made(base: pyproj.CRS, number: int, hemisphere: str) -> pyproj.CRS | None:
    try:
        return ProjectedCRS(UTMConversion(str(number), hemisphere), geodetic_crs=base.to_2d())
    except CRSError:
        return None
