"""Statistics of residuals: of the points that count, and by group."""

from collections.abc import Mapping
from typing import Literal

import numpy as np
from scipy.special import ndtri, stdtrit

from geoqa.accuracy.bias import plan_bias
from geoqa.accuracy.intervals import circle_bounds, plan_freedom, rmse_bounds
from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.numerics.circular_error import circular_error, principal_rms
from geoqa.numerics.quantiles import absolute_quantile
from geoqa.records.results import (
    AccuracyStatistics,
    ComponentStatistics,
    Interval,
    ResidualSet,
    Use,
    UseReason,
)

# [Hoehle2009], from memory: makes the median absolute deviation of normal errors their sigma.
NMAD_FACTOR = 1.4826

# What a grouping is there to show does not keep a point out of it: vegetated points stand in their
# group of covers, control points in their group of roles.
GROUPINGS: Mapping[str, frozenset[UseReason]] = {
    "cover": frozenset({UseReason.VEGETATED}),
    "session": frozenset(),
    "role": frozenset({UseReason.ROLE_CONTROL, UseReason.ROLE_MARK, UseReason.ROLE_UNUSED}),
}
ALL_POINTS = "all points"
CONFIDENCE = 0.95
# One sigma of a normal distribution holds this share.
ONE_SIGMA_SHARE = 0.683
_SHARES = (0.50, 0.90, 0.95)
LE95 = float(ndtri(0.975))
_NAN = float("nan")


def summarise(residuals: ResidualSet) -> AccuracyStatistics:
    """Return the statistics of the points that count for either direction."""
    return statistics_of(residuals, residuals.horizontal.used, residuals.vertical.used)


def summarise_by(residuals: ResidualSet) -> dict[str, dict[str, AccuracyStatistics]]:
    """Return grouping → group → statistics, for "cover", "session", "role" and "all points".

    A group holds the points that count and those that only their cover (in "cover") or their role
    (in "role") keeps out. A role is the first reason looked at, so that the group of control points
    holds every one with a residual. "all points" has one group, "all": every point with a residual,
    whatever keeps it out. Points without a group stand in none.
    """
    grouped: dict[str, dict[str, AccuracyStatistics]] = {}
    for name, admitted in GROUPINGS.items():
        members = np.array(residuals.groups.get(name, (None,) * len(residuals)), dtype=object)
        plan = _measured_plan(residuals) & _admitted(residuals.horizontal, admitted)
        height = _measured_height(residuals) & _admitted(residuals.vertical, admitted)
        grouped[name] = {
            group: statistics_of(residuals, plan & (members == group), height & (members == group))
            for group in sorted({member for member in members if member is not None})
        }
    everything = statistics_of(residuals, _measured_plan(residuals), _measured_height(residuals))
    grouped[ALL_POINTS] = {"all": everything}
    return grouped


def statistics_of(residuals: ResidualSet, plan: BoolArray, height: BoolArray) -> AccuracyStatistics:
    """Return the statistics of the points chosen for the plan and for the height, shape (n,) each."""
    plan_m = residuals.delta_m[plan, :2]
    return AccuracyStatistics(
        east=component_statistics("east", plan_m[:, 0]),
        north=component_statistics("north", plan_m[:, 1]),
        up=component_statistics("up", residuals.delta_m[height, 2]),
        horizontal=radial_statistics(plan_m),
        plan_bias=plan_bias(plan_m),
    )


def component_statistics(
    component: Literal["east", "north", "up"], values_m: FloatArray
) -> ComponentStatistics:
    """Return the statistics of one component; NaN where a figure has no meaning.

    Parameters
    ----------
    values_m : array, shape (n,)
        Residuals in metres, all known; n may be 0.

    References
    ----------
    [NSSDA1998]_, section 3-A, for the RMSE about zero; [Hoehle2009]_ for the NMAD and the quantiles.

    Examples
    --------
    >>> part = component_statistics("up", np.array([0.03, 0.05]))
    >>> round(part.mean_m, 4), round(part.std_m, 4), round(part.rmse_m, 4)
    (0.04, 0.0141, 0.0412)
    >>> component_statistics("up", np.array([])).rmse_m
    nan
    """
    count = len(values_m)
    rmse_m = root_mean_square(values_m)
    bounds = rmse_bounds(rmse_m, count)
    if count == 0:
        return ComponentStatistics(
            component, 0, rmse_m, bounds.interval_m, bounds.upper95_m, bounds.lower95_m, float("nan")
        )
    errors_m = [float(ndtri((1 + share) / 2)) * rmse_m for share in _SHARES]
    mean_m, std_m = float(values_m.mean()), float(values_m.std(ddof=1)) if count > 1 else _NAN
    return ComponentStatistics(
        component=component,
        count=count,
        rmse_m=rmse_m,
        rmse_interval_m=bounds.interval_m,
        rmse_upper95_m=bounds.upper95_m,
        rmse_lower95_m=bounds.lower95_m,
        max_abs_m=float(np.abs(values_m).max()),
        mean_m=mean_m,
        std_m=std_m,
        median_m=float(np.median(values_m)),
        nmad_m=normalised_deviation(values_m),
        freedom=count,
        mean_interval_m=_mean_interval(mean_m, std_m, count),
        skewness=skewness(values_m),
        quantile683_m=absolute_quantile(values_m, ONE_SIGMA_SHARE),
        quantile95_m=absolute_quantile(values_m, 0.95),
        error50_m=errors_m[0],
        error90_m=errors_m[1],
        error95_m=errors_m[2],
        error95_bounds_m=(LE95 * bounds.lower95_m, LE95 * bounds.upper95_m),
    )


def radial_statistics(plan_m: FloatArray) -> ComponentStatistics:
    """Return the statistics of the plan, shape (n, 2): the radial RMSE, its bounds, the longest vector."""
    count = len(plan_m)
    lengths_m = np.hypot(plan_m[:, 0], plan_m[:, 1])
    rmse_m = root_mean_square(lengths_m)
    freedom = plan_freedom(plan_m) if count else 0.0
    bounds = rmse_bounds(rmse_m, freedom)
    axes = principal_rms(plan_m) if count else (_NAN, _NAN)
    errors_m = [circular_error(share, *axes) if count else _NAN for share in _SHARES]
    return ComponentStatistics(
        component="horizontal",
        count=count,
        rmse_m=rmse_m,
        rmse_interval_m=bounds.interval_m,
        rmse_upper95_m=bounds.upper95_m,
        rmse_lower95_m=bounds.lower95_m,
        max_abs_m=float(lengths_m.max()) if count else _NAN,
        freedom=freedom,
        quantile683_m=absolute_quantile(lengths_m, ONE_SIGMA_SHARE),
        quantile95_m=absolute_quantile(lengths_m, 0.95),
        error50_m=errors_m[0],
        error90_m=errors_m[1],
        error95_m=errors_m[2],
        error95_bounds_m=circle_bounds(errors_m[2], axes, count),
    )


def _mean_interval(mean_m: float, std_m: float, count: int) -> Interval:
    """Return the interval of the true mean, [NIST-EH], section 1.3.5.2; NaN for one point."""
    if count < 2:
        return _NAN, _NAN
    half_m = float(stdtrit(count - 1, (1 + CONFIDENCE) / 2)) * std_m / float(np.sqrt(count))
    return mean_m - half_m, mean_m + half_m


def skewness(values: FloatArray) -> float:
    """Return the third central moment over that power of the second, divisors n; NaN without spread.

    Examples
    --------
    >>> round(skewness(np.array([0.0, 0.0, 3.0])), 4)
    0.7071
    """
    if len(values) < 3:
        return _NAN
    apart = values - values.mean()
    variance = float(np.mean(apart**2))
    return float(np.mean(apart**3)) / variance**1.5 if variance > 0 else _NAN


def normalised_deviation(values_m: FloatArray) -> float:
    """Return the NMAD: 1.4826 times the median deviation from the median; NaN for fewer than two values.

    Examples
    --------
    >>> round(normalised_deviation(np.array([0.0, 0.01, 0.03, 5.0])), 6)
    0.022239
    """
    if len(values_m) < 2:
        return float("nan")
    return NMAD_FACTOR * float(np.median(np.abs(values_m - np.median(values_m))))


def root_mean_square(values: FloatArray) -> float:
    """Return the root mean square about zero, divisor n; NaN for no value."""
    return float(np.sqrt(np.mean(values**2))) if len(values) else float("nan")


def _measured_plan(residuals: ResidualSet) -> BoolArray:
    return np.asarray(np.isfinite(residuals.delta_m[:, :2]).all(axis=1))


def _measured_height(residuals: ResidualSet) -> BoolArray:
    return np.asarray(np.isfinite(residuals.delta_m[:, 2]))


def _admitted(use: Use, reasons: frozenset[UseReason]) -> BoolArray:
    if not reasons:
        return use.used
    outweighed = np.array([reason in reasons for reason in use.reasons], dtype=bool)
    return np.asarray(use.used | outweighed)
