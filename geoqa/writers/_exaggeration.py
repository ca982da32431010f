"""How much larger than nature residual vectors are drawn: one figure for the map and the layers."""

import numpy as np

from geoqa.numerics.arrays import FloatArray
from geoqa.records.assessment import Assessment

# The 90 % vector is drawn about this fraction of the larger side of the extent.
DRAWN_FRACTION = 1 / 8
# Vectors below 0.1 mm say nothing: no survey is that sharp, and arithmetic leaves such remainders.
SHORTEST_VECTOR_M = 1e-4
# Side of the square shown where there is one point or none.
LEAST_SIDE_M = 100.0

Extent = tuple[float, float, float, float]


def exaggeration(assessment: Assessment) -> float:
    """Return how many times larger than nature vectors and ellipses are drawn: 1, 2 or 5 × 10^k.

    It is chosen so that nine in ten vectors are drawn shorter than about an eighth of the larger
    side of `extent_m`. Used points decide; where none is used, all measured ones. Below 1 vectors
    are drawn smaller than nature. 1 where no vector was measured.
    """
    delta = assessment.residuals.delta_m[:, :2]
    measured = np.isfinite(delta).all(axis=1)
    used = measured & assessment.residuals.horizontal.used
    chosen = delta[used if used.any() else measured]
    if not len(chosen):
        return 1.0
    longest = max(float(np.quantile(np.hypot(chosen[:, 0], chosen[:, 1]), 0.9)), SHORTEST_VECTOR_M)
    west, south, east, north = extent_m(assessment)
    return nearest_round(DRAWN_FRACTION * max(east - west, north - south) / longest)


def extent_m(assessment: Assessment) -> Extent:
    """Return west, south, east, north of what is shown, in metres of the common frame.

    The outline of the product; where it is not known, the surveyed points. Never narrower than
    a square of `LEAST_SIDE_M` where all points fall together; (0, 0) is its centre without points.
    """
    area = assessment.mapped_area_m
    plan = area if len(area) else assessment.residuals.survey_m[:, :2]
    return _bounds(plan[np.isfinite(plan).all(axis=1)])


def _bounds(plan: FloatArray) -> Extent:
    low, high = (plan.min(axis=0), plan.max(axis=0)) if len(plan) else (np.zeros(2), np.zeros(2))
    if not (high - low).any():
        low, high = low - LEAST_SIDE_M / 2, high + LEAST_SIDE_M / 2
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def nearest_round(value: float) -> float:
    """Return the number 1, 2 or 5 × 10^k nearest to a positive value, by ratio.

    Examples
    --------
    >>> nearest_round(430.0)
    500.0
    >>> nearest_round(0.012)
    0.01
    """
    power = int(np.floor(np.log10(value)))
    # Written as text so that 5 × 10⁻³ is the float nearest to 0.005.
    candidates = [float(f"{digit}e{exponent}") for exponent in (power, power + 1) for digit in (1, 2, 5)]
    return min(candidates, key=lambda candidate: abs(float(np.log(candidate / value))))
