"""What a square panel looks like: its pattern in its own axes."""

from collections.abc import Callable
from dataclasses import dataclass
from math import pi

from geoqa.numerics.arrays import FloatArray
from geoqa.numerics.edges import blurred_bar


@dataclass(frozen=True)
class PanelPattern:
    """The two-tone pattern of a square panel, the same after a half turn.

    The axes u and v start in the centre and run along two sides; half a side is 1. A quarter turn leaves
    the pattern as it is or swaps its tones.

    Attributes
    ----------
    kind
        Id of the kind of target.
    tone
        From u, v and a blur (Gaussian sigma), all in half sides, to −1 (one tone) … +1 (the other).
        It goes on beyond the panel as if there were no outline.
    """

    kind: str
    tone: Callable[[FloatArray, FloatArray, float], FloatArray]


# Angles beyond a quarter turn repeat the pattern or swap its tones.
QUARTER_TURN = pi / 2


def cover(u: FloatArray, v: FloatArray, blur: float) -> FloatArray:
    """Return the share of the panel in each place: 1 on it, 0 beside it, between along its outline."""
    share: FloatArray = blurred_bar(u, 1.0, blur) * blurred_bar(v, 1.0, blur)
    return share
