"""Where points lie in the mapped area: spacing, hull, gaps, and the places that lack one."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from geoqa.numerics.arrays import FloatArray, IntArray
from geoqa.records.evidence import Place

# Nodes of the grid on which gaps are looked for, along the longer side of the area.
GRID_NODES = 48
MOST_PLACES = 3
# More points than this are thinned to a grid before distances to them are looked at over an area.
MOST_POINTS = 500


@dataclass(frozen=True, eq=False)
class Gaps:
    """Distances to the nearest point over the mapped area.

    Attributes
    ----------
    places
        Those farthest from every point and from each other, the farthest first.
    mean_m
        Mean distance over the area.
    """

    places: tuple[Place, ...]
    mean_m: float

    @property
    def largest_m(self) -> float:
        """Return the distance of the place farthest from every point."""
        return self.places[0].distance_m


def spacings(plan_m: FloatArray) -> FloatArray:
    """Return the distance of each point to its nearest neighbour, shape (n,); NaN for a single point.

    A second point in the very same place is no neighbour.

    Examples
    --------
    >>> spacings(np.array([[0.0, 0.0], [3.0, 4.0], [30.0, 0.0]])).round(3).tolist()
    [5.0, 5.0, 27.295]
    """
    nearest = np.full(len(plan_m), np.nan)
    if len(plan_m) > 1:
        rows, distances = nearest_distances(plan_m, plan_m, exclusive=True)
        nearest[rows] = distances
    return nearest


def nearest_distances(
    from_m: FloatArray, to_m: FloatArray, *, exclusive: bool = False
) -> tuple[IntArray, FloatArray]:
    """Return rows of the first places and the distance of each to the nearest of the second ones.

    Parameters
    ----------
    from_m, to_m : array, shapes (n, 2) and (k, 2)
    exclusive
        A place does not count as near to itself: rows without any other are left out.
    """
    import shapely

    points: Any = shapely.points(to_m)
    found, distances = shapely.STRtree(points).query_nearest(
        shapely.points(from_m), exclusive=exclusive, all_matches=False, return_distance=True
    )
    return np.asarray(found[0]), np.asarray(distances)


def hull_share(plan_m: FloatArray, outline_m: FloatArray) -> float:
    """Return the share of the mapped area inside the convex hull of the points; NaN for no area.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
    >>> hull_share(square[:3], square)
    0.5
    """
    import shapely

    if len(outline_m) < 3 or len(plan_m) == 0:
        return float("nan")
    area = shapely.Polygon(outline_m)
    hull = shapely.MultiPoint(thinned(plan_m)).convex_hull
    return float(hull.intersection(area).area / area.area)


def diagonal_m(outline_m: FloatArray) -> float:
    """Return the diagonal of the rectangle around the mapped area; NaN for no area."""
    if len(outline_m) == 0:
        return float("nan")
    return float(np.hypot(*np.ptp(outline_m, axis=0)))


def gaps(plan_m: FloatArray, outline_m: FloatArray) -> Gaps | None:
    """Return the distances to the nearest point over the mapped area; None without area or point.

    They are looked at on a grid of about 48 nodes along the longer side.

    Parameters
    ----------
    plan_m : array, shape (n, 2)
    outline_m : array, shape (k, 2)
    """
    if len(outline_m) < 3 or len(plan_m) == 0:
        return None
    nodes = _nodes(outline_m)
    _, distances = nearest_distances(nodes, thinned(plan_m))
    mean_m = float(distances.mean())
    places = []
    for _ in range(MOST_PLACES):
        place = int(np.argmax(distances))
        east_m, north_m = nodes[place]
        places.append(Place(float(east_m), float(north_m), float(distances[place])))
        distances = np.minimum(distances, np.hypot(*(nodes - nodes[place]).T))
    return Gaps(tuple(places), mean_m)


def _nodes(outline_m: FloatArray) -> FloatArray:
    """Return the nodes of a grid inside the outline, at least its middle, shape (m, 2)."""
    import shapely

    low, high = outline_m.min(axis=0), outline_m.max(axis=0)
    step = float((high - low).max()) / GRID_NODES
    sides = [np.arange(low[axis] + step / 2, high[axis], step) for axis in (0, 1)]
    east, north = np.meshgrid(*sides)
    nodes = np.column_stack([east.ravel(), north.ravel()])
    inside = shapely.contains_xy(shapely.Polygon(outline_m), nodes)
    return np.asarray(nodes[inside]) if inside.any() else outline_m.mean(axis=0, keepdims=True)


def thinned(plan_m: FloatArray) -> FloatArray:
    """Return the points, or for very many of them one of each cell of a grid, at most 500.

    A cell is at most a sixteenth of the extent of the points wide.
    """
    if len(plan_m) <= MOST_POINTS:
        return plan_m
    low, extent = plan_m.min(axis=0), float(np.ptp(plan_m, axis=0).max())
    cells = 512
    while True:
        index = np.floor((plan_m - low) / extent * cells).astype(np.int64)
        _, first = np.unique(index[:, 0] * (cells + 1) + index[:, 1], return_index=True)
        if len(first) <= MOST_POINTS:
            return np.asarray(plan_m[np.sort(first)])
        cells //= 2
