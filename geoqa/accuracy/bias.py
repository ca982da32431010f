"""Whether a mean differs from zero by more than chance."""

import math

from scipy.special import stdtrit

from geoqa.accuracy.limits import checkpoints
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
