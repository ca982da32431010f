"""The two-tone quadrant panel: a square of two dark and two bright quadrants that meet in its centre."""

from geoqa.numerics.arrays import FloatArray
from geoqa.numerics.edges import blurred_step
from geoqa.records.measurements import RasterPatch, TargetFix, TargetSearch
from geoqa.targets import TargetKind
from geoqa.targets._panel import locate_panel
from geoqa.targets._pattern import PanelPattern


def quadrant_tone(u: FloatArray, v: FloatArray, blur: float) -> FloatArray:
    """Return +1 where u and v have one sign and −1 where they differ, blurred."""
    tone: FloatArray = blurred_step(u, blur) * blurred_step(v, blur)
    return tone


PATTERN = PanelPattern("quadrant-panel", quadrant_tone)


def locate(patch: RasterPatch, search: TargetSearch) -> TargetFix:
    """Return the crossing in the middle of a quadrant panel, or why there is none."""
    return locate_panel(patch, search, PATTERN)


TARGET = TargetKind(
    id="quadrant-panel",
    title="Quadrant panel",
    description=(
        "A square panel of four equal squares, two dark and two bright, like tones corner to corner. "
        "Its centre is the point where the four meet."
    ),
    locate=locate,
)
