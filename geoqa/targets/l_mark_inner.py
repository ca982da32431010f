"""The L mark by its inner corner: two strokes of paint that meet at a right angle."""

from geoqa.records.measurements import RasterPatch, TargetFix, TargetSearch
from geoqa.targets import TargetKind
from geoqa.targets._chain import list_candidates, locate_target
from geoqa.targets._l_pattern import l_pattern

PATTERN = l_pattern("l-mark-inner", inner=True)


def locate(patch: RasterPatch, search: TargetSearch) -> TargetFix:
    """Return the inner corner of an L mark, or why there is none."""
    return locate_target(patch, search, PATTERN)


def candidates(patch: RasterPatch, search: TargetSearch) -> tuple[TargetFix, ...]:
    """Return every place in a wide window that may be one."""
    return list_candidates(patch, search, PATTERN)


TARGET = TargetKind(
    id="l-mark-inner",
    title="L mark, inner corner",
    description=(
        "Two equally long painted strokes that meet at a right angle, each about a fifth as wide as it is "
        "long. Its point is the corner that their inner edges make."
    ),
    locate=locate,
    candidates=candidates,
    same_look_as="l-mark-outer",
)
