"""One shift that many points share, from several places where each may be."""

from collections.abc import Sequence

import numpy as np

from geoqa.numerics.arrays import FloatArray, IntArray

# A shift is not taken from fewer points than this.
FEWEST_POINTS = 3


def common_shift(offsets: Sequence[FloatArray], tolerance: float) -> FloatArray | None:
    """Return the shift that most points share, shape (2,), or None where no shift stands out.

    Parameters
    ----------
    offsets
        For each point the offsets of its candidates from where it should be, shape (k, 2), any unit; k may
        be 0.
    tolerance
        Offsets this near to each other support the same shift.

    Returns
    -------
    array or None
        The median offset of the points that support it: one candidate each, at least three points, more
        than half of those that have a candidate at all, and more than any shift elsewhere has.

    Examples
    --------
    >>> shifts = [np.array([[1.5, -2.5]]), np.array([[9.0, 0.0], [1.5, -2.5]]), np.array([[1.5, -2.5]])]
    >>> common_shift(shifts, 0.1)
    array([ 1.5, -2.5])
    >>> common_shift(shifts[:2], 0.1) is None
    True
    """
    places, owners, support = _supported(offsets, tolerance)
    if not len(places):
        return None
    best = int(support.argmax())
    # What overlaps the best is the same shift; a rival stands clear of it.
    clear = np.hypot(*(places - places[best]).T) > 2.0 * tolerance
    rival = int(support[clear].max(initial=0))
    asked = len(np.unique(owners))
    if support[best] < FEWEST_POINTS or 2 * support[best] <= asked or support[best] <= rival:
        return None
    shift: FloatArray = np.median(_one_each(places, owners, places[best], tolerance), axis=0)
    return shift


def largest_support(offsets: Sequence[FloatArray], tolerance: float) -> int:
    """Return how many points share the shift that most of them share; parameters as in `common_shift`.

    Examples
    --------
    >>> largest_support([np.array([[1.0, 0.0]]), np.array([[1.0, 0.1], [7.0, 7.0]]), np.empty((0, 2))], 0.2)
    2
    """
    return int(_supported(offsets, tolerance)[2].max(initial=0))


def _supported(offsets: Sequence[FloatArray], tolerance: float) -> tuple[FloatArray, IntArray, IntArray]:
    """Return all offsets, the point of each, and how many points have one near it."""
    owners: IntArray = np.repeat(np.arange(len(offsets)), [len(places) for places in offsets])
    places = np.concatenate([np.empty((0, 2)), *(np.asarray(item, float).reshape(-1, 2) for item in offsets)])
    near = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1)) <= tolerance
    support = np.array([len(np.unique(owners[row])) for row in near], dtype=np.int64)
    return places, owners, support


def _one_each(places: FloatArray, owners: IntArray, about: FloatArray, tolerance: float) -> FloatArray:
    """Return the candidate nearest to a shift of each point that supports it."""
    away = np.hypot(*(places - about).T)
    kept = []
    for owner in np.unique(owners):
        rows = np.flatnonzero(owners == owner)
        nearest = rows[away[rows].argmin()]
        if away[nearest] <= tolerance:
            kept.append(places[nearest])
    return np.array(kept)
