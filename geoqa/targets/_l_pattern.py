"""The pattern of an L of paint, and its two corners."""

from collections.abc import Sequence

from geoqa.numerics.arrays import FloatArray
from geoqa.numerics.edges import blurred_step
from geoqa.targets._pattern import FULL_TURN, Likelihood, TargetPattern

# Half the width of each arm in half lengths: usually the arms are a fifth as wide as they are long.
HALF_ARMS = (0.2, 0.2)
_LIKELIHOOD = Likelihood(
    constant=-0.14,
    unknown_size=-1.97,
    unexplained=-6.00,
    continuation=-31.52,
    aspect=-37.97,
    size=-141.39,
    softness=-12.29,
    faintness=0.00,
    smallness=0.20,
    weakness=0.00,
    proportions=-7.20,
    shadow=-1.00,
)


def l_tone(u: FloatArray, v: FloatArray, blur: float, proportions: Sequence[float]) -> FloatArray:
    """Return +1 outward of the inner edges of the arms, which lie along u = −1 and v = −1, and −1 inward.

    The outer edges of the arms are the outline's.
    """
    beyond_first = blurred_step(u + 1.0 - 2.0 * proportions[0], blur)
    beyond_second = blurred_step(v + 1.0 - 2.0 * proportions[1], blur)
    tone: FloatArray = 1.0 - 0.5 * (1.0 + beyond_first) * (1.0 + beyond_second)
    return tone


def outer_corner(proportions: Sequence[float]) -> tuple[float, float]:
    """Return u, v of the corner that the outer edges of the arms make."""
    return -1.0, -1.0


def inner_corner(proportions: Sequence[float]) -> tuple[float, float]:
    """Return u, v of the corner that the inner edges of the arms make."""
    return 2.0 * proportions[0] - 1.0, 2.0 * proportions[1] - 1.0


def l_corners(proportions: Sequence[float]) -> Sequence[tuple[float, float]]:
    """Return u, v of the six corners."""
    u, v = inner_corner(proportions)
    return (-1.0, -1.0), (1.0, -1.0), (1.0, v), (u, v), (u, 1.0), (-1.0, 1.0)


def l_pattern(kind: str, *, inner: bool) -> TargetPattern:
    """Return the pattern of an L whose inner or outer corner is surveyed."""
    point = inner_corner if inner else outer_corner
    return TargetPattern(
        kind,
        l_tone,
        _LIKELIHOOD,
        painted=True,
        turn=FULL_TURN,
        proportions=HALF_ARMS,
        point=point,
        corners=l_corners,
    )
