"""The edge of a shadow across a target, and the picture as it would be without."""

from dataclasses import dataclass
from math import cos, exp, sin

import numpy as np
from scipy import special

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.targets._appearance import AppearanceFit
from geoqa.targets._pattern import TargetPattern
from geoqa.targets._shape import Shape, block_factor, look_at

# Lines that are tried first: directions over half a turn, distances from the middle in half sides.
_DIRECTIONS, _FARTHEST, _DISTANCES = 12, 1.2, 9
# Half widths of the edge, as Gaussian sigmas in half sides.
_SOFTNESS = (0.05, 0.12, 0.25)
_NARROWINGS = 4
# A shadow takes at least this share of what the pattern leaves unexplained. Logarithms of the light outside
# over that inside: skylight is a tenth of sunlight or more.
_LEAST_GAIN, _LEAST_STEP, _LARGEST_STEP = 0.4, 0.2, 2.3
_LIFT = 0.02
# Contrasts in and out of the shadow, once it is lifted, differ by no more than this factor; a smaller share
# of the target in either tells nothing.
_UNEVEN, _LEAST_SIDE, _LEAST_CONDITION = 1.4, 0.1, 0.02


@dataclass(frozen=True)
class Shadow:
    """A half plane in shadow.

    Attributes
    ----------
    row, col, angle
        A place on its edge, and the direction into the shadow, in radians from columns towards rows.
    softness_px
        Gaussian sigma of the edge.
    depth
        Natural logarithm of the light outside over that inside.
    """

    row: float
    col: float
    angle: float
    softness_px: float
    depth: float

    def light(self, rows: FloatArray, cols: FloatArray) -> FloatArray:
        """Return the light at places, 1 outside the shadow."""
        inward = (rows - self.row) * sin(self.angle) + (cols - self.col) * cos(self.angle)
        light: FloatArray = 1.0 - (1.0 - exp(-self.depth)) * special.ndtr(inward / self.softness_px)
        return light

    def lifted(self, picture: FloatArray) -> FloatArray:
        """Return the picture as bright in the shadow as outside."""
        rows, cols = (np.arange(length, dtype=np.float64) + 0.5 for length in picture.shape)
        lifted: FloatArray = picture / self.light(rows[:, None], cols)
        return lifted

    def moved(self, step: FloatArray) -> "Shadow":
        """Return the shadow after a step inward, a turn, and steps of log softness and log depth."""
        inward, turn, softer, deeper = step.tolist()
        return Shadow(
            self.row + inward * sin(self.angle),
            self.col + inward * cos(self.angle),
            self.angle + turn,
            self.softness_px * exp(softer),
            self.depth * exp(deeper),
        )


def find_shadow(grey: FloatArray, valid: BoolArray, pattern: TargetPattern, shape: Shape) -> Shadow | None:
    """Return the shadow whose edge crosses a target or its surroundings, or None.

    On the logarithm of grey a shadow adds a step to whatever tones there are.
    """
    sight = look_at(grey, valid, shape, block_factor(shape.size_px))
    if sight is None:
        return None
    u, v = shape.own_axes(sight.rows, sight.cols)
    parts = np.stack(pattern.parts(u, v, shape.blur, shape.proportions))
    root = np.where(pattern.footprint(u, v), 1.0, 0.5)
    bright = max(float(np.percentile(sight.grey, 95.0)), 1e-12)
    tones = np.log(np.maximum(sight.grey, 0.0) + _LIFT * bright) * root
    basis, _ = np.linalg.qr((parts * root).T)
    left = tones - basis @ (basis.T @ tones)
    angles = np.pi * np.arange(_DIRECTIONS) / _DIRECTIONS
    distances = np.linspace(-_FARTHEST, _FARTHEST, _DISTANCES)
    angle, distance, softness = 0.0, 0.0, _SOFTNESS[0]
    soft_choices: tuple[float, ...] = _SOFTNESS[:1]
    depth = gain = 0.0
    for narrowing in range(_NARROWINGS):
        lines = np.array([(a, d, s) for a in angles for d in distances for s in soft_choices])
        steps, gains = _steps_along(lines, u, v, root, basis, left)
        best = int(gains.argmax())
        (angle, distance, softness), depth, gain = lines[best], float(steps[best]), float(gains[best])
        reach = 0.5**narrowing
        angles = angle + reach * np.pi / _DIRECTIONS * np.array([-0.5, 0.0, 0.5])
        distances = distance + reach * _FARTHEST / (_DISTANCES - 1) * np.array([-1.0, 0.0, 1.0])
        soft_choices = _SOFTNESS
        if gain < _LEAST_GAIN * float(left @ left):
            return None
    if not _LEAST_STEP <= abs(depth) <= _LARGEST_STEP:
        return None
    return _in_window(shape, angle, distance, softness, -depth)


def darkens_evenly(shadow: Shadow, fit: AppearanceFit) -> bool:
    """Return whether the pattern goes on in the shadow with the contrast that its light leaves.

    What lies over a target darkens it as well, but hides the pattern. `fit` is that of the lifted picture.
    """
    light = shadow.light(fit.sight.rows, fit.sight.cols)
    darkest = np.exp(-shadow.depth)
    depth = (1.0 - light) / (1.0 - darkest)
    contrasts = []
    for side in (depth < 0.2, depth > 0.8):
        here = side & fit.footprint
        if here.sum() < _LEAST_SIDE * fit.footprint.sum():
            return True
        parts = fit.parts[:2, here]
        levels, *_ = np.linalg.lstsq(parts.T, fit.sight.grey[here], rcond=_LEAST_CONDITION)
        contrasts.append(float((levels[0] - levels[1]) / 2.0 if fit.pattern.painted else levels[1]))
    ratio = contrasts[1] / contrasts[0] if contrasts[0] else 0.0
    return 1.0 / _UNEVEN < ratio < _UNEVEN


def _steps_along(
    lines: FloatArray, u: FloatArray, v: FloatArray, root: FloatArray, basis: FloatArray, left: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return for each line (angle, distance, softness) the step across it and how much it explains."""
    along = np.outer(np.cos(lines[:, 0]), u) + np.outer(np.sin(lines[:, 0]), v) - lines[:, 1:2]
    columns = special.ndtr(along / lines[:, 2:3]) * root
    columns -= (columns @ basis) @ basis.T
    energy = np.maximum((columns**2).sum(axis=1), 1e-9)
    common = columns @ left
    return common / energy, common**2 / energy


def _in_window(shape: Shape, angle: float, distance: float, softness: float, depth: float) -> Shadow:
    """Return the shadow in rows and columns; `depth` may be negative, then the dark side is the other."""
    across = np.array([cos(angle), sin(angle)])
    # The gradient of the distance from the line, by row and col.
    by_row, by_col = across @ shape.axes
    scale = float(np.hypot(by_row, by_col))
    row, col = shape.place(*(distance * across))
    inward = np.arctan2(by_row, by_col) + (0.0 if depth > 0 else np.pi)
    return Shadow(row, col, float(inward), softness / scale, abs(depth))
