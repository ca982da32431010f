"""Targets that are not where they should be: one common shift, sought far around a few of the points."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import ceil

import numpy as np

from geoqa.numerics.arrays import FloatArray
from geoqa.numerics.cell_shape import cell_stretch
from geoqa.numerics.common_shift import FEWEST_POINTS, common_shift, largest_support
from geoqa.readers.blocks import read_patches
from geoqa.records.measurements import RasterInfo, TargetSearch
from geoqa.targets import candidates, window_half_px

# Common practice: a base placed by a phone or by hand is off by some metres.
REACH_M = 15.0
# So many points are looked around at most; where not even two of the first share a shift it ends.
_MOST_POINTS, _HOPELESS_AFTER = 6, 4
# Windows are cut into searches of this radius, so that memory stays bounded at any pixel size.
_RADIUS_PX = 800.0
# Offsets of one shift differ by the errors that are to be measured.
_TOLERANCE_M, _TOLERANCE_PX = 0.30, 3.0


def shift_px(
    places: FloatArray,
    kinds: Sequence[str],
    orthomosaic: RasterInfo,
    *,
    size_px: float | None,
    reach_m: float,
) -> FloatArray | None:
    """Return the shift in row and col that the targets of most points share, or None.

    Parameters
    ----------
    places : array, shape (n, 2)
        Surveyed places, row and col, of points whose target is sought.
    kinds
        Kind that is sought at each.
    size_px
        Side or diameter, or None where it is not known.
    reach_m
        Largest shift that is looked for.
    """
    cell_m = orthomosaic.cell_size_m
    reach_px = reach_m / cell_m
    beyond = np.maximum(-places, places - orthomosaic.shape).max(axis=1)
    near = np.flatnonzero(beyond < reach_px).tolist()
    places, kinds = places[near], [kinds[row] for row in near]
    tolerance_px = max(_TOLERANCE_M / cell_m, _TOLERANCE_PX)
    offsets: list[FloatArray] = []
    for row in spread_out(places, _MOST_POINTS):
        found = _candidates_around(places[row], kinds[row], orthomosaic, size_px, reach_px)
        offsets.append(found - places[row])
        if len(offsets) < FEWEST_POINTS:
            continue
        shift = common_shift(offsets, tolerance_px)
        if shift is not None:
            return shift
        if len(offsets) >= _HOPELESS_AFTER and largest_support(offsets, tolerance_px) < 2:
            return None
    return None


def spread_out(places: FloatArray, count: int) -> list[int]:
    """Return rows of up to `count` places far from each other, the first place first.

    Examples
    --------
    >>> spread_out(np.array([[0.0, 0.0], [1.0, 0.0], [9.0, 0.0]]), 2)
    [0, 2]
    """
    chosen = [0] if len(places) else []
    away = np.full(len(places), np.inf)
    while chosen and len(chosen) < min(count, len(places)):
        away = np.minimum(away, np.hypot(*(places - places[chosen[-1]]).T))
        chosen.append(int(away.argmax()))
    return chosen


def _candidates_around(
    place: FloatArray, kind: str, orthomosaic: RasterInfo, size_px: float | None, reach_px: float
) -> FloatArray:
    """Return row and col of what may be a target, shape (k, 2), within a distance of a place."""
    radius_px = min(reach_px, _RADIUS_PX)
    # Discs on the ground that hold those of pixels which cover the reach.
    stretch = cell_stretch(orthomosaic.cell_axes_m)
    search = TargetSearch(0.0, 0.0, radius_px * float(np.linalg.norm(stretch, 2)), size_px, stretch)
    half = window_half_px(search.radius_px, size_px, stretch)
    centres = np.array(list(_centres(place, reach_px, radius_px)))
    corners = np.floor(centres).astype(int) - half
    windows = np.hstack([corners, np.full_like(corners, 2 * half + 1)])
    found = [
        (fix.row, fix.col)
        for index, patch in read_patches(orthomosaic, windows)
        for fix in candidates(
            patch, replace(search, row=float(centres[index, 0]), col=float(centres[index, 1])), kind
        )
    ]
    places = np.array(found).reshape(-1, 2)
    within: FloatArray = places[np.hypot(*(places - place).T) <= reach_px]
    return within


def _centres(place: FloatArray, reach_px: float, radius_px: float) -> Iterator[tuple[float, float]]:
    """Yield the middles of discs of a radius that cover a disc of the reach."""
    if radius_px >= reach_px:
        yield float(place[0]), float(place[1])
        return
    step = radius_px * 2**0.5
    count = ceil(2.0 * reach_px / step)
    along = (np.arange(count) - (count - 1) / 2.0) * step
    for row in along:
        for col in along:
            if np.hypot(row, col) <= reach_px + radius_px:
                yield float(place[0] + row), float(place[1] + col)
