"""The part of the survey in the residuals, from the standard deviations that came with the points."""

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.results import ResidualSet

PLAN = slice(0, 2)
HEIGHT = slice(2, 3)


def survey_rmse(residuals: ResidualSet, rows: BoolArray, columns: slice) -> float:
    """Return the root mean square error of the survey at the chosen points, metres.

    For the plan the variances east and north of a point are added: it is a radial figure.

    Parameters
    ----------
    rows
        True for the points to look at, shape (n,).
    columns
        `PLAN` or `HEIGHT`.

    Returns
    -------
    float
        NaN where a point has no standard deviation, or no point was chosen.
    """
    return float(np.sqrt(mean_variance(residuals.sigma_survey_m[rows, columns])))


def mean_variance(sigma_m: FloatArray) -> float:
    """Return the mean over the points of the variances of a point added up, square metres.

    A standard deviation of zero is one that was not given: nothing is measured without error.

    Parameters
    ----------
    sigma_m : array, shape (n, c)

    Returns
    -------
    float
        NaN where a standard deviation is missing, or n is 0.

    Examples
    --------
    >>> round(mean_variance(np.array([[0.03, 0.04], [0.03, 0.04]])), 6)
    0.0025
    >>> mean_variance(np.array([[0.03, np.nan]]))
    nan
    """
    if len(sigma_m) == 0 or not bool((sigma_m > 0).all()):
        return float("nan")
    return float((sigma_m**2).sum(axis=1).mean())
