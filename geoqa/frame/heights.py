"""Height systems: ellipsoidal, or gravity-related in a vertical CRS, and whether two are one."""

import re
from dataclasses import dataclass

import pyproj
from pyproj.crs import CompoundCRS

from geoqa.errors import FrameError
from geoqa.frame.axes import crs_name, height_axis_unit, parse_crs
from geoqa.units import LinearUnit

ELLIPSOIDAL = "ellipsoidal"
NOT_STATED = "not stated"


@dataclass(frozen=True, eq=False)
class HeightSystem:
    """What heights count from.

    Attributes
    ----------
    name
        "ellipsoidal", "not stated", or the code of a vertical CRS (its name where it has none).
    vertical
        The vertical CRS; None for the two others.
    """

    name: str
    vertical: pyproj.CRS | None = None

    @property
    def is_stated(self) -> bool:
        """Return whether anything says what the heights count from."""
        return self.name != NOT_STATED

    @property
    def is_ellipsoidal(self) -> bool:
        """Return whether heights count from the ellipsoid."""
        return self.name == ELLIPSOIDAL

    @property
    def title(self) -> str:
        """Return code and name, for messages."""
        return self.name if self.vertical is None else f"{self.name} ({self.vertical.name})"


UNSTATED_HEIGHTS = HeightSystem(NOT_STATED)
ELLIPSOIDAL_HEIGHTS = HeightSystem(ELLIPSOIDAL)


def height_system(text: str, where: str) -> HeightSystem:
    """Return the height system that a text names: "ellipsoidal", or the code or WKT of a vertical CRS.

    Raises
    ------
    FrameError
        When it is a CRS of another kind, or counts downwards.
    """
    if text.strip().lower() == ELLIPSOIDAL:
        return ELLIPSOIDAL_HEIGHTS
    if text.strip().lower() == NOT_STATED:
        return UNSTATED_HEIGHTS
    crs = parse_crs(text, where)
    if not crs.is_vertical:
        message = (
            f"{where}: {text} ({crs.name}) is no vertical CRS. Name one, such as EPSG:7837, "
            f"or “{ELLIPSOIDAL}”."
        )
        raise FrameError(message)
    return of_vertical(crs, where)


def of_vertical(vertical: pyproj.CRS, where: str) -> HeightSystem:
    """Return the height system of a vertical CRS."""
    height_axis_unit(vertical, where)
    return HeightSystem(crs_name(vertical), vertical)


def same_height_datum(first: HeightSystem, second: HeightSystem) -> bool:
    """Return whether two stated systems count from one surface, in whatever unit.

    Examples
    --------
    >>> metres, feet = (height_system(code, "") for code in ("EPSG:5703", "EPSG:6360"))
    >>> same_height_datum(metres, feet)
    True
    """
    if first.vertical is None or second.vertical is None:
        return first.name == second.name
    return _datum_key(first.vertical) == _datum_key(second.vertical)


def counting_from(geographic: pyproj.CRS, system: HeightSystem) -> pyproj.CRS:
    """Return the CRS of longitude, latitude and heights of a system.

    Parameters
    ----------
    geographic
        With ellipsoidal height; it comes back as it is unless the heights are gravity-related.
    """
    if system.vertical is None:
        return geographic
    plan = geographic.to_2d()
    return CompoundCRS(f"{plan.name} + {system.vertical.name}", [plan, system.vertical])


def feet_of(system: HeightSystem, where: str) -> LinearUnit | None:
    """Return the unit of a vertical CRS that counts in feet, else None.

    One in metres names the datum only: most vertical datums have no code in feet, so that surveyors
    write the one in metres for heights in feet too (common practice).
    """
    if system.vertical is None:
        return None
    unit = height_axis_unit(system.vertical, where)
    return None if unit is LinearUnit.METRE else unit


def _datum_key(vertical: pyproj.CRS) -> str:
    definition = vertical.to_json_dict()
    datum = definition.get("datum") or definition["datum_ensemble"]
    # Names differ by punctuation between spellings of WKT.
    return re.sub(r"[^a-z0-9]", "", str(datum["name"]).lower())
