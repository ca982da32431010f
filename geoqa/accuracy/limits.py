"""Comparing a figure with its limit, unrounded, and printing both so that the comparison shows."""

# Coordinates of millions of metres in double precision carry a few nanometres; a figure that
# exceeds its limit by less has not been shown to exceed it.
COORDINATE_NOISE_M = 1e-8
_MOST_DECIMALS = 9


def within_limit(value_m: float, limit_m: float) -> bool:
    """Return whether a figure is at most its limit, without rounding.

    Examples
    --------
    >>> within_limit(0.05, 0.05), within_limit(0.050049, 0.05)
    (True, False)
    """
    return value_m <= limit_m + COORDINATE_NOISE_M


def metres(value_m: float, beside_m: float | None = None, *, unit: str = "m") -> str:
    """Return a length to the millimetre, with more decimals where it would print like its limit.

    Parameters
    ----------
    beside_m
        The limit that it is printed beside.
    unit
        The word for metres.

    Examples
    --------
    >>> metres(0.0212), metres(0.050049, beside_m=0.05)
    ('0.021 m', '0.05005 m')
    """
    return f"{_distinct(value_m, beside_m, 3)} {unit}"


def centimetres(value_m: float, beside_m: float | None = None) -> str:
    """Return a length in centimetres with one decimal, or more as in `metres`.

    Examples
    --------
    >>> centimetres(0.0212), centimetres(0.050049, beside_m=0.05)
    ('2.1 cm', '5.005 cm')
    """
    return f"{_distinct(100 * value_m, None if beside_m is None else 100 * beside_m, 1)} cm"


def checkpoints(count: int) -> str:
    """Return "1 checkpoint", "14 checkpoints" and so on."""
    return f"{count} checkpoint{'' if count == 1 else 's'}"


def _distinct(value: float, beside: float | None, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    if beside is None or within_limit(abs(value - beside), 0.0):
        return text
    while text == f"{beside:.{decimals}f}" and decimals < _MOST_DECIMALS:
        decimals += 1
        text = f"{value:.{decimals}f}"
    return text
