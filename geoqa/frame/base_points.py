"""The base correction applied to the points of a file, on their own datum."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geoqa.errors import FrameError
from geoqa.frame.base_remarks import extra_error, words
from geoqa.frame.base_shift import frame_remarks, moves_points
from geoqa.frame.datums import geographic, same_datum
from geoqa.frame.declare_points import StatedPoints
from geoqa.frame.geocentric import from_geocentric, to_geocentric, to_horizon, translated
from geoqa.frame.geoid import separations_m
from geoqa.frame.heights import HeightSystem, of_vertical, same_height_datum
from geoqa.numerics.arrays import FloatArray, IntArray
from geoqa.records.base import BaseCorrection
from geoqa.records.geoid import GeoidGrid
from geoqa.records.points import VECTOR_START, CoordinateStep, SurveyPoints

# Where the separation is unknown, height above the ellipsoid is short by up to 107 m (EGM2008, NGA), which
# turns a metre of shift in plan by 107 m over the Earth's radius; and the geoid may be higher or lower at
# the place where the point really is: by 80 mm a kilometre at the steepest of 24 cities, 100 in mountains.
_TURN, _SLOPE = 107.0 / 6.33e6, 1e-4
# Coordinates of a base are written to a millimetre at the least.
_ONE_START_M = 0.002
# What is told, and what is refused: a tenth of what the best receivers can tell.
_TOLD_M, _REFUSED_M = 1e-4, 1e-3


@dataclass(frozen=True, eq=False)
class ProductHeights:
    """What a message says of the heights of a product."""

    source: str
    heights: HeightSystem
    has_heights: bool


@dataclass(frozen=True, eq=False)
class CorrectedPoints:
    """Points of one file on their own datum, moved with their base.

    Attributes
    ----------
    lon_lat : array, shape (n, 2)
        Degrees.
    height_m : array, shape (n,)
        In the height system of the points; NaN where a point has none.
    """

    lon_lat: FloatArray
    height_m: FloatArray
    steps: tuple[CoordinateStep, ...] = ()
    messages: tuple[str, ...] = ()


def correct_points(
    stated: StatedPoints,
    lon_lat: FloatArray,
    height_m: FloatArray,
    corrections: Sequence[BaseCorrection],
    *,
    geoid: GeoidGrid | float | None = None,
) -> CorrectedPoints:
    """Return the points of one file moved with the base that each was measured from.

    The translation is exact where heights count from the ellipsoid, or a geoid grid leads there. Where the
    separation is not known, the height of the point serves as it is; what that may cost is told, and
    refused above 1 mm. A point without a height is moved in plan, at the height of the base.

    Parameters
    ----------
    lon_lat : array, shape (n, 2)
        On the datum of the points, degrees.
    height_m : array, shape (n,)
        NaN where a point has none.

    Raises
    ------
    FrameError
        When a point belongs to no base, or its shift cannot be had exactly.
    """
    rows = rows_of_bases(stated.survey, corrections)
    if not len(lon_lat):
        return CorrectedPoints(lon_lat, height_m)
    frame = geographic(stated.datum, stated.source)
    bases_m = np.array([item.assumed_m for item in corrections])[rows]
    surface = _surface(stated, lon_lat, height_m, geoid)
    own = np.where(np.isfinite(height_m), height_m + surface, from_geocentric(bases_m, frame)[:, 2])
    before = np.column_stack([lon_lat, own])
    extra = _extra_errors(to_geocentric(before, frame), corrections, rows)
    here = [corrections[place] for place in sorted(set(rows.tolist())) if moves_points(corrections[place])]
    if not here:
        return CorrectedPoints(lon_lat, height_m, messages=extra)
    _refuse_other_start(stated, corrections, rows)
    shifts = np.array([item.shift_m if moves_points(item) else np.zeros(3) for item in corrections])[rows]
    after = translated(before, shifts, frame)
    change = np.einsum("nij,nj->ni", to_horizon(lon_lat), shifts)
    rise = after[:, 2] - own - (_surface(stated, after[:, :2], height_m, geoid) - surface)
    change[:, 2] = np.where(np.isfinite(height_m), rise, 0.0)
    return CorrectedPoints(
        after[:, :2],
        height_m + rise,
        (_step(here, change, several=len(corrections) > 1),),
        (
            *frame_remarks(here, stated.datum, stated.epoch, stated.source),
            *cost_of_heights(here, stated, exact=bool(surface.any())),
            *_moved_words(stated, corrections, rows),
            *extra,
        ),
    )


def rows_of_bases(survey: SurveyPoints, corrections: Sequence[BaseCorrection]) -> IntArray:
    """Return for each point the number of the base that it was measured from, shape (n,).

    Raises
    ------
    FrameError
        Naming the first point whose session belongs to no base.
    """
    number = {item.session: place for place, item in enumerate(corrections)}
    if None in number:
        return np.full(len(survey), number[None], dtype=np.int64)
    for row, session in enumerate(survey.sessions):
        if session not in number:
            found = "has no session" if session is None else f"is of session “{session}”"
            known = ", ".join(f"“{name}”" for name in number)
            message = (
                f"{survey.origin(row)}: point “{survey.ids[row]}” {found}, and base corrections are given "
                f"for {known}. Fill in the column session, or give a [[base]] for it."
            )
            raise FrameError(message)
    return np.array([number[session] for session in survey.sessions], dtype=np.int64)


def _refuse_other_start(stated: StatedPoints, corrections: Sequence[BaseCorrection], rows: IntArray) -> None:
    """Raise `FrameError` where vectors start from another position than the one called assumed."""
    starts = stated.survey.attributes.get(VECTOR_START)
    if starts is None:
        return
    for row, (start, place) in enumerate(zip(starts, rows.tolist(), strict=True)):
        base = corrections[place]
        if start is None or not moves_points(base) or not same_datum(base.frame, stated.datum):
            continue
        apart_m = float(np.linalg.norm(np.array(start.split(), dtype=float) - base.assumed_m))
        if apart_m > _ONE_START_M:
            message = (
                f"{stated.survey.origin(row)}: the vector to “{stated.survey.ids[row]}” starts at {start} m, "
                f"{apart_m:.3f} m from base.assumed. Write the coordinates of the start there: they are what "
                "the points of this file rest on."
            )
            raise FrameError(message)


def _surface(
    stated: StatedPoints, lon_lat: FloatArray, height_m: FloatArray, geoid: GeoidGrid | float | None
) -> FloatArray:
    """Return what has to be added to the heights to count from the ellipsoid, zero where unknown."""
    if not isinstance(geoid, GeoidGrid) or not _leads_from(geoid, stated.heights):
        return np.zeros(len(height_m))
    found = separations_m(geoid, stated.survey, lon_lat, np.isfinite(height_m))
    return np.nan_to_num(found)


def _leads_from(grid: GeoidGrid, heights: HeightSystem) -> bool:
    if heights.vertical is None:
        return False
    return grid.vertical is None or same_height_datum(of_vertical(grid.vertical, grid.name), heights)


def cost_of_heights(
    moved: Sequence[BaseCorrection], side: StatedPoints | ProductHeights, *, exact: bool = False
) -> tuple[str, ...]:
    """Return what heights that do not count from the ellipsoid cost, or raise where it is too much.

    Raises
    ------
    FrameError
        Where it may be more than 1 mm.
    """
    if exact or side.heights.is_ellipsoidal or not side.has_heights:
        return ()
    plan_m = max(float(np.hypot(*item.shift_enu_m[:2])) for item in moved)
    cost_m = plan_m * (_TURN + _SLOPE)
    if cost_m > _REFUSED_M:
        message = (
            f"{side.source}: the base correction moves by {plan_m:.1f} m in plan, and the heights "
            f"({side.heights.title}) are not known to count from the ellipsoid: that leaves up to "
            f"{1000 * cost_m:.1f} mm. Give ellipsoidal heights, or name the geoid with geoid.grid."
        )
        raise FrameError(message)
    if cost_m <= _TOLD_M:
        return ()
    return (
        f"{side.source}: the heights ({side.heights.title}) are not known to count from the ellipsoid, so "
        f"the base correction is exact to {1000 * cost_m:.1f} mm only.",
    )


def _step(moved: Sequence[BaseCorrection], change: FloatArray, *, several: bool) -> CoordinateStep:
    told = []
    for item in moved:
        x, y, z = item.shift_m
        name = f"session {item.session}: " if several else ""
        told.append(
            f"{name}geocentric translation (EPSG method 1031) by {x:.5f}, {y:.5f}, {z:.5f} m in "
            f"{item.frame_name}; base {item.source}"
        )
    sigmas = [item.sigma_m for item in moved]
    known = [float(sigma.max()) for sigma in sigmas if sigma is not None]
    accuracy = max(known) if len(known) == len(moved) else None
    grids = tuple(dict.fromkeys(grid for item in moved for grid in item.grids))
    return CoordinateStep("base correction", "; ".join(told), accuracy, change, grids, exact=False)


def _moved_words(
    stated: StatedPoints, corrections: Sequence[BaseCorrection], rows: IntArray
) -> tuple[str, ...]:
    told = []
    for place, item in enumerate(corrections):
        count = int((rows == place).sum())
        if count and moves_points(item):
            which = "" if item.session is None else f" (session {item.session})"
            noun = "point rests" if count == 1 else "points rest"
            told.append(
                f"{stated.source}: {count} {noun} on the assumed position of the base{which} and moved with "
                f"it: {words(item)}."
            )
    return tuple(told)


def _extra_errors(
    positions_m: FloatArray, corrections: Sequence[BaseCorrection], rows: IntArray
) -> tuple[str, ...]:
    told = []
    for place in sorted(set(rows.tolist())):
        item = corrections[place]
        furthest_m = float(np.linalg.norm(positions_m[rows == place] - item.precise_m, axis=1).max())
        told.append(extra_error(item, furthest_m))
    return tuple(sentence for sentence in told if sentence is not None)
