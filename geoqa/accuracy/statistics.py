"""Statistics of residuals: of the points that count, and by group."""

from collections.abc import Mapping
from typing import Literal

import numpy as np

from geoqa.accuracy.intervals import plan_freedom, rmse_bounds
from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.results import AccuracyStatistics, ComponentStatistics, ResidualSet, Use, UseReason

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
    [NSSDA1998]_, section 3-A, for the RMSE about zero; [Hoehle2009]_ for the NMAD.

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
    median_m = float(np.median(values_m))
    several = count > 1
    return ComponentStatistics(
        component=component,
        count=count,
        rmse_m=rmse_m,
        rmse_interval_m=bounds.interval_m,
        rmse_upper95_m=bounds.upper95_m,
        rmse_lower95_m=bounds.lower95_m,
        max_abs_m=float(np.abs(values_m).max()),
        mean_m=float(values_m.mean()),
        std_m=float(values_m.std(ddof=1)) if several else float("nan"),
        median_m=median_m,
        nmad_m=normalised_deviation(values_m),
    )


def radial_statistics(plan_m: FloatArray) -> ComponentStatistics:
    """Return the statistics of the plan, shape (n, 2): the radial RMSE, its bounds, the longest vector."""
    count = len(plan_m)
    lengths_m = np.hypot(plan_m[:, 0], plan_m[:, 1])
    rmse_m = root_mean_square(lengths_m)
    bounds = rmse_bounds(rmse_m, plan_freedom(plan_m) if count else 0)
    return ComponentStatistics(
        component="horizontal",
        count=count,
        rmse_m=rmse_m,
        rmse_interval_m=bounds.interval_m,
        rmse_upper95_m=bounds.upper95_m,
        rmse_lower95_m=bounds.lower95_m,
        max_abs_m=float(lengths_m.max()) if count else float("nan"),
    )


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
