"""What each kind of target looks like: where it is, and where it is bright.

Each function goes from places in the target's own axes, in sides or diameters, to whether they lie on the
target, and whether it is bright there. Both axes start in the point that is surveyed.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray

Places: TypeAlias = Callable[[FloatArray, FloatArray], tuple[BoolArray, BoolArray]]

# Width of a stroke in lengths.
_STROKE = 0.2


@dataclass(frozen=True)
class Pattern:
    """A kind of target, and how far it reaches from its point, in sides or diameters."""

    places: Places
    reach: float = 0.5**0.5


def _square(across: FloatArray, down: FloatArray) -> BoolArray:
    inside: BoolArray = np.maximum(abs(across), abs(down)) <= 0.5
    return inside


def _circle(across: FloatArray, down: FloatArray) -> BoolArray:
    inside: BoolArray = np.hypot(across, down) <= 0.5
    return inside


def _quadrant_panel(across: FloatArray, down: FloatArray) -> tuple[BoolArray, BoolArray]:
    return _square(across, down), across * down > 0


def _round_quadrant_panel(across: FloatArray, down: FloatArray) -> tuple[BoolArray, BoolArray]:
    return _circle(across, down), across * down > 0


def _bow_tie_panel(across: FloatArray, down: FloatArray) -> tuple[BoolArray, BoolArray]:
    return _square(across, down), abs(across) > abs(down)


def _x_panel(across: FloatArray, down: FloatArray) -> tuple[BoolArray, BoolArray]:
    half_arm = _STROKE / 2 * 2**0.5
    on_arm = np.minimum(abs(across - down), abs(across + down)) <= half_arm
    return _square(across, down), on_arm


def _concentric_rings(across: FloatArray, down: FloatArray) -> tuple[BoolArray, BoolArray]:
    radius = 2.0 * np.hypot(across, down)
    return _circle(across, down), abs(radius - 0.5) > 1.0 / 6.0


def _disc(across: FloatArray, down: FloatArray) -> tuple[BoolArray, BoolArray]:
    inside = _circle(across, down)
    return inside, inside


def _painted_cross(across: FloatArray, down: FloatArray) -> tuple[BoolArray, BoolArray]:
    on_stroke = np.minimum(abs(across), abs(down)) <= _STROKE / 2
    inside = _square(across, down) & on_stroke
    return inside, inside


def _l_mark_outer(across: FloatArray, down: FloatArray) -> tuple[BoolArray, BoolArray]:
    within = (np.minimum(across, down) >= 0) & (np.maximum(across, down) <= 1)
    inside = within & (np.minimum(across, down) <= _STROKE)
    return inside, inside


def _l_mark_inner(across: FloatArray, down: FloatArray) -> tuple[BoolArray, BoolArray]:
    return _l_mark_outer(across + _STROKE, down + _STROKE)


PATTERNS = {
    "quadrant-panel": Pattern(_quadrant_panel),
    "round-quadrant-panel": Pattern(_round_quadrant_panel),
    "bow-tie-panel": Pattern(_bow_tie_panel),
    "x-panel": Pattern(_x_panel),
    "concentric-rings": Pattern(_concentric_rings),
    "disc": Pattern(_disc),
    "painted-cross": Pattern(_painted_cross),
    "l-mark-outer": Pattern(_l_mark_outer, 2**0.5),
    "l-mark-inner": Pattern(_l_mark_inner, 2**0.5),
}
