"""What PROJ offers between two datums at a site, and which of its grids are missing there."""

import warnings
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
import pyproj
from pyproj import datadir
from pyproj import network as proj_network
from pyproj.transformer import AreaOfInterest, Transformer, TransformerGroup

from geoqa.frame.operation_names import bare_name
from geoqa.numerics.arrays import FloatArray

_MARGIN_DEG = 1e-4
_MOST_NAMED = 3


def offered(source: pyproj.CRS, target: pyproj.CRS, area: AreaOfInterest | None) -> TransformerGroup:
    """Return the operations between two CRSs at a site, ballpark ones left out; anywhere where it is None."""
    with warnings.catch_warnings():
        # PROJ warns of missing grids in its own words; `grids_wanted` names them.
        warnings.simplefilter("ignore", UserWarning)
        return TransformerGroup(source, target, always_xy=True, area_of_interest=area, allow_ballpark=False)


def grids_wanted(group: TransformerGroup) -> str:
    """Return sentences that name the missing grids and how to supply them; empty if none is missing.

    Of many operations the finest three are named.
    """
    unavailable = sorted(group.unavailable_operations, key=lambda item: (item.accuracy < 0, item.accuracy))
    wanted = {
        missing: f"“{bare_name(operation.name)}” ({operation.accuracy:g} m) needs {missing}"
        for operation in reversed(unavailable)
        if (missing := _missing(operation.grids))
    }
    if not wanted:
        return ""
    folder = datadir.get_user_data_dir()  # type: ignore[attr-defined, unused-ignore]
    named = "; ".join(list(reversed(wanted.values()))[:_MOST_NAMED])
    return (
        f" Not installed: {named}. Fetch a grid with `pyproj sync --file NAME` (or, for one run, with "
        f"limits.network = true), install the package proj-data, or put the file into {folder}."
    )


def better_operations(group: TransformerGroup, accuracy_m: float) -> tuple[str, ...]:
    """Return a sentence for each operation that a missing grid keeps from being better than this."""
    return tuple(
        f"“{bare_name(item.name)}” would be good to {item.accuracy:g} m but needs {_missing(item.grids)}."
        for item in group.unavailable_operations
        if 0 <= item.accuracy < accuracy_m
    )


def _missing(grids: Iterable[Any]) -> str:
    return " and ".join(grid.short_name for grid in grids if not grid.available)


def area_around(lon_lat: FloatArray) -> AreaOfInterest:
    """Return the area of positions (n, 2 or more; degrees); one across the 180° meridian has west > east."""
    # A file may count longitudes from 0 to 360; PROJ's areas do not.
    lon = (lon_lat[:, 0] + 180.0) % 360.0 - 180.0
    west, east = lon.min(), lon.max()
    south, north = lon_lat[:, 1].min(), lon_lat[:, 1].max()
    if east - west > 180.0:
        west, east = lon[lon > 0].min(), lon[lon < 0].max()
    corners = np.array([west, south, east, north]) + _MARGIN_DEG * np.array([-1, -1, 1, 1])
    return AreaOfInterest(*corners.tolist())


def covers(transformer: Transformer, area: AreaOfInterest) -> bool:
    """Return whether an operation is meant for the whole area; True where it states no area of use."""
    use = transformer.area_of_use
    if use is None:
        return True
    if not (use.south <= area.south_lat_degree and area.north_lat_degree <= use.north):
        return False
    width = (use.east - use.west) % 360.0
    west, east = ((lon - use.west) % 360.0 for lon in (area.west_lon_degree, area.east_lon_degree))
    return bool(width == 0.0 or west <= east <= width)


@contextmanager
def network(*, active: bool) -> Iterator[None]:
    """Let PROJ fetch grids, or keep it from doing so unseen, while an operation is chosen and used."""
    before = proj_network.is_network_enabled()  # type: ignore[attr-defined, unused-ignore]
    proj_network.set_network_enabled(active=active)  # type: ignore[attr-defined, unused-ignore]
    try:
        yield
    finally:
        proj_network.set_network_enabled(active=before)  # type: ignore[attr-defined, unused-ignore]
