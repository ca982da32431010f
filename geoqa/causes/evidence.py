"""The residuals of the points that count, as the comparison of causes wants them."""

from dataclasses import dataclass

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray, IntArray, frozen
from geoqa.records.results import ResidualSet

# More points than this say nothing more about a cause; evenly spaced ones are taken.
MOST_POINTS = 2000
# Noise below which nothing is called systematic, metres, plan (each axis) and height: coordinates are written
# to the millimetre.
_LEAST_NOISE_M = (0.002, 0.003)
_NOISE_WEIGHT = 1.0


@dataclass(frozen=True, eq=False)
class Evidence:
    """Residuals and places of the points that count for at least one direction.

    Attributes
    ----------
    rows : array of int, shape (n,)
        Row of each point in the residual set.
    position_m : array, shape (n, 3)
        As surveyed, in the common frame.
    delta_m : array, shape (n, 3)
        Product minus survey; NaN where the point does not count for that direction.
    plan, height : array of bool, shape (n,)
        Which count for the plan and for the height.
    size_m
        Largest distance of a point from the middle of all, metres; 1 for a single point.
    """

    ids: tuple[str, ...]
    rows: IntArray
    position_m: FloatArray
    delta_m: FloatArray
    plan: BoolArray
    height: BoolArray
    size_m: float
    thinned_from: int

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        for name in ("position_m", "delta_m"):
            object.__setattr__(self, name, frozen(getattr(self, name)))

    def __len__(self) -> int:
        """Return the number of points."""
        return len(self.ids)

    @property
    def east_north_m(self) -> FloatArray:
        """Return the places in plan from the middle of the points, shape (n, 2)."""
        centred: FloatArray = self.position_m[:, :2] - self.position_m[:, :2].mean(axis=0)
        return centred

    def mask(self, direction: str) -> BoolArray:
        """Return which points count for "plan" or "height"."""
        return self.plan if direction == "plan" else self.height

    def residuals(self, direction: str) -> FloatArray:
        """Return the residuals of a direction in one row: east, north of each point, or the heights."""
        if direction == "plan":
            return np.asarray(self.delta_m[self.plan, :2].ravel())
        return np.asarray(self.delta_m[self.height, 2])

    def least_squares_sum(self, direction: str) -> tuple[float, float]:
        """Return the sum of squares, and its weight in observations, that noise is given beforehand."""
        least_m = _LEAST_NOISE_M[0 if direction == "plan" else 1]
        return _NOISE_WEIGHT * least_m**2, _NOISE_WEIGHT


def evidence_of(residuals: ResidualSet) -> Evidence:
    """Return the evidence of a residual set; beyond 2,000 points every k-th one."""
    plan, height = residuals.horizontal.used, residuals.vertical.used
    rows = np.flatnonzero(plan | height)
    counted = len(rows)
    if counted > MOST_POINTS:
        rows = rows[np.linspace(0, counted - 1, MOST_POINTS).astype(int)]
    delta_m = np.array(residuals.delta_m[rows])
    delta_m[~plan[rows], :2] = np.nan
    delta_m[~height[rows], 2] = np.nan
    position_m = np.array(residuals.survey_m[rows])
    return Evidence(
        ids=tuple(residuals.ids[row] for row in rows.tolist()),
        rows=rows,
        position_m=position_m,
        delta_m=delta_m,
        plan=np.asarray(plan[rows]),
        height=np.asarray(height[rows]),
        size_m=_size_m(position_m[:, :2]),
        thinned_from=counted,
    )


def _size_m(plan_m: FloatArray) -> float:
    if len(plan_m) < 2:
        return 1.0
    distances = np.linalg.norm(plan_m - plan_m.mean(axis=0), axis=1)
    return max(float(distances.max()), 1.0)
