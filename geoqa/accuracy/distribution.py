"""How evenly checkpoints lie over the mapped area."""

from collections.abc import Mapping

import numpy as np

from geoqa.numerics.arrays import FloatArray


def quadrant_shares(plan_m: FloatArray, outline_m: FloatArray) -> Mapping[str, float]:
    """Return the share of the points in each quarter of the rectangle around the mapped area.

    Parameters
    ----------
    plan_m : array, shape (n, 2)
        Easting and northing of the points.
    outline_m : array, shape (k, 2)
        Outline of the mapped area.

    Returns
    -------
    mapping
        "south-west", "south-east", "north-west", "north-east" → share; empty where there is no
        outline or no point.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
    >>> quadrant_shares(np.array([[1.0, 1.0], [9.0, 1.0]]), square)["south-east"]
    0.5
    """
    if len(plan_m) == 0 or len(outline_m) == 0:
        return {}
    middle = (outline_m.min(axis=0) + outline_m.max(axis=0)) / 2
    east, north = (plan_m >= middle).T
    quarters = {
        "south-west": ~north & ~east,
        "south-east": ~north & east,
        "north-west": north & ~east,
        "north-east": north & east,
    }
    return {name: float(members.mean()) for name, members in quarters.items()}


def sparse_quadrants(plan_m: FloatArray, outline_m: FloatArray, least: float) -> str | None:
    """Return a sentence that names the quarters holding less than this share, or None."""
    shares = quadrant_shares(plan_m, outline_m)
    sparse = [f"{name} {100 * share:.0f} %" for name, share in shares.items() if share < least]
    if not sparse:
        return None
    return (
        f"The checkpoints are not spread evenly: at least {100 * least:.0f} % should lie in each "
        f"quarter of the mapped area, found {', '.join(sparse)}."
    )


def area_km2(outline_m: FloatArray) -> float:
    """Return the area inside an outline, shape (k, 2) in metres, in square kilometres; 0 for none.

    Examples
    --------
    >>> area_km2(np.array([[0.0, 0.0], [2000.0, 0.0], [2000.0, 1000.0], [0.0, 1000.0]]))
    2.0
    """
    if len(outline_m) == 0:
        return 0.0
    # Coordinates are taken from the first corner, so that no digits are lost in the products.
    east, north = (outline_m - outline_m[0]).T
    twice = float(east @ np.roll(north, -1) - north @ np.roll(east, -1))
    return abs(twice) / 2 / 1e6
