"""Whether a CRS counts metres on the ground, and the grid to measure in where it does not."""

from collections.abc import Sequence

import numpy as np
import pyproj
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import TransverseMercatorConversion
from pyproj.crs.coordinate_system import Cartesian2DCS

from geoqa.errors import FrameError
from geoqa.frame.axes import crs_name, is_local, plan_unit
from geoqa.frame.datums import geographic
from geoqa.frame.operations import change_m
from geoqa.frame.projection import from_geographic, to_geographic
from geoqa.numerics.arrays import FloatArray
from geoqa.records.points import SurveyPoints
from geoqa.units import LinearUnit

# EPSG method 1024: a sphere's formulas on an ellipsoid, made for display.
_WEB_MERCATOR = "Popular Visualisation Pseudo Mercator"
# Survey grids of countries stay well within this, Mercator maps of the world do not (1/cos φ).
_SURVEY_STRETCH = 0.01
# Grids of continents stay within this.
_LARGEST_STRETCH = 0.2
# Half the baseline of the numerical derivative, in metres.
_HALF_STEP_M = 50.0
# Decimals of a degree: the grid of a site does not change with the last cell of its raster.
_DECIMALS = 4


def stretch(crs: pyproj.CRS, place: FloatArray) -> float | None:
    """Return how much longer lengths are in a projected CRS than on the ellipsoid, at the most, minus 1.

    Parameters
    ----------
    place : array, shape (2,)
        Easting and northing in the unit of the CRS.

    Returns
    -------
    float or None
        The departure from 1 that is largest by amount; None where the CRS has no place on the Earth there.
    """
    unit = plan_unit(crs, "")
    if is_local(crs) or unit is None:
        return None
    half = _HALF_STEP_M / unit.metres
    corners = place + half * np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])
    lon_lat = to_geographic(corners, crs)
    if not np.isfinite(lon_lat).all():
        return None
    ground = np.column_stack([lon_lat, np.zeros(4)])
    along = np.column_stack([change_m(ground[[1]], ground[[0]])[0], change_m(ground[[3]], ground[[2]])[0]])
    lengths = np.linalg.svd(along[:2] / (2 * _HALF_STEP_M), compute_uv=False)
    departures = 1.0 / lengths - 1.0
    return float(departures[np.abs(departures).argmax()])


def why_no_ground_metres(crs: pyproj.CRS, place: FloatArray) -> str | None:
    """Return why lengths cannot be measured in a CRS at a place, as the end of a sentence, or None.

    Examples
    --------
    >>> why_no_ground_metres(pyproj.CRS("EPSG:4258"), np.array([10.0, 50.0]))
    'EPSG:4258 counts in degrees'
    """
    if crs.is_geographic:
        return f"{crs_name(crs)} counts in degrees"
    method = "" if crs.coordinate_operation is None else str(crs.coordinate_operation.method_name)
    departure = stretch(crs, place) or 0.0
    largest = _SURVEY_STRETCH if method.startswith("Mercator") else _LARGEST_STRETCH
    if method != _WEB_MERCATOR and abs(departure) <= largest:
        return None
    return f"{crs_name(crs)} is made for display and stretches lengths by {100 * departure:.1f} % here"


def coarse_grid(crs: pyproj.CRS, place: FloatArray) -> str | None:
    """Return a sentence where lengths in a CRS are more than 1 % off those on the ground, else None."""
    departure = stretch(crs, place)
    if departure is None or abs(departure) <= _SURVEY_STRETCH:
        return None
    word = "longer" if departure > 0 else "shorter"
    return (
        f"Lengths in {crs_name(crs)} are {100 * abs(departure):.1f} % {word} than on the ground here, and so "
        "are residuals. Deliver the product in a survey grid: a UTM zone or the grid of the country."
    )


def local_grid_at(crs: pyproj.CRS, place: FloatArray, where: str) -> pyproj.CRS:
    """Return a transverse Mercator grid in metres around a place, on the datum of a CRS.

    Its scale is 1 on the meridian of the place and grows by 1.2 parts in a million 10 km east or west
    of it, its north turns by tan φ · distance / R off true north; there and back is exact.

    Parameters
    ----------
    place : array, shape (2,)
        In the CRS, in its unit; longitude and latitude of a geographic one.
    where
        File or key, for messages.

    Raises
    ------
    FrameError
        When the place is not on the Earth.
    """
    base = geographic(crs, where).to_2d()
    longitude, latitude = (float(value) for value in np.round(to_geographic(place[None], crs)[0], _DECIMALS))
    if not (abs(latitude) < 90.0 and abs(longitude) <= 540.0):
        message = (
            f"{where}: {place[0]:g}, {place[1]:g} in {crs_name(crs)} is no place on the Earth. Mend the "
            "georeference, or name the CRS that the file is really in."
        )
        raise FrameError(message)
    longitude = (longitude + 180.0) % 360.0 - 180.0
    east_west, north_south = "E" if longitude >= 0 else "W", "N" if latitude >= 0 else "S"
    return ProjectedCRS(
        name=(
            f"Local transverse Mercator grid at {abs(latitude):.4f}° {north_south}, {abs(longitude):.4f}° "
            f"{east_west} ({base.name})"
        ),
        conversion=TransverseMercatorConversion(
            latitude_natural_origin=latitude, longitude_natural_origin=longitude
        ),
        geodetic_crs=base,
        cartesian_cs=Cartesian2DCS(),
    )


def first_place(
    surveys: Sequence[SurveyPoints], unit: LinearUnit | None, crs: pyproj.CRS
) -> FloatArray | None:
    """Return the first surveyed position in a CRS, in its unit, shape (2,); None where there is none.

    Parameters
    ----------
    unit
        Unit of easting and northing in the files; that of the CRS where None.
    """
    for survey in surveys:
        if not len(survey):
            continue
        place: FloatArray = survey.coordinates[:1, :2]
        of_crs = plan_unit(crs, survey.source)
        if survey.geographic:
            place = from_geographic(place, crs)
        elif of_crs is None:
            continue
        elif unit is not None:
            place = place * (unit.metres / of_crs.metres)
        first: FloatArray = place[0]
        return first
    return None
