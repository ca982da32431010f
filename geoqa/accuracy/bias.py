"""Whether a mean differs from zero by more than chance."""

import math

import numpy as np
from scipy.special import fdtrc, stdtrit

from geoqa.accuracy.limits import checkpoints
from geoqa.numerics.arrays import FloatArray
from geoqa.records.evidence import PlanBias
from geoqa.records.results import ComponentStatistics

CONFIDENCE = 0.95


def student_t(part: ComponentStatistics) -> float:
    """Return the mean over its standard error; NaN for one point or where all residuals are equal.

    References
    ----------
    [NIST-EH]_, section 1.3.5.2.
    """
    return part.mean_m / (part.std_m / math.sqrt(part.count)) if part.std_m > 0 else float("nan")


def significance(part: ComponentStatistics) -> str | None:
    """Return a sentence on whether the mean is more than chance allows, or None where t has no value."""
    t = student_t(part)
    if math.isnan(t):
        return None
    beyond = abs(t) > float(stdtrit(part.count - 1, (1 + CONFIDENCE) / 2))
    words = "more" if beyond else "no more"
    return f"At {checkpoints(part.count)} this mean is {words} than chance allows (95 %, t = {t:.1f})."


def plan_bias(plan_m: FloatArray) -> PlanBias | None:
    """Return the mean vector of the plan with Hotelling's test; None for no point.

    Parameters
    ----------
    plan_m : array, shape (n, 2)
        East and north residuals, metres, all known.

    References
    ----------
    [Hotelling1931]_: T² (n − 2) / (2 (n − 1)) is distributed as F with 2 and n − 2 degrees of
    freedom.

    Examples
    --------
    >>> found = plan_bias(np.array([[0.03, 0.0], [0.01, 0.01], [0.02, -0.01]]))
    >>> round(found.length_m, 4), round(found.azimuth_deg), round(found.t_squared, 2)
    (0.02, 90, 16.0)
    """
    count = len(plan_m)
    if count == 0:
        return None
    mean = plan_m.mean(axis=0)
    apart = plan_m - mean
    t_squared = probability = float("nan")
    scatter = apart.T @ apart
    if count > 2 and np.linalg.det(scatter) > 1e-12 * float(np.trace(scatter)) ** 2:
        t_squared = float(count * (count - 1) * mean @ np.linalg.solve(scatter, mean))
        probability = float(fdtrc(2, count - 2, t_squared * (count - 2) / (2 * (count - 1))))
    azimuth_deg = math.degrees(math.atan2(mean[0], mean[1])) % 360
    return PlanBias(float(np.hypot(*mean)), azimuth_deg, t_squared, probability)
