"""The bow-tie panel: a square whose diagonals part two dark triangles from two bright ones."""

from collections.abc import Sequence

from geoqa.numerics.arrays import FloatArray
from geoqa.records.measurements import RasterPatch, TargetFix, TargetSearch
from geoqa.targets import TargetKind
from geoqa.targets._chain import list_candidates, locate_target
from geoqa.targets._pattern import TargetPattern
from geoqa.targets._strokes import eighth_turn, quadrants


def bow_tie_tone(u: FloatArray, v: FloatArray, blur: float, proportions: Sequence[float] = ()) -> FloatArray:
    """Return the quadrants between the diagonals of u and v."""
    return quadrants(*eighth_turn(u, v), blur)


PATTERN = TargetPattern("bow-tie-panel", bow_tie_tone)


def locate(patch: RasterPatch, search: TargetSearch) -> TargetFix:
    """Return the point where the triangles of a bow-tie panel meet, or why there is none."""
    return locate_target(patch, search, PATTERN)


def candidates(patch: RasterPatch, search: TargetSearch) -> tuple[TargetFix, ...]:
    """Return every place in a wide window that may be one."""
    return list_candidates(patch, search, PATTERN)


TARGET = TargetKind(
    id="bow-tie-panel",
    title="Bow-tie panel",
    description=(
        "A square panel that its diagonals part into four triangles, two dark and two bright, like tones "
        "opposite. Its centre is the point where the four meet."
    ),
    locate=locate,
    candidates=candidates,
    distinctive=True,
)
