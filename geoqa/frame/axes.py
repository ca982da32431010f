"""What a coordinate reference system says of its axes: parts, directions, units."""

import warnings
from dataclasses import dataclass

import pyproj
from pyproj.crs import GeographicCRS
from pyproj.exceptions import CRSError

from geoqa.errors import FrameError, InputError
from geoqa.units import LinearUnit, unit_of_length

_DEGREE = 0.017453292519943295


@dataclass(frozen=True, eq=False)
class CrsParts:
    """A coordinate reference system taken apart.

    Attributes
    ----------
    horizontal
        2D CRS: projected, geographic or local.
    vertical
        Vertical CRS of a compound one, else None.
    ellipsoidal
        True where the third axis is the ellipsoidal height.
    """

    horizontal: pyproj.CRS
    vertical: pyproj.CRS | None = None
    ellipsoidal: bool = False


def parse_crs(text: str, where: str) -> pyproj.CRS:
    """Return the coordinate reference system that a text names.

    Parameters
    ----------
    text
        A code (`EPSG:25833`, `EPSG:25833+5773`), WKT or a PROJ string.
    where
        File or key, for the message.

    Raises
    ------
    InputError
        When PROJ does not know it.

    Examples
    --------
    >>> parse_crs("EPSG:25833", "points.crs").name
    'ETRS89 / UTM zone 33N'
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", FutureWarning)  # `+init=` is old, not wrong
            return pyproj.CRS.from_user_input(text)
    except CRSError:
        shown = text if len(text) <= 60 else f"{text[:57]}…"
        message = (
            f"{where}: “{shown}” is no coordinate reference system that PROJ knows (version "
            f"{pyproj.proj_version_str}). Write a code such as EPSG:25833, EPSG:25833+7837 with heights, or "
            "WKT."
        )
        raise InputError(message) from None


def parts(crs: pyproj.CRS, where: str) -> CrsParts:
    """Return the horizontal and the vertical part.

    Parameters of a transformation that a CRS carries along (`+towgs84`, `+geoidgrids`) are left out:
    which operation is used is decided in one place, `geoqa.frame.operations`.

    Raises
    ------
    FrameError
        When there is no horizontal part in plan coordinates.
    """
    if crs.is_bound and crs.source_crs is not None:
        return parts(crs.source_crs, where)
    if crs.is_compound:
        first, second = crs.sub_crs_list[:2]
        vertical = second.source_crs if second.is_bound else second
        return CrsParts(parts(first, where).horizontal, vertical)
    if crs.is_geocentric:
        # It names the datum; longitude, latitude and ellipsoidal height are the same points.
        plan = pyproj.CRS.from_wkt(GeographicCRS(name=crs.name, datum=crs.datum).to_wkt())
        return CrsParts(plan, None, ellipsoidal=True)
    if crs.is_vertical:
        message = (
            f"{where}: {crs_title(crs)} is a vertical CRS and gives no easting and northing. "
            "Name a projected or geographic one."
        )
        raise FrameError(message)
    if len(crs.axis_info) == 3:
        return CrsParts(crs.to_2d(), None, ellipsoidal=True)
    return CrsParts(crs)


def crs_name(crs: pyproj.CRS) -> str:
    """Return the code of a CRS, or its name where it has none that is certain.

    Examples
    --------
    >>> crs_name(pyproj.CRS("EPSG:25833"))
    'EPSG:25833'
    """
    if crs.is_compound:
        return "+".join(crs_name(part) for part in crs.sub_crs_list)
    # PROJ also offers codes that merely resemble a definition, with a datum that the file never named.
    authority = crs.to_authority(min_confidence=100)
    return ":".join(authority) if authority else str(crs.name)


def crs_title(crs: pyproj.CRS) -> str:
    """Return code and name of a CRS, for messages.

    Examples
    --------
    >>> crs_title(pyproj.CRS("EPSG:25833"))
    'EPSG:25833 (ETRS89 / UTM zone 33N)'
    """
    code = crs_name(crs)
    return code if code == crs.name else f"{code} ({crs.name})"


def equal_crs(first: pyproj.CRS, second: pyproj.CRS) -> bool:
    """Return whether two horizontal CRSs are the same, whatever their spelling and axis order."""
    return bool(first.equals(second, ignore_axis_order=True))


def is_local(crs: pyproj.CRS) -> bool:
    """Return whether a CRS is a local grid that is tied to no place on Earth."""
    return crs.geodetic_crs is None


def plan_unit(crs: pyproj.CRS, where: str) -> LinearUnit | None:
    """Return the unit of easting and northing, or None where a CRS counts in degrees.

    Raises
    ------
    FrameError
        When it counts in another unit, or towards west or south.
    """
    if crs.is_geographic:
        if abs(crs.axis_info[0].unit_conversion_factor - _DEGREE) > 1e-12:
            message = (
                f"{where}: {crs_title(crs)} counts in {crs.axis_info[0].unit_name}. "
                "Give longitude and latitude in degrees, in a CRS that counts in degrees."
            )
            raise FrameError(message)
        return None
    towards = [axis for axis in crs.axis_info if axis.name.lower() in ("westing", "southing")]
    if towards:
        message = (
            f"{where}: {crs_title(crs)} counts {towards[0].name.lower()}. "
            "Bring the file into a CRS with easting and northing."
        )
        raise FrameError(message)
    return _known_unit(crs, where)


def height_axis_unit(vertical: pyproj.CRS, where: str) -> LinearUnit:
    """Return the unit of a vertical CRS; one that counts downwards is refused with `FrameError`."""
    if vertical.axis_info[0].direction == "down":
        message = f"{where}: {crs_title(vertical)} counts depths, downwards. Name a vertical CRS of heights."
        raise FrameError(message)
    return _known_unit(vertical, where)


def _known_unit(crs: pyproj.CRS, where: str) -> LinearUnit:
    axis = crs.axis_info[0]
    unit = unit_of_length(axis.unit_conversion_factor)
    if unit is None:
        message = (
            f"{where}: {crs_title(crs)} counts in {axis.unit_name}. "
            f"Bring the file into a CRS in one of {', '.join(LinearUnit)}."
        )
        raise FrameError(message)
    return unit


def local_grid(unit: LinearUnit) -> pyproj.CRS:
    """Return a CRS of easting and northing that is tied to no place on Earth."""
    return pyproj.CRS.from_wkt(
        'ENGCRS["Local grid",EDATUM["Local grid"],CS[Cartesian,2],'
        'AXIS["easting (E)",east,ORDER[1]],AXIS["northing (N)",north,ORDER[2]],'
        f'LENGTHUNIT["{unit.value}",{unit.metres!r}]]'
    )
