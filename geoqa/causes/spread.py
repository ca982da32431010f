"""Whether one group of residuals scatters more than another, and from which ratio on that would show."""

import math
from dataclasses import dataclass

from scipy.special import fdtrc, fdtri

from geoqa.accuracy.detection import POWER
from geoqa.causes.power import FALSE_ALARM
from geoqa.numerics.arrays import FloatArray


@dataclass(frozen=True)
class SpreadTest:
    """Two root mean squares held against each other.

    Attributes
    ----------
    ratio
        Larger over smaller group as named: first over second.
    limit
        Ratio from which on the test sees it with 80 % power.
    chance
        Probability that equal scatter gives as large a ratio.
    """

    ratio: float
    limit: float
    chance: float


def compare_spread(first: FloatArray, second: FloatArray) -> SpreadTest | None:
    """Return whether the first group scatters more about zero than the second; None for too few.

    Parameters
    ----------
    first, second : arrays, shape (n,), (m,)
        Residuals without what is systematic, metres.

    References
    ----------
    [NIST-EH]_, section 1.3.5.9: F test for two variances; the power follows since the ratio of the sample
    variances over that of the true ones is distributed as F.

    Examples
    --------
    >>> import numpy as np
    >>> compare_spread(np.full(10, 2.0), np.full(10, 1.0)).ratio
    2.0
    """
    n, m = len(first), len(second)
    if n < 2 or m < 2:
        return None
    above, below = float(first @ first) / n, float(second @ second) / m
    if below <= 0.0:
        return None
    critical = float(fdtri(n, m, 1 - FALSE_ALARM))
    return SpreadTest(
        ratio=math.sqrt(above / below),
        limit=math.sqrt(critical / float(fdtri(n, m, 1 - POWER))),
        chance=float(fdtrc(n, m, above / below)),
    )
