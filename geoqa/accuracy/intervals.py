"""How far the true RMSE may lie from the one that a few points show.

The errors are taken as normal. The bounds hold for errors without bias; for errors with a bias they
are on the safe side, since the mean square then scatters less than chi-square says.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri

from geoqa.numerics.arrays import FloatArray
from geoqa.numerics.circular_error import circular_error
from geoqa.records.results import Interval

CONFIDENCE = 0.95


@dataclass(frozen=True)
class RmseBounds:
    """The two-sided 95 % interval and the one-sided 95 % bounds of a true RMSE."""

    interval_m: Interval
    lower95_m: float
    upper95_m: float


def rmse_bounds(rmse_m: float, freedom: float) -> RmseBounds:
    """Return the bounds of the true RMSE; all NaN without degrees of freedom.

    Parameters
    ----------
    rmse_m
        RMSE about zero, metres.
    freedom
        Degrees of freedom: the number of points for one component, since no mean is taken off.

    References
    ----------
    [NIST-EH]_, section 1.3.5.8: the chi-square interval of a standard deviation.

    Examples
    --------
    >>> bounds = rmse_bounds(1.0, 5)
    >>> round(bounds.interval_m[0], 4), round(bounds.interval_m[1], 4), round(bounds.upper95_m, 4)
    (0.6242, 2.4526, 2.0893)
    """
    if not freedom > 0:
        nothing = float("nan")
        return RmseBounds((nothing, nothing), nothing, nothing)
    tail = 1.0 - CONFIDENCE
    return RmseBounds(
        interval_m=(_bound(rmse_m, freedom, tail / 2), _bound(rmse_m, freedom, 1 - tail / 2)),
        lower95_m=_bound(rmse_m, freedom, tail),
        upper95_m=_bound(rmse_m, freedom, 1 - tail),
    )


def _bound(rmse_m: float, freedom: float, probability_above: float) -> float:
    return rmse_m * float(np.sqrt(freedom / chdtri(freedom, probability_above)))


def plan_freedom(plan_m: FloatArray) -> float:
    """Return the effective degrees of freedom of a radial RMSE.

    n·tr(S)²/tr(S²) with S the second-moment matrix of the residuals: 2n for round error clouds, n
    for errors along one line. 2n alone is too sure of itself for elongated clouds.

    Parameters
    ----------
    plan_m : array, shape (n, 2)
        East and north residuals, metres, all known.

    References
    ----------
    [Satterthwaite1946]_: a sum of scaled chi-square variables is one chi-square of the same mean
    and variance.

    Examples
    --------
    >>> plan_freedom(np.array([[0.01, 0.0], [-0.01, 0.0]]))
    2.0
    >>> plan_freedom(np.array([[0.01, 0.0], [0.0, 0.01]]))
    4.0
    """
    count = len(plan_m)
    moment = plan_m.T @ plan_m
    squares = float(np.trace(moment @ moment))
    if squares == 0.0:
        return float(count)
    return float(np.clip(count * np.trace(moment) ** 2 / squares, count, 2 * count))


def circle_bounds(error95_m: float, axes_m: tuple[float, float], count: int) -> Interval:
    """Return the one-sided 95 % bounds of the circle that holds 95 % of the errors, lower and upper.

    The circle grows with the mean square of either principal axis, each known with n degrees of
    freedom. With g its relative growth with that of the minor axis, and 1/2 − g with the other, it
    is known like an RMSE with n / 4 (g² + (1/2 − g)²) degrees: n for errors along one line, 2n for
    equal axes.

    Parameters
    ----------
    error95_m
        The circle itself.
    axes_m
        Root mean squares along the principal axes, the larger first.

    References
    ----------
    [Satterthwaite1946]_.

    Examples
    --------
    >>> [round(bound, 3) for bound in circle_bounds(1.959964, (1.0, 0.0), 5)]
    [1.317, 4.095]
    """
    large_m, small_m = axes_m
    if count == 0 or not large_m > 0:
        return error95_m, error95_m
    step = 0.05
    wider_m = circular_error(CONFIDENCE, large_m, small_m * (1 + step))
    growth = float(np.log(wider_m / error95_m) / np.log1p(step)) / 2
    bounds = rmse_bounds(error95_m, count / (4 * (growth**2 + (0.5 - growth) ** 2)))
    return bounds.lower95_m, bounds.upper95_m
