"""The disc: a round plate or patch of paint that is brighter or darker than the ground."""

from collections.abc import Sequence

import numpy as np

from geoqa.numerics.arrays import FloatArray
from geoqa.records.measurements import RasterPatch, TargetFix, TargetSearch
from geoqa.targets import TargetKind
from geoqa.targets._chain import list_candidates, locate_target
from geoqa.targets._pattern import ANY_TURN, Likelihood, TargetPattern

_LIKELIHOOD = Likelihood(
    constant=0.04,
    unknown_size=-3.13,
    unexplained=-4.28,
    continuation=-20.00,
    aspect=-56.46,
    size=-168.78,
    softness=-103.35,
    faintness=0.00,
    smallness=3.36,
    weakness=0.00,
    proportions=0.00,
    shadow=-1.00,
)


def full_tone(u: FloatArray, v: FloatArray, blur: float, proportions: Sequence[float] = ()) -> FloatArray:
    """Return +1 everywhere: the outline is all there is to see."""
    return np.ones(np.broadcast(u, v).shape)


PATTERN = TargetPattern("disc", full_tone, _LIKELIHOOD, painted=True, round=True, turn=ANY_TURN)


def locate(patch: RasterPatch, search: TargetSearch) -> TargetFix:
    """Return the centre of a disc, or why there is none."""
    return locate_target(patch, search, PATTERN)


def candidates(patch: RasterPatch, search: TargetSearch) -> tuple[TargetFix, ...]:
    """Return every place in a wide window that may be one."""
    return list_candidates(patch, search, PATTERN)


TARGET = TargetKind(
    id="disc",
    title="Disc",
    description=(
        "A round plate, lid or patch of paint of one tone, brighter or darker than the ground. "
        "Its centre is that of the circle."
    ),
    locate=locate,
    candidates=candidates,
)
