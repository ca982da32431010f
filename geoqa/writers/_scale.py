"""Round lengths for scale bars, reference arrows and coordinate ticks."""

import math

import numpy as np

from geoqa.numerics.arrays import FloatArray
from geoqa.writers._numbers import plain

_STEPS = (1.0, 2.0, 5.0)


def round_below(length: float) -> float:
    """Return the largest number 1, 2 or 5 × 10^k that is not above a positive length.

    Examples
    --------
    >>> round_below(87.0)
    50.0
    >>> round_below(0.02)
    0.02
    """
    power = math.floor(math.log10(length))
    # Written as text so that 2 × 10⁻² is the float nearest to 0.02.
    candidates = [float(f"{digit:g}e{exponent}") for exponent in (power, power + 1) for digit in _STEPS]
    return max(candidate for candidate in candidates if candidate <= length * (1 + 1e-9))


def ticks(low: float, high: float, most: int) -> tuple[FloatArray, float]:
    """Return the round coordinates between low and high, at most so many, and their step.

    Examples
    --------
    >>> ticks(512012.0, 512252.0, 4)[0].tolist()
    [512100.0, 512200.0]
    """
    step = round_below((high - low) / most)
    while math.floor(high / step) - math.ceil(low / step) + 1 > most:
        step = round_below(step * 2.5)
    numbers = np.arange(math.ceil(low / step), math.floor(high / step) + 1)
    return np.asarray(numbers * step, dtype=np.float64), step


def tick_label(coordinate: float, step: float) -> str:
    """Return a coordinate with the decimals that its step needs and no more.

    Examples
    --------
    >>> tick_label(512100.0, 100.0), tick_label(0.25, 0.05)
    ('512100', '0.25')
    """
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    return f"{coordinate:.{decimals}f}".replace("-", "−")


def length_text(metres: float) -> str:
    """Return a length in the unit that keeps its number short.

    Examples
    --------
    >>> [length_text(value) for value in (2000.0, 50.0, 0.05, 0.002)]
    ['2 km', '50 m', '5 cm', '2 mm']
    """
    for size, symbol in ((1000.0, "km"), (1.0, "m"), (0.01, "cm")):
        if metres >= size * (1 - 1e-9):
            return f"{plain(float(f'{metres / size:.4g}'))} {symbol}"
    return f"{plain(float(f'{metres * 1000:.4g}'))} mm"
