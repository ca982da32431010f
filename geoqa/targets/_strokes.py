"""Tones of patterns that several kinds of target share."""

from collections.abc import Sequence

import numpy as np

from geoqa.numerics.arrays import FloatArray
from geoqa.numerics.edges import blurred_bar, blurred_step


def quadrants(u: FloatArray, v: FloatArray, blur: float, proportions: Sequence[float] = ()) -> FloatArray:
    """Return +1 where u and v have one sign and −1 where they differ, blurred."""
    tone: FloatArray = blurred_step(u, blur) * blurred_step(v, blur)
    return tone


def crossing_bars(u: FloatArray, v: FloatArray, blur: float, half_widths: tuple[float, float]) -> FloatArray:
    """Return +1 on the bars |u| and |v| within their half widths and −1 beside them, blurred."""
    one, other = blurred_bar(u, half_widths[0], blur), blurred_bar(v, half_widths[1], blur)
    tone: FloatArray = 2.0 * (one + other - one * other) - 1.0
    return tone


def eighth_turn(u: FloatArray, v: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the axes turned by 45°."""
    root = np.sqrt(0.5)
    return root * (u - v), root * (u + v)
