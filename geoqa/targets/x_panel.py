"""The X on a panel: a square with a cross of another tone along its diagonals."""

from collections.abc import Sequence

from geoqa.numerics.arrays import FloatArray
from geoqa.records.measurements import RasterPatch, TargetFix, TargetSearch
from geoqa.targets import TargetKind
from geoqa.targets._chain import list_candidates, locate_target
from geoqa.targets._pattern import Likelihood, TargetPattern
from geoqa.targets._strokes import crossing_bars, eighth_turn

_LIKELIHOOD = Likelihood(
    constant=-3.32,
    unknown_size=-2.35,
    unexplained=-6.00,
    continuation=-20.00,
    aspect=-19.42,
    size=-130.25,
    softness=-68.99,
    faintness=-3.40,
    smallness=9.35,
    weakness=0.00,
    proportions=0.00,
    shadow=-1.00,
)

# Half the width of an arm in half sides: the arms are a fifth of the side wide.
_HALF_ARM = 0.2


def x_tone(u: FloatArray, v: FloatArray, blur: float, proportions: Sequence[float] = ()) -> FloatArray:
    """Return +1 on the two arms, which run along the diagonals of u and v, and −1 beside them, blurred."""
    return crossing_bars(*eighth_turn(u, v), blur, (_HALF_ARM, _HALF_ARM))


PATTERN = TargetPattern("x-panel", x_tone, _LIKELIHOOD)


def locate(patch: RasterPatch, search: TargetSearch) -> TargetFix:
    """Return the crossing of the two arms of an X on a panel, or why there is none."""
    return locate_target(patch, search, PATTERN)


def candidates(patch: RasterPatch, search: TargetSearch) -> tuple[TargetFix, ...]:
    """Return every place in a wide window that may be one."""
    return list_candidates(patch, search, PATTERN)


TARGET = TargetKind(
    id="x-panel",
    title="X on a panel",
    description=(
        "A square panel with a bright X on dark or a dark X on bright, arms along its diagonals and a fifth "
        "of its side wide. Its centre is the point where the arms cross."
    ),
    locate=locate,
    candidates=candidates,
    distinctive=True,
)
