"""Fit to the checkpoints, the product alone, and absolute accuracy, kept apart."""

from typing import Literal

import numpy as np

from geoqa.accuracy.common_error import NO_BASE, CommonError
from geoqa.accuracy.limits import metres
from geoqa.accuracy.survey_error import HEIGHT, PLAN, mean_variance
from geoqa.numerics.arrays import FloatArray
from geoqa.records.results import (
    AccuracyFigure,
    AccuracyStatistics,
    ComponentStatistics,
    ResidualSet,
    ThreeNumbers,
)

FIT = (
    "the surveyed checkpoints: errors of single points of the survey are in it, an error that survey "
    "and product share, such as that of a common base, is not"
)
ALONE = (
    "the surveyed checkpoints, with the stated variances of survey and target location taken off; "
    "the interval trusts these variances"
)
NO_POINT = "not stated, because no checkpoint could be used"


def three_numbers(
    residuals: ResidualSet, statistics: AccuracyStatistics, common: CommonError = NO_BASE
) -> ThreeNumbers:
    """Return the three accuracy figures, horizontal and vertical each.

    Parameters
    ----------
    residuals
        With the standard deviations of survey and target location.
    statistics
        Of the points that count in `residuals`.
    common
        What survey and products share, which the residuals do not show.
    """
    plan, height = residuals.horizontal.used, residuals.vertical.used
    variances_m2 = (
        mean_variance(residuals.sigma_survey_m[plan, PLAN])
        + mean_variance(residuals.sigma_product_m[plan, PLAN]),
        mean_variance(residuals.sigma_survey_m[height, HEIGHT]),
    )
    parts = (statistics.horizontal, statistics.up)
    return ThreeNumbers(
        fit=(_fit(parts[0]), _fit(parts[1])),
        product_alone=(
            _alone(parts[0], variances_m2[0], _lacking(residuals, "horizontal")),
            _alone(parts[1], variances_m2[1], _lacking(residuals, "vertical")),
        ),
        absolute=(_absolute(parts[0], common, 0), _absolute(parts[1], common, 1)),
    )


def in_words(numbers: ThreeNumbers) -> str:
    """Return the three figures as one sentence for a client, each with what it is relative to."""
    fit, alone, absolute = (
        " and ".join("not stated" if figure.rmse_m is None else metres(figure.rmse_m) for figure in pair)
        for pair in (numbers.fit, numbers.product_alone, numbers.absolute)
    )
    return (
        f"RMSE horizontal and vertical: relative to the survey {fit}; of the product alone {alone}; "
        f"absolute, with base and frame, {absolute}."
    )


def _fit(part: ComponentStatistics) -> AccuracyFigure:
    if part.count == 0:
        return AccuracyFigure(None, None, NO_POINT)
    return AccuracyFigure(part.rmse_m, part.rmse_interval_m, FIT)


def _alone(part: ComponentStatistics, variance_m2: float, lacking: str) -> AccuracyFigure:
    """Return the figure with a known variance taken off the square of the fit and of its bounds."""
    if part.count == 0:
        return AccuracyFigure(None, None, NO_POINT)
    if np.isnan(variance_m2):
        return AccuracyFigure(None, None, f"not separable: {lacking}")
    low_m, high_m = part.rmse_interval_m
    if high_m**2 < variance_m2:
        return AccuracyFigure(None, None, _too_good(part, variance_m2))
    interval = (_without(low_m, variance_m2), _without(high_m, variance_m2))
    return AccuracyFigure(_without(part.rmse_m, variance_m2), interval, ALONE)


def _absolute(part: ComponentStatistics, common: CommonError, direction: int) -> AccuracyFigure:
    """Return the figure with a variance that is not in the fit added to its square and that of its bounds."""
    if not common.known:
        return AccuracyFigure(None, None, common.relative_to)
    if part.count == 0:
        return AccuracyFigure(None, None, NO_POINT)
    added_m = float(np.sqrt(common.variances_m2[direction]))
    low_m, high_m = (float(np.hypot(bound, added_m)) for bound in part.rmse_interval_m)
    return AccuracyFigure(float(np.hypot(part.rmse_m, added_m)), (low_m, high_m), common.relative_to)


def _without(rmse_m: float, variance_m2: float) -> float:
    return float(np.sqrt(max(rmse_m**2 - variance_m2, 0.0)))


def _too_good(part: ComponentStatistics, variance_m2: float) -> str:
    return (
        f"not separable: the fit of {metres(part.rmse_m)} is closer than the stated standard deviations "
        f"of survey and target location allow ({metres(float(np.sqrt(variance_m2)))} together); they are "
        "too large, or the points took part in making the product"
    )


def _lacking(residuals: ResidualSet, direction: Literal["horizontal", "vertical"]) -> str:
    """Return which standard deviations are missing at how many of the points that count."""
    if direction == "vertical":
        rows, columns, located = residuals.vertical.used, HEIGHT, 0
    else:
        rows, columns = residuals.horizontal.used, PLAN
        located = _unknown(residuals.sigma_product_m[rows, columns])
    surveyed, count = _unknown(residuals.sigma_survey_m[rows, columns]), int(rows.sum())
    lacks = []
    if surveyed:
        lacks.append(f"the standard deviation of the survey is missing at {surveyed} of {count} points")
    if located:
        lacks.append(f"the uncertainty of the target location is not known at {located} of {count} points")
    return ", and ".join(lacks)


def _unknown(sigma_m: FloatArray) -> int:
    return int((~(sigma_m > 0).all(axis=1)).sum())
