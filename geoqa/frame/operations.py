"""The one place where an operation between two datums is chosen and applied.

PROJ offers several operations, falls back silently to none at all (a "ballpark" offset) and counts
null transformations of metre accuracy as operations. Here one operation is chosen for all points,
it has to have a known accuracy, and where that is not to be had the reason is said.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pyproj
from pyproj.transformer import TransformerGroup

from geoqa.errors import FrameError
from geoqa.frame.axes import crs_name, crs_title
from geoqa.frame.datums import SAME_AS_PRODUCTS, counts_from_greenwich, datum_name, same_datum
from geoqa.frame.grids import area_around, better_operations, covers, grids_wanted, network, offered
from geoqa.frame.legs import Leg, height_unit_m
from geoqa.frame.operation_names import operation_name
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
        Geographic CRSs with ellipsoidal height, in degrees, or, where heights change their system too,
        compound ones of a geographic and a vertical CRS; `via` may be None.
    epoch
        Coordinate epoch, decimal year, or None.
    limit_m
        Largest accuracy that is accepted.
    where
        File, for messages.
    network
        True where PROJ may fetch grids.
    side
        Table of the settings that speaks for the source, for messages.
    """

    source: pyproj.CRS
    target: pyproj.CRS
    via: pyproj.CRS | None
    epoch: float | None
    limit_m: float
    where: str
    network: bool = False
    side: str = "points"

    @property
    def true_frame(self) -> str:
        """Return the key that names the true realisation, for messages."""
        return "`frame`" if self.side == "points" else "`crs`"

    @property
    def changes_heights(self) -> bool:
        """Return whether the two ends count heights from different surfaces."""
        return self.source.is_compound or self.target.is_compound


@dataclass(frozen=True, eq=False)
class Operation:
    """A chosen operation between two datums.

    Attributes
    ----------
    name
        Names, codes and grids of its steps.
    accuracy_m
        As published, the sum of its steps.
    legs
        One a step; longitude, latitude in degrees and height in metres at both ends.
    better
        Sentences on better operations that could not be used.
    grids
        Files that PROJ reads for it.
    """

    name: str
    accuracy_m: float
    legs: tuple[Leg, ...]
    better: tuple[str, ...] = ()
    grids: tuple[str, ...] = ()
    network: bool = False


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
    chosen: list[Leg] = []
    better: list[str] = []
    with network(active=route.network):
        for source, target in pairwise(stations):
            if source.is_compound or target.is_compound or not same_datum(source, target):
                leg, remarks = _best(source, target, place, route)
                place = leg.apply(place, route.epoch)
                chosen.append(leg)
                better.extend(remarks)
    grids = tuple(dict.fromkeys(grid for leg in chosen for grid in leg.grids))
    accuracy = sum(leg.accuracy_m for leg in chosen)
    if accuracy > route.limit_m + _ROUNDING_M:
        message = (
            f"{route.where}: the way from {datum_name(route.source)} to {datum_name(route.target)} is only "
            f"good to {accuracy:.2f} m, limits.max_operation_accuracy_m is {route.limit_m:g}. Name another "
            f"frame with {route.side}.via, or raise the limit."
        )
        raise FrameError(message)
    name = " + ".join(leg.name for leg in chosen)
    return Operation(name, accuracy, tuple(chosen), tuple(better), grids, route.network)


def apply_operation(operation: Operation, coordinates: FloatArray, epoch: float | None) -> FloatArray:
    """Return longitude, latitude, height on the target, shape (n, 3); NaN where it cannot be had."""
    with network(active=operation.network):
        for leg in operation.legs:
            coordinates = leg.apply(coordinates, epoch)
    return coordinates


def missing_grids(source: pyproj.CRS, target: pyproj.CRS, coordinates: FloatArray) -> str:
    """Return sentences that name the grids wanted between two datums at a site; empty if none."""
    with network(active=False):
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
) -> tuple[Leg, Sequence[str]]:
    area = area_around(place)
    group = offered(source, target, area)
    units = [height_unit_m(crs) for crs in (source, target)]
    known = [Leg(item, *units) for item in group.transformers if covers(item, area)]
    good = [leg for leg in known if 0 <= leg.accuracy_m <= route.limit_m + _ROUNDING_M]
    if source.is_compound or target.is_compound:
        good = [leg for leg in good if leg.changes_heights]
    off = [leg for leg in good if not np.isfinite(leg.apply(place, route.epoch)).all()]
    good = [leg for leg in good if leg not in off]
    if not good:
        beyond = "".join(f" “{leg.name}” gives no result at some of the points." for leg in off)
        raise FrameError(_nothing_good(source, target, group, route, beyond))
    finest = min(leg.accuracy_m for leg in good)
    ties = [leg for leg in good if leg.accuracy_m <= finest + _ROUNDING_M]
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


def _refuse_moving(ties: Sequence[Leg], place: FloatArray, route: Route) -> None:
    """Refuse an operation whose result depends on an epoch that was not given."""
    for leg in ties:
        early, late = (leg.apply(place, year) for year in _YEARS)
        moved = np.abs(change_m(early, late)).max()
        if not moved <= _STILL_M:
            yearly_cm = 100.0 * moved / (_YEARS[1] - _YEARS[0])
            message = (
                f"{route.where}: “{leg.name}” depends on the coordinate epoch ({yearly_cm:.1f} cm a year "
                f"here), and none was given. Set {route.side}.epoch to the decimal year, such as 2026.45."
            )
            raise FrameError(message)


def _refuse_tie(ties: Sequence[Leg], place: FloatArray, route: Route) -> None:
    results = [leg.apply(place, route.epoch) for leg in ties]
    apart = max(float(np.linalg.norm(change_m(one, two), axis=1).max()) for one in results for two in results)
    if not apart <= _TIE_M:
        listed = "; ".join(f"“{leg.name}”" for leg in ties)
        message = (
            f"{route.where}: {len(ties)} operations from {datum_name(route.source)} to "
            f"{datum_name(route.target)} are equally good ({ties[0].accuracy_m:g} m) and lie up to "
            f"{100 * apart:.1f} cm apart here: {listed}. Name the frame to go through with {route.side}.via "
            f"(such as EPSG:7931 for ETRF2000), or the true one with {route.true_frame}."
        )
        raise FrameError(message)


def _nothing_good(
    source: pyproj.CRS, target: pyproj.CRS, group: TransformerGroup, route: Route, beyond: str
) -> str:
    others = [
        f"“{operation_name(item)}” ({item.accuracy:g} m)" for item in group.transformers if item.accuracy >= 0
    ]
    coarse = f" There is {'; '.join(others)}." if others else ""
    cure = "" if route.changes_heights else f" {_cure(route)}"
    ends = [_end(crs, with_heights=route.changes_heights) for crs in (source, target)]
    return (
        f"{route.where}: no operation from {ends[0]} to {ends[1]} is known that is good to "
        f"{route.limit_m:g} m here.{coarse}{beyond}{grids_wanted(group)}{cure}"
    )


def _cure(route: Route) -> str:
    if route.side == "points":
        return (
            f"If points and products are in one frame, say so with points.frame = “{SAME_AS_PRODUCTS}”; if a "
            "name stands for another realisation, give that one with `frame`; points.via names a frame to go "
            "through."
        )
    return (
        f"If a name stands for another realisation, give that one with {route.true_frame}; {route.side}.via "
        "names a frame to go through."
    )


def _end(crs: pyproj.CRS, *, with_heights: bool) -> str:
    """Return what one end of a way is called in messages."""
    if crs.is_compound:
        plan, vertical = crs.sub_crs_list[:2]
        return f"{datum_name(plan)} with heights in {crs_title(vertical)}"
    if with_heights:
        return f"{datum_name(crs)} with ellipsoidal heights"
    return f"{datum_name(crs)} ({crs_name(crs.to_2d())})"


def _sample(coordinates: FloatArray) -> FloatArray:
    """Return the coordinates that bound the site and those in the middle of the list."""
    lon_lat = coordinates[:, :2]
    rows = {*lon_lat.argmin(axis=0).tolist(), *lon_lat.argmax(axis=0).tolist(), len(coordinates) // 2}
    sample: FloatArray = coordinates[sorted(rows)]
    return sample
