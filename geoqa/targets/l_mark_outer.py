"""The L mark by its outer corner: two strokes of paint that meet at a right angle."""

from geoqa.records.measurements import RasterPatch, TargetFix, TargetSearch
from geoqa.targets import TargetKind
from geoqa.targets._chain import list_candidates, locate_target
from geoqa.targets._l_pattern import l_pattern

PATTERN = l_pattern("l-mark-outer", inner=False)


def locate(patch: RasterPatch, search: TargetSearch) -> TargetFix:
    """Return the outer corner of an L mark, or why there is none."""
    return locate_target(patch, search, PATTERN)


def candidates(patch: RasterPatch, search: TargetSearch) -> tuple[TargetFix, ...]:
    """Return every place in a wide window that may be one."""
    return list_candidates(patch, search, PATTERN)


TARGET = TargetKind(
    id="l-mark-outer",
    title="L mark, outer corner",
    description=(
        "Two equally long painted strokes that meet at a right angle, each about a fifth as wide as it is "
        "long. Its point is the corner that their outer edges make."
    ),
    locate=locate,
    candidates=candidates,
)
