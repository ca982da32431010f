"""The one place where an operation between two datums is chosen and applied.

PROJ offers several operations, falls back silently to none at all (a "ballpark" offset) and counts
null transformations of metre accuracy as operations. Here one operation is chosen for all points,
it has to have a known accuracy, and where that is not to be had the reason is said.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pyproj
from pyproj.exceptions import ProjError
from pyproj.transformer import Transformer, TransformerGroup

from geoqa.errors import FrameError
from geoqa.frame.axes import crs_name
from geoqa.frame.datums import SAME_AS_PRODUCTS, counts_from_greenwich, datum_name, same_datum
from geoqa.frame.grids import area_around, better_operations, covers, grids_wanted, offered, offline
from geoqa.numerics.arrays import FloatArray

# Candidates of equal accuracy may differ by this much at the site before the user has to choose.
_TIE_M = 0.02
# What an operation may move between these years before the epoch has to be known.
_STILL_M = 0.001
_YEARS = (2000.0, 2030.0)
_ROUNDING_M = 1e-9

# [GRS80]: semi-major axis in metres, and first eccentricity squared.
_AXIS_M, _ECCENTRICITY_2 = 6_378_137.0, 0.00669438002290


@dataclass(frozen=True)
class Route:
    """From which datum to which, for whom, and how good it has to be.

    Attributes
    ----------
    source, target, via
        Geographic CRSs with height, in degrees; `via` may be None.
    epoch
        Coordinate epoch, decimal year, or None.
    limit_m
        Largest accuracy that is accepted.
    where
        File, for messages.
    """

    source: pyproj.CRS
    target: pyproj.CRS
    via: pyproj.CRS | None
    epoch: float | None
    limit_m: float
    where: str


@dataclass(frozen=True, eq=False)
class Operation:
    """A chosen operation between two datums.

    Attributes
    ----------
    name
        Names, codes and grids of its steps.
    accuracy_m
        As published, the sum of its steps.
    transformers
        One a step, from geographic to geographic with height.
    better
        Sentences on better operations that could not be used.
    """

    name: str
    accuracy_m: float
    transformers: tuple[Transformer, ...]
    better: tuple[str, ...] = ()


def choose_operation(route: Route, coordinates: FloatArray) -> Operation:
    """Return the one operation for all these coordinates.

    Parameters
    ----------
    coordinates : array, shape (n, 3)
        Longitude, latitude, height on the source, degrees and metres, without gaps; n > 0.

    Raises
    ------
    FrameError
        When none is accurate enough, a grid is missing, several tie, or the epoch is missing.
    """
    stations = [frame for frame in (route.source, route.via, route.target) if frame is not None]
    for frame in stations:
        _refuse_odd_meridian(frame, route.where)
    place = _sample(coordinates)
    chosen: list[Transformer] = []
    better: list[str] = []
    with offline():
        for source, target in pairwise(stations):
            if not same_datum(source, target):
                transformer, remarks = _best(source, target, place, route)
                place = _transformed(transformer, place, route.epoch)
                chosen.append(transformer)
                better.extend(remarks)
    accuracy = sum(float(transformer.accuracy) for transformer in chosen)
    if accuracy > route.limit_m + _ROUNDING_M:
        message = (
            f"{route.where}: the way from {datum_name(route.source)} to {datum_name(route.target)} is only "
            f"good to {accuracy:.2f} m, limits.max_operation_accuracy_m is {route.limit_m:g}. Name another "
            "frame with points.via, or raise the limit."
        )
        raise FrameError(message)
    return Operation(" + ".join(map(_name, chosen)), accuracy, tuple(chosen), tuple(better))


def apply_operation(operation: Operation, coordinates: FloatArray, epoch: float | None) -> FloatArray:
    """Return longitude, latitude, height on the target, shape (n, 3); NaN where it cannot be had."""
    with offline():
        for transformer in operation.transformers:
            coordinates = _transformed(transformer, coordinates, epoch)
    return coordinates


def missing_grids(source: pyproj.CRS, target: pyproj.CRS, coordinates: FloatArray) -> str:
    """Return sentences that name the grids wanted between two datums at a site; empty if none."""
    with offline():
        return grids_wanted(offered(source, target, area_around(_sample(coordinates))))


def change_m(before: FloatArray, after: FloatArray) -> FloatArray:
    """Return what moved longitude, latitude, height (n, 3; degrees, metres) as east, north, up in metres.

    To first order in the change, on GRS 1980.

    Examples
    --------
    >>> start = np.array([[0.0, 0.0, 0.0]])
    >>> change_m(start, start + [1e-5, 0.0, 0.5]).round(4).tolist()
    [[1.1132, 0.0, 0.5]]
    """
    latitude = np.radians(before[:, 1])
    flat = 1.0 - _ECCENTRICITY_2 * np.sin(latitude) ** 2
    across = _AXIS_M / np.sqrt(flat) + before[:, 2]
    along = _AXIS_M * (1.0 - _ECCENTRICITY_2) / flat**1.5 + before[:, 2]
    turned = (after[:, 0] - before[:, 0] + 180.0) % 360.0 - 180.0
    east = np.radians(turned) * across * np.cos(latitude)
    north = np.radians(after[:, 1] - before[:, 1]) * along
    return np.column_stack([east, north, after[:, 2] - before[:, 2]])


def _best(
    source: pyproj.CRS, target: pyproj.CRS, place: FloatArray, route: Route
) -> tuple[Transformer, Sequence[str]]:
    area = area_around(place)
    group = offered(source, target, area)
    good = [
        item
        for item in group.transformers
        if 0 <= item.accuracy <= route.limit_m + _ROUNDING_M and covers(item, area)
    ]
    if not good:
        raise FrameError(_nothing_good(source, target, group, route))
    finest = min(float(item.accuracy) for item in good)
    ties = [item for item in good if item.accuracy <= finest + _ROUNDING_M]
    if route.epoch is None:
        _refuse_moving(ties, place, route)
    _refuse_tie(ties, place, route)
    return ties[0], better_operations(group, finest)


def _refuse_odd_meridian(frame: pyproj.CRS, where: str) -> None:
    if not counts_from_greenwich(frame):
        message = (
            f"{where}: {frame.name} does not count in degrees from Greenwich. Bring points and products into "
            "a CRS that does."
        )
        raise FrameError(message)


def _refuse_moving(ties: Sequence[Transformer], place: FloatArray, route: Route) -> None:
    """Refuse an operation whose result depends on an epoch that was not given."""
    for item in ties:
        early, late = (_transformed(item, place, year) for year in _YEARS)
        moved = np.abs(change_m(early, late)).max()
        if not moved <= _STILL_M:
            yearly_cm = 100.0 * moved / (_YEARS[1] - _YEARS[0])
            message = (
                f"{route.where}: “{_name(item)}” depends on the coordinate epoch ({yearly_cm:.1f} cm a year "
                "here), and none was given. Set points.epoch to the decimal year, such as 2026.45."
            )
            raise FrameError(message)


def _refuse_tie(ties: Sequence[Transformer], place: FloatArray, route: Route) -> None:
    results = [_transformed(item, place, route.epoch) for item in ties]
    apart = max(float(np.linalg.norm(change_m(one, two), axis=1).max()) for one in results for two in results)
    if not apart <= _TIE_M:
        listed = "; ".join(f"“{_name(item)}”" for item in ties)
        message = (
            f"{route.where}: {len(ties)} operations from {datum_name(route.source)} to "
            f"{datum_name(route.target)} are equally good ({ties[0].accuracy:g} m) and lie up to "
            f"{100 * apart:.1f} cm apart here: {listed}. Name the frame to go through with points.via (such "
            "as EPSG:7931 for ETRF2000), or the true one with `frame`."
        )
        raise FrameError(message)


def _nothing_good(source: pyproj.CRS, target: pyproj.CRS, group: TransformerGroup, route: Route) -> str:
    others = [f"“{_name(item)}” ({item.accuracy:g} m)" for item in group.transformers if item.accuracy >= 0]
    coarse = f" There is {'; '.join(others)}." if others else ""
    return (
        f"{route.where}: no operation from {datum_name(source)} ({crs_name(source.to_2d())}) to "
        f"{datum_name(target)} ({crs_name(target.to_2d())}) is known that is good to {route.limit_m:g} m "
        f"here.{coarse}{grids_wanted(group)} If points and products are in one frame, say so with "
        f"points.frame = “{SAME_AS_PRODUCTS}”; if a name stands for another realisation, give that one with "
        "`frame`; points.via names a frame to go through."
    )


def _name(transformer: Transformer) -> str:
    """Return the steps of an operation that change the datum, each with its code."""
    # A null offset between the 2D and the 3D form of one CRS is no change of datum.
    changing = [
        step
        for step in transformer.operations or ()
        if step.type_name != "Conversion" and not step.name.startswith("Null geographic offset")
    ]
    return " + ".join(map(_with_code, changing)) or str(transformer.description)


def _with_code(step: Any) -> str:
    known = []
    code = step.to_json_dict().get("id")
    if code:
        # PROJ wraps the authority of what it derives: DERIVED_FROM(INVERSE(EPSG)).
        authority = re.findall(r"\w+", str(code["authority"]))[-1]
        known.append(f"{authority}:{code['code']}")
    known.extend(f"grid {grid.short_name}" for grid in step.grids)
    return f"{step.name} ({', '.join(known)})" if known else str(step.name)


def _transformed(transformer: Transformer, coordinates: FloatArray, epoch: float | None) -> FloatArray:
    def result(*, errcheck: bool) -> FloatArray:
        lon, lat, height = coordinates.T
        if epoch is None:
            return np.column_stack(transformer.transform(lon, lat, height, errcheck=errcheck))
        year = np.full(len(coordinates), epoch)
        return np.column_stack(transformer.transform(lon, lat, height, year, errcheck=errcheck)[:3])

    try:
        moved = result(errcheck=True)
    except ProjError:
        # PROJ stops at the first failure without naming it; the rows that fail are marked instead.
        moved = result(errcheck=False)
    moved[~np.isfinite(moved).all(axis=1)] = np.nan
    return moved


def _sample(coordinates: FloatArray) -> FloatArray:
    """Return the coordinates that bound the site and those in the middle of the list."""
    lon_lat = coordinates[:, :2]
    rows = {*lon_lat.argmin(axis=0).tolist(), *lon_lat.argmax(axis=0).tolist(), len(coordinates) // 2}
    sample: FloatArray = coordinates[sorted(rows)]
    return sample
