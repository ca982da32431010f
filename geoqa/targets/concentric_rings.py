"""Concentric rings: a round panel with a disc and a ring of one tone on another."""

from collections.abc import Sequence

import numpy as np

from geoqa.numerics.arrays import FloatArray
from geoqa.numerics.edges import blurred_step
from geoqa.records.measurements import RasterPatch, TargetFix, TargetSearch
from geoqa.targets import TargetKind
from geoqa.targets._chain import list_candidates, locate_target
from geoqa.targets._pattern import ANY_TURN, Likelihood, TargetPattern

_LIKELIHOOD = Likelihood(
    constant=-2.00,
    unknown_size=-0.56,
    unexplained=-5.92,
    continuation=-22.49,
    aspect=-55.49,
    size=-25.00,
    softness=-59.41,
    faintness=-5.33,
    smallness=6.05,
    weakness=-4.06,
    proportions=0.00,
    shadow=-1.00,
)

# Radii at which the tone changes, in radii of the panel.
_INNER, _OUTER = 1.0 / 3.0, 2.0 / 3.0


def ring_tone(u: FloatArray, v: FloatArray, blur: float, proportions: Sequence[float] = ()) -> FloatArray:
    """Return +1 on the inner disc and the outer ring and −1 on the ring between them, blurred."""
    radius = np.hypot(u, v)
    tone: FloatArray = 1.0 - blurred_step(radius - _INNER, blur) + blurred_step(radius - _OUTER, blur)
    return tone


PATTERN = TargetPattern("concentric-rings", ring_tone, _LIKELIHOOD, round=True, turn=ANY_TURN)


def locate(patch: RasterPatch, search: TargetSearch) -> TargetFix:
    """Return the common centre of the rings, or why there is none."""
    return locate_target(patch, search, PATTERN)


def candidates(patch: RasterPatch, search: TargetSearch) -> tuple[TargetFix, ...]:
    """Return every place in a wide window that may be one."""
    return list_candidates(patch, search, PATTERN)


TARGET = TargetKind(
    id="concentric-rings",
    title="Concentric rings",
    description=(
        "A round panel of a disc, a ring and an outer ring, each a third of the radius wide, outer ring and "
        "disc of one tone and the ring between them of another. Its centre is that of the circles."
    ),
    locate=locate,
    candidates=candidates,
    distinctive=True,
)
