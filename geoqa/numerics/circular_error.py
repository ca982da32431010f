"""The circle that holds a share of normally distributed plan errors, by exact integration."""

from functools import cache

import numpy as np
from scipy.special import erf, i0e, ndtri

from geoqa.numerics.arrays import FloatArray

_NODES = 200
_MOST_STEPS, _TOLERANCE = 60, 1e-12


def circular_error(probability: float, sigma_1: float, sigma_2: float) -> float:
    """Return the radius of the circle about zero that holds this share of the errors.

    The errors are normal, without bias, and uncorrelated along the two axes: `principal_rms` gives
    sigmas for which the last is true.

    Parameters
    ----------
    probability
        Between 0 and 1, both excluded.
    sigma_1, sigma_2
        Standard deviations along the axes, in any order and unit; one or both may be 0.

    References
    ----------
    [Harter1960]_ tabulates the same integral.

    Examples
    --------
    >>> round(circular_error(0.95, 1.0, 1.0), 4), round(circular_error(0.95, 1.0, 0.0), 4)
    (2.4477, 1.96)
    """
    large, small = max(sigma_1, sigma_2), min(sigma_1, sigma_2)
    if large == 0.0:
        return 0.0
    ratio = small / large
    # Errors along one line need the smallest circle, round ones the largest.
    low, high = float(ndtri((1 + probability) / 2)), float(np.sqrt(-2 * np.log1p(-probability)))
    radius = (low + high) / 2
    for _ in range(_MOST_STEPS):
        missing = probability - share_within(radius, ratio)
        low, high = (radius, high) if missing > 0 else (low, radius)
        step = missing / _density(radius, ratio)
        if abs(step) < _TOLERANCE:
            break
        # Newton's step where it stays between the ends, else a halving.
        radius = radius + step if low < radius + step < high else (low + high) / 2
    return large * radius


def _density(radius: float, ratio: float) -> float:
    """Return the derivative of `share_within` by the radius: the density of the length of an error."""
    if ratio == 0.0:
        return float(np.sqrt(2 / np.pi) * np.exp(-(radius**2) / 2))
    unequal = radius**2 * (1 / ratio**2 - 1) / 4
    return float(radius / ratio * i0e(unequal) * np.exp(-(radius**2) / 2))


def share_within(radius: float, ratio: float) -> float:
    """Return the share of errors within a circle, for sigmas 1 and `ratio` (0 to 1).

    The strip of the circle at the distance x = r·sin(t) along the major axis holds
    φ(x)·erf(r·cos(t) / (ratio·√2)) of them; t runs over a quarter circle, which is doubled.
    """
    if ratio == 0.0:
        return float(erf(radius / np.sqrt(2)))
    nodes, weights = _quadrature()
    t = (nodes + 1) * np.pi / 4
    half_chord = radius * np.cos(t)
    density = np.exp(-((radius * np.sin(t)) ** 2) / 2) / np.sqrt(2 * np.pi)
    strips = density * erf(half_chord / (ratio * np.sqrt(2))) * half_chord
    return float(2 * (weights * strips).sum() * np.pi / 4)


@cache
def _quadrature() -> tuple[FloatArray, FloatArray]:
    """Return nodes and weights of the integration between −1 and 1."""
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    return nodes, weights


def principal_rms(plan: FloatArray) -> tuple[float, float]:
    """Return the root mean squares along the principal axes of the errors, the larger first.

    Parameters
    ----------
    plan : array, shape (n, 2)
        Errors east and north, n ≥ 1. Their mean is kept.

    Examples
    --------
    >>> [round(value, 3) for value in principal_rms(np.array([[0.03, 0.03], [-0.03, -0.03]]))]
    [0.042, 0.0]
    """
    moments = np.linalg.eigvalsh(plan.T @ plan / len(plan))
    # Rounding may leave the smaller one a hair below zero.
    small, large = np.sqrt(np.clip(moments, 0.0, None))
    return float(large), float(small)
