"""The painted cross: a plus or an X of paint on the ground."""

from collections.abc import Sequence

from geoqa.numerics.arrays import FloatArray
from geoqa.records.measurements import RasterPatch, TargetFix, TargetSearch
from geoqa.targets import TargetKind
from geoqa.targets._chain import list_candidates, locate_target
from geoqa.targets._pattern import Likelihood, TargetPattern
from geoqa.targets._strokes import crossing_bars

_LIKELIHOOD = Likelihood(
    constant=3.03,
    unknown_size=-0.42,
    unexplained=-2.48,
    continuation=-20.00,
    aspect=-10.00,
    size=-115.26,
    softness=-39.11,
    faintness=-1.92,
    smallness=-2.53,
    weakness=-6.77,
    proportions=-0.32,
    shadow=-1.00,
)

# Half the width of each arm in half lengths: usually the strokes are a fifth as wide as they are long.
_HALF_ARMS = (0.2, 0.2)


def cross_tone(u: FloatArray, v: FloatArray, blur: float, proportions: Sequence[float]) -> FloatArray:
    """Return +1 on the two strokes, which run along v and u, and −1 beside them, blurred."""
    return crossing_bars(u, v, blur, (proportions[0], proportions[1]))


def cross_corners(proportions: Sequence[float]) -> Sequence[tuple[float, float]]:
    """Return u, v of the twelve corners of the strokes."""
    u, v = proportions
    quarter = ((u, -1.0), (u, -v), (1.0, -v), (1.0, v), (u, v), (u, 1.0))
    return quarter + tuple((-one, -other) for one, other in quarter)


PATTERN = TargetPattern(
    "painted-cross", cross_tone, _LIKELIHOOD, painted=True, proportions=_HALF_ARMS, corners=cross_corners
)


def locate(patch: RasterPatch, search: TargetSearch) -> TargetFix:
    """Return the point where the strokes of a painted cross meet, or why there is none."""
    return locate_target(patch, search, PATTERN)


def candidates(patch: RasterPatch, search: TargetSearch) -> tuple[TargetFix, ...]:
    """Return every place in a wide window that may be one."""
    return list_candidates(patch, search, PATTERN)


TARGET = TargetKind(
    id="painted-cross",
    title="Painted cross",
    description=(
        "A plus or an X of two equally long painted strokes that cross in their middles at a right angle, "
        "each about a fifth as wide as it is long. Its centre is the point where they cross."
    ),
    locate=locate,
    candidates=candidates,
    distinctive=True,
)
