"""Where the statement of a direction holds, and how far its points are, as areas."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from geoqa.accuracy.spread import GRID_NODES, gaps, spacings, thinned
from geoqa.numerics.arrays import FloatArray

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

# Bands of distance: about this many up to the largest gap.
BANDS = 4


@dataclass(frozen=True, eq=False)
class Support:
    """A part of the mapped area, in one piece.

    Attributes
    ----------
    distance_from_m, distance_to_m
        Its places are this far from the nearest point that counts.
    holds
        True within the hull of the points, widened by half their usual spacing: the statement holds
        there. Elsewhere it is carried beyond the points.
    share
        Of the mapped area.
    """

    distance_from_m: float
    distance_to_m: float
    holds: bool
    share: float
    area: "BaseGeometry"


def support(plan_m: FloatArray, outline_m: FloatArray) -> tuple[Support, ...]:
    """Return the parts of the mapped area by distance to the nearest point, near ones first.

    Empty without an area or a point.

    Parameters
    ----------
    plan_m : array, shape (n, 2)
        Points that count.
    outline_m : array, shape (k, 2)
        Outline of the mapped area.
    """
    found = gaps(plan_m, outline_m)
    if found is None:
        return ()
    return tuple(_parts(plan_m, outline_m, found.largest_m))


def _parts(plan_m: FloatArray, outline_m: FloatArray, gap_m: float) -> Iterator[Support]:
    import shapely

    area = shapely.Polygon(outline_m)
    points = shapely.MultiPoint(thinned(plan_m))
    tested = points.convex_hull.buffer(_usual_spacing(plan_m) / 2)
    step_m = round_step(gap_m / BANDS)
    before: BaseGeometry = shapely.Polygon()
    # Between the nodes of its grid a gap may be wider than it was found.
    wider_m = float(np.ptp(outline_m, axis=0).max()) / GRID_NODES
    for band in range(math.ceil((gap_m + wider_m) / step_m)):
        reach = points.buffer((band + 1) * step_m, quad_segs=8)
        ring = area.intersection(reach).difference(before)
        for holds, parts in ((True, ring.intersection(tested)), (False, ring.difference(tested))):
            for part in shapely.get_parts(parts):
                if part.area > 1e-9 * area.area:
                    share = float(part.area / area.area)
                    yield Support(band * step_m, (band + 1) * step_m, holds, share, part)
        before = reach


def _usual_spacing(plan_m: FloatArray) -> float:
    found = spacings(thinned(plan_m))
    found = found[np.isfinite(found)]
    return float(np.median(found)) if len(found) else 0.0


def round_step(least: float) -> float:
    """Return the smallest of 1, 2, 5, 10 … that is not below a length; 1 for zero.

    Examples
    --------
    >>> round_step(33.0), round_step(0.2), round_step(0.0)
    (50.0, 0.2, 1.0)
    """
    if not least > 0:
        return 1.0
    power = 10.0 ** np.floor(np.log10(least))
    return float(next(power * factor for factor in (1, 2, 5, 10) if power * factor >= least * (1 - 1e-9)))
