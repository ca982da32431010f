"""What a test with so few points can see.

A pattern of p amplitudes, fitted to residuals with f degrees of freedom left, shows itself by the sum of
squares S that it takes off: S/(p·σ²) follows F with p and f degrees of freedom where there is no pattern,
and the noncentral F with λ = Σ(effect²)/σ² where there is one. The detection limit is the λ at which the
test, at its risk of a false alarm, sees the pattern with 80 % power.
"""

import math
from functools import lru_cache

from scipy.special import fdtrc

from geoqa.accuracy import detection

# Risk of one test of calling noise a pattern. A finding has to lie above the detection limit as well, which
# brings the risk down to about a tenth of this.
FALSE_ALARM = 0.01


@lru_cache(maxsize=4096)
def noncentrality(amplitudes: int, freedom: int, false_alarm: float = FALSE_ALARM) -> float:
    """Return λ at the detection limit: 80 % power at this risk of a false alarm; inf without freedom.

    For one amplitude √λ is the detection limit in standard deviations of the estimate.

    Parameters
    ----------
    amplitudes, freedom
        Degrees of freedom of the pattern and of what is left, p and f.

    References
    ----------
    [NIST-EH]_, section 7.2.2.2: sample sizes from the risks of both kinds.

    Examples
    --------
    With the standard deviation known, two-sided 5 %: 1.960 + 0.842 standard deviations.

    >>> round(noncentrality(1, 1_000_000, 0.05) ** 0.5, 3)
    2.802
    >>> noncentrality(1, 0)
    inf
    """
    if freedom < 1 or amplitudes < 1:
        return math.inf
    return detection.noncentrality(amplitudes, freedom, false_alarm)


def significance(gain: float, amplitudes: int, freedom: int) -> float:
    """Return the probability that noise alone takes off as much; 1 without freedom.

    It is as well the share of arbitrary patterns, all directions alike, that would match as closely.

    Parameters
    ----------
    gain
        Sum of squares taken off, divided by the variance of what is left.

    Examples
    --------
    >>> round(significance(4.0, 1, 1_000_000), 4)
    0.0455
    """
    if freedom < 1 or amplitudes < 1:
        return 1.0
    return float(fdtrc(amplitudes, freedom, max(gain, 0.0) / amplitudes))
