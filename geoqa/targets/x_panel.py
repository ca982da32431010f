"""The X on a panel: a square with a cross of another tone along its diagonals."""

from geoqa.numerics.arrays import FloatArray
from geoqa.numerics.edges import blurred_bar
from geoqa.records.measurements import RasterPatch, TargetFix, TargetSearch
from geoqa.targets import TargetKind
from geoqa.targets._panel import locate_panel
from geoqa.targets._pattern import PanelPattern

# Half the width of an arm in half sides: the arms are a fifth of the side wide.
_HALF_ARM = 0.2


def x_tone(u: FloatArray, v: FloatArray, blur: float) -> FloatArray:
    """Return +1 on the two arms, which run along the diagonals of u and v, and −1 beside them, blurred."""
    one_arm = blurred_bar((u - v) / 2**0.5, _HALF_ARM, blur)
    other_arm = blurred_bar((u + v) / 2**0.5, _HALF_ARM, blur)
    tone: FloatArray = 2.0 * (one_arm + other_arm - one_arm * other_arm) - 1.0
    return tone


PATTERN = PanelPattern("x-panel", x_tone)


def locate(patch: RasterPatch, search: TargetSearch) -> TargetFix:
    """Return the crossing of the two arms of an X on a panel, or why there is none."""
    return locate_panel(patch, search, PATTERN)


TARGET = TargetKind(
    id="x-panel",
    title="X on a panel",
    description=(
        "A square panel with a bright X on dark or a dark X on bright, arms along its diagonals and a fifth "
        "of its side wide. Its centre is the point where the arms cross."
    ),
    locate=locate,
)
