"""The two-tone quadrant panel: a square of two dark and two bright quadrants that meet in its centre."""

from geoqa.records.measurements import RasterPatch, TargetFix, TargetSearch
from geoqa.targets import TargetKind
from geoqa.targets._chain import list_candidates, locate_target
from geoqa.targets._pattern import TargetPattern
from geoqa.targets._strokes import quadrants

PATTERN = TargetPattern("quadrant-panel", quadrants)


def locate(patch: RasterPatch, search: TargetSearch) -> TargetFix:
    """Return the crossing in the middle of a quadrant panel, or why there is none."""
    return locate_target(patch, search, PATTERN)


def candidates(patch: RasterPatch, search: TargetSearch) -> tuple[TargetFix, ...]:
    """Return every place in a wide window that may be one."""
    return list_candidates(patch, search, PATTERN)


TARGET = TargetKind(
    id="quadrant-panel",
    title="Quadrant panel",
    description=(
        "A square panel of four equal squares, two dark and two bright, like tones corner to corner. "
        "Its centre is the point where the four meet."
    ),
    locate=locate,
    candidates=candidates,
    distinctive=True,
)
