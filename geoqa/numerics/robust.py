"""Weights, scale and confidence of least squares when some observations are wrong."""

import numpy as np

from geoqa.numerics.arrays import FloatArray

# [HollandWelsch1977], table of tuning constants (from memory): 95 % efficiency with Gaussian errors.
TUKEY_TUNING = 4.685
# E[w e²] / E[w] of a standard Gaussian e with Tukey's weights w at this tuning: what the weights take
# off a variance.
TUKEY_CONSISTENCY = 0.8281
# A standard Gaussian has the median absolute value 0.6745.
_SIGMAS_PER_MEDIAN = 1.4826


def tukey_weights(residuals: FloatArray, sigma: float) -> FloatArray:
    """Return Tukey's biweights: 1 for a residual of 0, falling to 0 at 4.685 sigma and beyond.

    Examples
    --------
    >>> tukey_weights(np.array([0.0, 4.685, 9.0]), 1.0)
    array([1., 0., 0.])
    """
    shares = 1.0 - (residuals / (TUKEY_TUNING * sigma)) ** 2
    weights: FloatArray = np.clip(shares, 0.0, None) ** 2
    return weights


def robust_sigma(residuals: FloatArray) -> float:
    """Return the standard deviation of Gaussian residuals about 0 from their median absolute value.

    Examples
    --------
    >>> round(robust_sigma(np.array([-0.6745, 0.6745, 100.0])), 3)
    1.0
    """
    return _SIGMAS_PER_MEDIAN * float(np.median(np.abs(residuals)))


def ellipse_inflation(degrees_of_freedom: float, outside: float = 0.05) -> float:
    """Return the factor on a 2 × 2 covariance that makes its chi-square ellipse hold as it should.

    A covariance whose scale was estimated with ν degrees of freedom calls for the ellipse
    2 F(2, ν) instead of χ²(2); this is the ratio of both at the probability 1 − outside. For two
    numerator degrees of freedom the F distribution has a closed form,
    P(F > x) = (1 + 2 x / ν)^(−ν / 2).

    Examples
    --------
    >>> round(ellipse_inflation(10.0) * 5.9915 / 2, 2)
    4.1
    """
    nu = degrees_of_freedom
    return float(nu * (outside ** (-2.0 / nu) - 1.0) / (-2.0 * np.log(outside)))
