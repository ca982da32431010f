"""Separations of the geoid from the ellipsoid that the user gave: a grid, a column, one number.

A height above the ellipsoid is the gravity-related height plus the separation.
"""

import math
from dataclasses import dataclass

import numpy as np

from geoqa.errors import FrameError
from geoqa.frame.declare_points import StatedPoints
from geoqa.frame.geoid import separations_m
from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.geoid import GeoidGrid

COLUMN = "separation"
# Slopes of the geoid in metres a kilometre: the flattest and the steepest of 24 cities (EGM2008, NGA).
_GENTLE, _STEEP = 0.010, 0.080
# One separation for all points is not good enough beyond this.
_WIDEST_SITE_M = 2000.0


@dataclass(frozen=True, eq=False)
class Separations:
    """The height of the geoid above the ellipsoid at the points of a file.

    Attributes
    ----------
    values_m : array, shape (n,)
        NaN where a point has no height.
    origin
        Where they come from, for the history of a point.
    accuracy_m
        What the slope of the geoid may hide, or None where nothing is known.
    messages
        Warnings.
    grids
        Files that PROJ reads.
    """

    values_m: FloatArray
    origin: str
    accuracy_m: float | None = None
    messages: tuple[str, ...] = ()
    grids: tuple[str, ...] = ()


def by_grid(grid: GeoidGrid, stated: StatedPoints, lon_lat: FloatArray, wanted: BoolArray) -> Separations:
    """Return the separations of a grid at positions, degrees, shape (n, 2)."""
    values = separations_m(grid, stated.survey, lon_lat, wanted)
    return Separations(values, f"grid {grid.name}", messages=grid.notes, grids=(grid.file,))


def by_column(stated: StatedPoints, wanted: BoolArray, span_m: float) -> Separations:
    """Return the separations that the file gives with each point.

    Raises
    ------
    FrameError
        When a point with a height has none.
    """
    survey = stated.survey
    texts = survey.attributes[COLUMN]
    values = np.array([_number(text) for text in texts])
    wrong = np.flatnonzero(wanted & ~np.isfinite(values))
    if len(wrong):
        row = int(wrong[0])
        found = "no separation" if texts[row] is None else f"the separation “{texts[row]}”"
        message = (
            f"{survey.origin(row)}: point “{survey.ids[row]}” has {found}. Fill the column in, in metres, or "
            "name a grid with geoid.grid."
        )
        raise FrameError(message)
    values = np.where(wanted, values, np.nan)
    known = values[wanted]
    if len(known) > 1 and np.ptp(known) == 0.0:
        told = f"{stated.source}: the column {COLUMN} holds {known[0]:g} m for every point. {_hidden(span_m)}"
        return Separations(values, f"column {COLUMN}", _tilt_m(span_m), (told,))
    return Separations(values, f"column {COLUMN}")


def median_of_column(stated: StatedPoints) -> float | None:
    """Return the middle one of the separations that come with the points, or None where there are none."""
    values = [_number(text) for text in stated.survey.attributes.get(COLUMN, ())]
    known = [value for value in values if math.isfinite(value)]
    return float(np.median(known)) if known else None


def by_number(value_m: float, stated: StatedPoints, wanted: BoolArray, span_m: float) -> Separations:
    """Return one separation for all points.

    Parameters
    ----------
    span_m
        Diagonal of the box around the points.

    Raises
    ------
    FrameError
        When the site is wider than 2 km.
    """
    if span_m > _WIDEST_SITE_M:
        message = (
            f"{stated.source}: the points lie up to {span_m / 1000:.1f} km apart, and geoid.separation_m is "
            "one number, while the geoid slopes by 10 to 80 mm a kilometre. Name a grid with geoid.grid, or "
            f"give each point its own separation in a column “{COLUMN}”."
        )
        raise FrameError(message)
    told = f"{stated.source}: one separation of {value_m:g} m serves all points. {_hidden(span_m)}"
    values = np.where(wanted, value_m, np.nan)
    return Separations(values, "geoid.separation_m", _tilt_m(span_m), (told,))


def _hidden(span_m: float) -> str:
    low, high = (1000.0 * slope * span_m / 1000.0 for slope in (_GENTLE, _STEEP))
    return (
        f"The geoid slopes by 10 to 80 mm a kilometre, so {low:.0f} to {high:.0f} mm of tilt over the "
        f"{span_m / 1000:.2f} km of the site stay in the heights."
    )


def _tilt_m(span_m: float) -> float:
    """Return what the steepest geoid leaves at the rim where the number is right in the middle."""
    return _STEEP * span_m / 1000.0 / 2.0


def _number(text: str | None) -> float:
    if text is None:
        return math.nan
    try:
        return float(text.replace(",", ".").replace("−", "-"))
    except ValueError:
        return math.nan
