"""A position of the base, as given in whatever numbers, on its datum: longitude, latitude, height."""

import re
from dataclasses import dataclass

import numpy as np
import pyproj

from geoqa.errors import FrameError
from geoqa.frame.axes import CrsParts, crs_title, parse_crs, parts, plan_unit
from geoqa.frame.datums import counts_from_greenwich, datum_name, geographic, is_dynamic
from geoqa.frame.geocentric import from_geocentric, turned
from geoqa.frame.projection import to_geographic
from geoqa.numerics.arrays import FloatArray
from geoqa.records.base import GivenPosition, PositionKind
from geoqa.units import unit_of_length

# Geocentric positions are no closer to the middle of the Earth, nor further, in metres.
_NEAR_M, _FAR_M = 6.33e6, 6.42e6


@dataclass(frozen=True, eq=False)
class Placed:
    """The mark under the base, on its datum.

    Attributes
    ----------
    given
        As the settings or a file give it.
    frame
        Geographic CRS with height.
    place : array, shape (1, 3)
        Longitude, latitude in degrees, ellipsoidal height in metres.
    covariance_m2 : array, shape (3, 3), or None
        East, north, up.
    assumptions
        What was taken to be so.
    """

    given: GivenPosition
    frame: pyproj.CRS
    place: FloatArray
    covariance_m2: FloatArray | None
    assumptions: tuple[str, ...]

    @property
    def title(self) -> str:
        """Return key and frame, for messages."""
        return f"{self.given.key} is in {datum_name(self.frame)}"


def placed(given: GivenPosition, antenna_height_m: float | None) -> Placed:
    """Return the position of the mark.

    Parameters
    ----------
    antenna_height_m
        Of the antenna reference point above the mark; taken off along the normal of the ellipsoid where
        the position is that of the antenna.

    Raises
    ------
    FrameError
        When nothing names the frame or, in a frame that moves, the epoch, or when the numbers are no
        position in the CRS.
    """
    held = _held(given)
    frame = geographic(held.horizontal, f"{given.key}.crs")
    if not counts_from_greenwich(frame):
        message = (
            f"{given.key}.crs: {crs_title(frame)} does not count in degrees from Greenwich. Give the "
            "position in a CRS that does, or geocentric."
        )
        raise FrameError(message)
    _refuse_without_epoch(given, frame)
    place = _place(given, held, frame)
    if given.on_antenna and antenna_height_m is not None:
        place = place - (0.0, 0.0, antenna_height_m)
    covariance = given.covariance_m2
    if covariance is not None and given.covariance_geocentric:
        covariance = turned(covariance, place[0])
    return Placed(given, frame, place, covariance, tuple(_taken(given, held)))


def remark_on_frame(placed: Placed) -> tuple[str, ...]:
    """Return a message where a file remarks another global frame than the settings name.

    IGS frames are counted like the ITRF that they are aligned to: IGS20 and IGb20 are ITRF2020.
    """
    given = placed.given
    remarked, named = _global_frame(given.frame_remark or ""), _global_frame(datum_name(placed.frame))
    if remarked is None or named is None or remarked == named:
        return ()
    return (
        f"{given.key}: {given.source} remarks the reference frame “{given.frame_remark}”, and the settings "
        f"name {datum_name(placed.frame)}. Check {given.key}.crs.",
    )


def _global_frame(text: str) -> int | None:
    """Return the year that a global frame is counted by, or None."""
    found = re.search(r"\b(?:ITRF|IGS|IGb)\s?(\d{4}|\d{2})\b", text)
    if found is None:
        return None
    year = int(found[1])
    return year if year > 1900 else year + (2000 if year <= 50 else 1900)


def _held(given: GivenPosition) -> CrsParts:
    if given.crs is None:
        remark = "" if given.frame_remark is None else f" {given.source} remarks “{given.frame_remark}”."
        message = (
            f"{given.key}: nothing says in which reference frame the position is.{remark} Name it by its "
            f"code with {given.key}.crs, or with base.crs for both positions (such as EPSG:9989 for "
            "ITRF2020)."
        )
        raise FrameError(message)
    where = f"{given.key}.crs"
    crs = parse_crs(given.crs, where)
    if crs.is_geocentric:
        if given.kind is PositionKind.PROJECTED:
            message = f"{where}: {crs_title(crs)} has no easting and northing. Name the grid of the position."
            raise FrameError(message)
        return CrsParts(geographic(crs, where).to_2d(), None, ellipsoidal=True)
    held = parts(crs, where)
    if held.vertical is not None:
        message = (
            f"{where}: {crs_title(crs)} carries gravity-related heights. A base correction is formed between "
            "heights above the ellipsoid: give these, and leave the vertical part of the CRS out."
        )
        raise FrameError(message)
    if given.kind is PositionKind.PROJECTED and not held.horizontal.is_projected:
        message = (
            f"{where}: {crs_title(held.horizontal)} is no grid, and the position is given by easting and "
            "northing. Name the grid, or give latitude and longitude."
        )
        raise FrameError(message)
    return held


def _refuse_without_epoch(given: GivenPosition, frame: pyproj.CRS) -> None:
    if given.epoch is None and is_dynamic(frame):
        message = (
            f"{given.key}: {datum_name(frame)} is dynamic: coordinates move with time, and no epoch is "
            f"given. Set {given.key}.epoch, or base.epoch for both positions, to the decimal year they refer "
            "to, such as 2026.45."
        )
        raise FrameError(message)


def _place(given: GivenPosition, held: CrsParts, frame: pyproj.CRS) -> FloatArray:
    numbers = given.numbers[None]
    if given.kind is PositionKind.GEOCENTRIC:
        radius = float(np.linalg.norm(numbers))
        if not _NEAR_M <= radius <= _FAR_M:
            message = (
                f"{given.key}: x, y, z lie {radius / 1000:.0f} km from the middle of the Earth, not on it. "
                "Give them in metres."
            )
            raise FrameError(message)
        return from_geocentric(numbers, frame)
    if given.kind is PositionKind.GEOGRAPHIC:
        return numbers
    lon_lat = to_geographic(numbers[:, :2], held.horizontal)
    if not np.isfinite(lon_lat).all():
        message = (
            f"{given.key}: easting {numbers[0, 0]:g}, northing {numbers[0, 1]:g} lies outside what "
            f"{crs_title(held.horizontal)} can hold. Mend the numbers, or the CRS."
        )
        raise FrameError(message)
    return np.column_stack([lon_lat, numbers[:, 2:] * _height_unit_m(given)])


def _height_unit_m(given: GivenPosition) -> float:
    """Return metres in one unit of the height: that of the CRS's third axis, else of the first two."""
    where = f"{given.key}.crs"
    crs = parse_crs(str(given.crs), where)
    if len(crs.axis_info) == 3:
        unit = unit_of_length(crs.axis_info[2].unit_conversion_factor)
    else:
        unit = plan_unit(parts(crs, where).horizontal, where)
    if unit is None:
        message = (
            f"{where}: {crs_title(crs)} counts heights in an unknown unit. Give the position geocentric."
        )
        raise FrameError(message)
    return unit.metres


def _taken(given: GivenPosition, held: CrsParts) -> list[str]:
    if given.kind is PositionKind.GEOCENTRIC or held.ellipsoidal:
        return []
    return [f"{given.key}: the height is taken to be above the ellipsoid, since {given.crs} names no height."]
