"""Single points that stand out from what a set of causes leaves."""

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.hypothesis import Pattern
from geoqa.numerics.arrays import BoolArray, FloatArray, IntArray

# More than this many, or than a quarter of the points, are no exceptions.
_MOST = 3
# Risk of calling a point of a clean set an exception. Normal errors alone would allow ten times as much;
# those of surveys have heavier tails.
FALSE_ALARM = 0.001
# A second and a third have to stand out by so many normalised median deviations, at which hardly any of a
# few normal residuals does.
_CLEARLY = 6.0
_AXES = ("east", "north", "up")


def outstanding(left_m: FloatArray, axes: tuple[int, ...]) -> Iterator[IntArray]:
    """Yield the point that stands out most, then the two, then the three that clearly do, as rows.

    Distances are taken from the median, axis by axis, over the normalised median deviation, so that a few
    gross points do not hide each other.

    Parameters
    ----------
    left_m : array, shape (n, 3)
        Residuals without what is explained; NaN where a point does not count.
    axes
        Those that all have to be known.
    """
    values = left_m[:, axes]
    known = np.flatnonzero(np.isfinite(values).all(axis=1))
    if len(known) < 4:
        return
    some = values[known]
    apart = np.abs(some - np.median(some, axis=0))
    spread = np.maximum(1.4826 * np.median(apart, axis=0), 1e-6)
    distance = np.sqrt(((apart / spread) ** 2).sum(axis=1))
    order = known[np.argsort(-distance, kind="stable")]
    clear = int((distance > _CLEARLY).sum())
    for count in range(1, min(_MOST, len(known) // 4, max(clear, 1)) + 1):
        yield order[:count]


def own_offsets(
    evidence: Evidence, rows: IntArray, axes: tuple[int, ...], prior_m: float
) -> tuple[Pattern, ...]:
    """Return for each of these points an offset of its own along each axis."""
    patterns = []
    for row in rows.tolist():
        for axis in axes:
            key = f"{evidence.ids[row]} {_AXES[axis]}"
            if axis == 2:
                height = np.zeros(len(evidence))
                height[row] = 1.0
                patterns.append(Pattern(key, "height", height, _of_all(prior_m, evidence.height)))
            else:
                plan = np.zeros((len(evidence), 2))
                plan[row, axis] = 1.0
                patterns.append(Pattern(key, "plan", plan, _of_all(prior_m, np.repeat(evidence.plan, 2))))
    return tuple(patterns)


def _of_all(prior_m: float, counted: BoolArray) -> float:
    """Return the root mean square over all observations of an error at one of them."""
    return prior_m / float(np.sqrt(max(counted.sum(), 1)))


def choices(evidence: Evidence, count: int) -> int:
    """Return how many sets of so many points there are."""
    number = 1
    for place in range(count):
        number = number * (len(evidence) - place) // (place + 1)
    return max(number, 1)


def named(evidence: Evidence, rows: IntArray) -> str:
    """Return the ids as words: "CP1", "CP1 and CP2"."""
    ids = [evidence.ids[row] for row in sorted(rows.tolist())]
    return ids[0] if len(ids) == 1 else f"{', '.join(ids[:-1])} and {ids[-1]}"


def largest_pairs(positions_m: FloatArray, left_m: FloatArray, most: int) -> Iterator[tuple[int, int, float]]:
    """Yield pairs of points whose residuals are about what an exchange of their names would make.

    Exchanged names put the product's position of the one against the survey of the other, so that the
    residual of i is X_j − X_i, and that of j the opposite. Only the points with the largest residuals are
    looked at, so that the search stays linear in the number of points.

    Yields
    ------
    tuple
        Both rows and the largest misfit of the two, metres.
    """
    size = np.linalg.norm(np.nan_to_num(left_m[:, :2]), axis=1)
    rows = np.sort(np.argsort(-size, kind="stable")[:most])
    rows = rows[np.isfinite(left_m[rows, :2]).all(axis=1)]
    if len(rows) < 2:
        return
    apart = positions_m[rows][None, :, :2] - positions_m[rows][:, None, :2]
    misfit = np.linalg.norm(left_m[rows][:, None, :2] - apart, axis=2)
    both = np.maximum(misfit, misfit.T)
    np.fill_diagonal(both, np.inf)
    order = np.argsort(both, axis=None)[: 2 * 3]
    for place, after in pairwise([*order.tolist(), -1]):
        if place == after:
            continue
        first, second = divmod(place, len(rows))
        if first < second:
            yield int(rows[first]), int(rows[second]), float(both[first, second])
