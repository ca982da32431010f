"""What a target looks like: its pattern in its own axes, panel or paint."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import pi
from typing import TypeAlias

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.numerics.edges import blurred_bar, blurred_step

# From u, v, a blur (Gaussian sigma) and the proportions to −1 (one tone) … +1 (the other).
Tone: TypeAlias = Callable[[FloatArray, FloatArray, float, Sequence[float]], FloatArray]

# A turn by this leaves the pattern as it is or swaps its tones.
QUARTER_TURN, FULL_TURN, ANY_TURN = pi / 2, 2 * pi, 0.0
# Around a painted mark so much ground belongs to its picture, in half sides.
_PAINT_MARGIN = 1.25
# Corners of a circle where it is drawn.
_CIRCLE_CORNERS = 36


@dataclass(frozen=True)
class Likelihood:
    """Weights of what speaks for a target of a kind, in natural logarithms of the odds.

    They are learnt by `python -m tests.benchmarks.learn_targets`; `_evidence.features` says what each
    of them weighs.
    """

    constant: float
    unknown_size: float
    unexplained: float
    continuation: float
    aspect: float
    size: float
    softness: float
    faintness: float
    smallness: float
    weakness: float
    proportions: float
    shadow: float


PANEL_LIKELIHOOD = Likelihood(
    constant=-2.00,
    unknown_size=0.00,
    unexplained=-6.00,
    continuation=-20.00,
    aspect=-10.00,
    size=-44.79,
    softness=-30.15,
    faintness=-4.14,
    smallness=0.52,
    weakness=-11.00,
    proportions=0.00,
    shadow=-1.00,
)


@dataclass(frozen=True)
class TargetPattern:
    """The two-tone pattern of a target.

    The axes u and v start in its middle; half its side, or its radius, is 1.

    Attributes
    ----------
    kind
        Id of the kind of target.
    tone
        All lengths in half sides. It goes on beyond the outline as if there were none.
    likelihood
        How evidence is weighed.
    painted
        True where tone +1 is paint and tone −1 is the ground itself; a panel has two tones of its own.
    round
        Outline: a circle, or a square.
    turn
        The turn that leaves the pattern as it is or swaps its tones; 0 where any does.
    proportions
        Usual widths of its parts in half sides; the fit may change them.
    point
        From the proportions to u, v of the point that is surveyed. None for the middle, about which the
        pattern then must look the same after half a turn.
    corners
        From the proportions to u, v of the corners of the painted strokes, for drawing; None for the
        outline.
    """

    kind: str
    tone: Tone
    likelihood: Likelihood = PANEL_LIKELIHOOD
    painted: bool = False
    round: bool = False
    turn: float = QUARTER_TURN
    proportions: tuple[float, ...] = ()
    point: Callable[[Sequence[float]], tuple[float, float]] | None = None
    corners: Callable[[Sequence[float]], Sequence[tuple[float, float]]] | None = None

    def share(self, u: FloatArray, v: FloatArray, blur: float) -> FloatArray:
        """Return the share within the outline: 1 in it, 0 beside it, between along it."""
        if self.round:
            share: FloatArray = 0.5 - 0.5 * blurred_step(np.hypot(u, v) - 1.0, blur)
        else:
            share = blurred_bar(u, 1.0, blur) * blurred_bar(v, 1.0, blur)
        return share

    def outline(self, proportions: Sequence[float]) -> FloatArray:
        """Return u, v of the corners of the outline, shape (k, 2): a square or a circle, or the strokes."""
        if self.corners is not None:
            return np.array(self.corners(proportions))
        if self.round:
            turns = 2.0 * np.pi * np.arange(_CIRCLE_CORNERS) / _CIRCLE_CORNERS
            return np.column_stack((np.cos(turns), np.sin(turns)))
        return np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])

    def distance(self, u: FloatArray, v: FloatArray) -> FloatArray:
        """Return how far out a place lies: 1 on the outline."""
        distance: FloatArray = np.hypot(u, v) if self.round else np.maximum(np.abs(u), np.abs(v))
        return distance

    def footprint(self, u: FloatArray, v: FloatArray) -> BoolArray:
        """Return which places must look like the target: the panel, or paint and the ground beside it."""
        footprint: BoolArray = self.distance(u, v) < (_PAINT_MARGIN if self.painted else 1.0)
        return footprint

    def parts(
        self, u: FloatArray, v: FloatArray, blur: float, proportions: Sequence[float]
    ) -> tuple[FloatArray, ...]:
        """Return pictures whose sum, each times a grey value, is the target on its ground.

        Panel: its mean tone, half the difference of its tones, ground. Paint: paint, ground.
        """
        share = self.share(u, v, blur)
        tone = self.tone(u, v, blur, proportions)
        if self.painted:
            paint = share * (0.5 + 0.5 * tone)
            return paint, 1.0 - paint
        return share, share * tone, 1.0 - share
