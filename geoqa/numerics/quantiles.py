"""Quantiles of absolute values by one stated definition, and what order statistics say of them."""

import numpy as np
from scipy.special import bdtr

from geoqa.numerics.arrays import FloatArray

Interval = tuple[float, float]


def absolute_quantile(values: FloatArray, probability: float) -> float:
    """Return the quantile of the absolute values: linear between ranks, rank P(n − 1) + 1.

    With few values a high quantile lies between the two largest. NaN for no value.

    Examples
    --------
    >>> round(absolute_quantile(np.array([0.0, -0.1, 0.2]), 0.95), 4)
    0.19
    """
    if len(values) == 0:
        return float("nan")
    return float(np.quantile(np.abs(values), probability, method="linear"))


def order_interval(values: FloatArray, probability: float, confidence: float = 0.95) -> Interval:
    """Return the two-sided interval of a quantile from order statistics, whatever the distribution.

    Each tail holds at most half of what the confidence leaves. NaN at an end that so few values
    cannot bound.

    References
    ----------
    [DavidNagaraja2003]_, section 7.1 (from memory): the number of values below the quantile is
    binomial.

    Examples
    --------
    >>> [round(end, 1) for end in order_interval(np.arange(1.0, 11.0), 0.5)]
    [2.0, 9.0]
    """
    count = len(values)
    ordered = np.sort(values)
    tail = (1 - confidence) / 2
    below = bdtr(np.arange(count + 1), count, probability) if count else np.empty(0)
    # The value of rank k lies above the quantile with the probability of fewer than k below it.
    low = int(np.searchsorted(below, tail, side="right"))
    high = int(np.searchsorted(below, 1 - tail, side="left")) + 1
    nothing = float("nan")
    return (
        float(ordered[low - 1]) if 1 <= low <= count else nothing,
        float(ordered[high - 1]) if 1 <= high <= count else nothing,
    )
