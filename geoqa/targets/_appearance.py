"""A panel's whole footprint fitted to the picture: place, axes, blur and grey values.

The picture is taken to be  share (middle + contrast tone) + (1 − share) ground  with the panel's share of
each pixel and the tone of its pattern, both blurred. All lengths are pixels of the window, also where the
picture is averaged over blocks.
"""

from dataclasses import dataclass
from math import cos, exp, log, sin

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.numerics.blocks import block_average
from geoqa.numerics.edges import effective_blur_px
from geoqa.targets._candidates import Candidate
from geoqa.targets._pattern import PanelPattern, cover

# How far around the panel the ground is looked at, in half sides.
GROUND_REACH = 1.5
# Larger panels are averaged to about this side: it shows already what tells them from look-alikes.
_WORKING_SIDE_PX = 12.0
_MAX_ITERATIONS = 8
# Shares of the side: a last step below the first ends the fit, a centre beyond the second drops it.
_CONVERGED, _FARTHEST = 3e-4, 0.35
_LARGEST_CHANGE = 1.6
# After so many steps a fit that explains less than this of the panel is given up: a panel has come to rest by
# then, and most of the time would be spent where there is none.
_LEAST_EXPLAINED = {3: 0.55, 5: 0.75}
# What is known beforehand, as standard deviations: the centre in sides, each axis in its length, and the
# logarithm of the blur about a usual one.
_PRIOR_CENTRE, _PRIOR_AXES, _PRIOR_BLUR = 0.2, 0.12, 0.35
_USUAL_BLUR_PX = 0.9
_DERIVATIVE_STEP = 1e-3


@dataclass(frozen=True, eq=False)
class Sight:
    """The pixels around a candidate, one row each: their places and grey values."""

    rows: FloatArray
    cols: FloatArray
    grey: FloatArray
    factor: int


@dataclass(frozen=True, eq=False)
class Shape:
    """Where a panel lies: its centre, its axes from (row, col) offsets to half sides, and its blur."""

    row: float
    col: float
    axes: FloatArray
    blur_px: float

    @property
    def size_px(self) -> float:
        """Return the side of a square of the same area."""
        area: float = abs(float(np.linalg.det(self.axes)))
        return 2.0 / float(np.sqrt(area))

    def own_axes(self, rows: FloatArray, cols: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return places in the panel's own axes, in half sides."""
        down, across = rows - self.row, cols - self.col
        return self.axes[0, 0] * down + self.axes[0, 1] * across, self.axes[1, 0] * down + self.axes[
            1, 1
        ] * across

    def moved(self, step: FloatArray) -> "Shape":
        """Return the shape after a step in row, col, the four axis terms and the logarithm of the blur."""
        return Shape(
            self.row + float(step[0]),
            self.col + float(step[1]),
            self.axes + step[2:6].reshape(2, 2),
            self.blur_px * exp(float(step[6])),
        )


@dataclass(frozen=True, eq=False)
class PanelFit:
    """A panel as it fits best.

    Attributes
    ----------
    u, v, share, tone, grey, residual : arrays, shape (n,)
        Of the pixels of `sight`: place in the panel's own axes, the panel's share, the pattern's tone
        (continued beyond the outline), grey value, and grey value minus model.
    middle, contrast, ground
        Grey between the two tones, half their signed difference, and the grey of the ground.
    """

    shape: Shape
    middle: float
    contrast: float
    ground: float
    u: FloatArray
    v: FloatArray
    share: FloatArray
    tone: FloatArray
    grey: FloatArray
    residual: FloatArray
    factor: int

    @property
    def explained(self) -> float:
        """Return the share of the variance on the panel that the model explains; 0 where nothing varies."""
        on_panel = self.share > 0.5
        if not on_panel.any():
            return 0.0
        variance = float(np.var(self.grey[on_panel]))
        return 1.0 - float(np.mean(self.residual[on_panel] ** 2)) / variance if variance > 0 else 0.0


def fit_panel(grey: FloatArray, valid: BoolArray, pattern: PanelPattern, start: Candidate) -> PanelFit | None:
    """Return the panel that fits best near a candidate, or None where too little is valid."""
    shape = first = _starting_shape(start)
    sight = look_at(grey, valid, first)
    if sight is None:
        return None
    for iteration in range(_MAX_ITERATIONS):
        fit = _levels(sight, pattern, shape)
        if fit.explained < _LEAST_EXPLAINED.get(iteration, -np.inf):
            return None
        step = _step(sight, pattern, fit, first)
        shape = shape.moved(step)
        if not _plausible(shape, first):
            return None
        if np.abs(step[:2]).max() < _CONVERGED * first.size_px:
            break
    # Seen anew from where it ended, so that the ground around it is in sight.
    final = look_at(grey, valid, shape)
    return None if final is None else _levels(final, pattern, shape)


def _plausible(shape: Shape, first: Shape) -> bool:
    """Return whether a fit is still about the place and size where it began."""
    nearby = np.hypot(shape.row - first.row, shape.col - first.col) < _FARTHEST * first.size_px
    return bool(nearby) and 1 / _LARGEST_CHANGE < shape.size_px / first.size_px < _LARGEST_CHANGE


def _starting_shape(start: Candidate) -> Shape:
    turn = np.array([[sin(start.angle), cos(start.angle)], [cos(start.angle), -sin(start.angle)]])
    factor = _block_factor(start.size_px)
    blur_px = factor * effective_blur_px(_USUAL_BLUR_PX / factor)
    return Shape(start.row, start.col, turn * 2.0 / start.size_px, blur_px)


def _block_factor(size_px: float) -> int:
    return max(1, int(size_px / _WORKING_SIDE_PX))


def look_at(grey: FloatArray, valid: BoolArray, shape: Shape) -> Sight | None:
    """Return the valid pixels of a panel and of the ground around it, averaged where the panel is large."""
    factor = _block_factor(shape.size_px)
    reach = GROUND_REACH * shape.size_px / 2**0.5
    top, left = max(0, int(shape.row - reach)), max(0, int(shape.col - reach))
    near = slice(top, max(0, int(shape.row + reach) + 1)), slice(left, max(0, int(shape.col + reach) + 1))
    blocks, usable = block_average(grey[near], valid[near], factor)
    rows, cols = np.nonzero(usable)
    rows_px: FloatArray = top + (rows.astype(np.float64) + 0.5) * factor
    cols_px: FloatArray = left + (cols.astype(np.float64) + 0.5) * factor
    u, v = shape.own_axes(rows_px, cols_px)
    inside = np.maximum(np.abs(u), np.abs(v)) < GROUND_REACH
    if inside.sum() < 0.5 * (GROUND_REACH * shape.size_px / factor) ** 2:
        return None
    values = blocks[rows[inside], cols[inside]]
    return Sight(rows_px[inside], cols_px[inside], values, factor)


def _levels(sight: Sight, pattern: PanelPattern, shape: Shape) -> PanelFit:
    """Return the fit of the three grey values to a given shape."""
    u, v = shape.own_axes(sight.rows, sight.cols)
    blur = 2.0 * shape.blur_px / shape.size_px
    tone, share = pattern.tone(u, v, blur), cover(u, v, blur)
    parts = np.stack((share, share * tone, 1.0 - share))
    weighted = parts * np.where(share > 0.5, 1.0, 0.3)
    lifted = weighted @ parts.T + 1e-9 * np.eye(3) * sight.grey.size
    levels = np.linalg.solve(lifted, weighted @ sight.grey)
    residual = sight.grey - levels @ parts
    middle, contrast, ground = (float(level) for level in levels)
    return PanelFit(shape, middle, contrast, ground, u, v, share, tone, sight.grey, residual, sight.factor)


def _step(sight: Sight, pattern: PanelPattern, fit: PanelFit, first: Shape) -> FloatArray:
    """Return a Gauss-Newton step of the shape, the grey values free and the prior pulling to the start."""
    slopes = _slopes(sight, pattern, fit)
    parts = np.stack((fit.share, fit.share * fit.tone, 1.0 - fit.share))
    weights = _weights(fit)
    design = np.vstack((slopes, parts))
    weighted = design * weights
    normal = weighted @ design.T
    right_side = weighted @ fit.residual
    variance = max(
        float(np.average(fit.residual**2, weights=weights)), 1e-12 * float(np.var(sight.grey)), 1e-300
    )
    precision, pull = _prior(fit.shape, first)
    normal[np.arange(7), np.arange(7)] += variance * precision
    right_side[:7] += variance * precision * pull
    normal[np.arange(7, 10), np.arange(7, 10)] *= 1.0 + 1e-9
    solved: FloatArray = np.linalg.solve(normal, right_side).astype(np.float64)
    return _limited(solved[:7], fit.shape)


def _slopes(sight: Sight, pattern: PanelPattern, fit: PanelFit) -> FloatArray:
    """Return the derivatives of the model by the seven terms of the shape, shape (7, n)."""
    shape, e = fit.shape, _DERIVATIVE_STEP
    blur = 2.0 * shape.blur_px / shape.size_px

    def model(u: FloatArray, v: FloatArray, blur: float) -> FloatArray:
        share = cover(u, v, blur)
        inner = fit.middle + fit.contrast * pattern.tone(u, v, blur)
        return share * inner + (1.0 - share) * fit.ground

    here = sight.grey - fit.residual
    by_u = (model(fit.u + e, fit.v, blur) - here) / e
    by_v = (model(fit.u, fit.v + e, blur) - here) / e
    by_blur = (model(fit.u, fit.v, blur * (1.0 + e)) - here) / e
    down, across = sight.rows - shape.row, sight.cols - shape.col
    by_row = -(by_u * shape.axes[0, 0] + by_v * shape.axes[1, 0])
    by_col = -(by_u * shape.axes[0, 1] + by_v * shape.axes[1, 1])
    return np.stack((by_row, by_col, by_u * down, by_u * across, by_v * down, by_v * across, by_blur))


def _weights(fit: PanelFit) -> FloatArray:
    """Return less weight for the ground: by as much as it scatters more, and by how far it is off the scale.

    A kerb or a stone beside the panel may be of far more contrast than the panel itself.
    """
    on_panel = fit.share > 0.5
    if on_panel.all() or not on_panel.any():
        return np.ones(fit.share.shape)
    inside = float(np.mean(fit.residual[on_panel] ** 2))
    outside = float(np.mean(fit.residual[~on_panel] ** 2))
    alike = min(1.0, inside / outside) if inside > 0 else 1.0
    off_scale = fit.residual / max(abs(fit.contrast), 1e-300)
    return np.where(on_panel, 1.0, alike / (1.0 + off_scale**2) ** 2)


def _prior(shape: Shape, first: Shape) -> tuple[FloatArray, FloatArray]:
    length = 2.0 / first.size_px
    sigma = np.array([_PRIOR_CENTRE * first.size_px] * 2 + [_PRIOR_AXES * length] * 4 + [_PRIOR_BLUR])
    pull = np.concatenate(
        (
            [first.row - shape.row, first.col - shape.col],
            (first.axes - shape.axes).ravel(),
            [log(first.blur_px / shape.blur_px)],
        )
    )
    return sigma**-2.0, pull


def _limited(step: FloatArray, shape: Shape) -> FloatArray:
    """Return the step, shortened where it would leave the range in which the picture is nearly linear."""
    limits = np.array([0.1 * shape.size_px] * 2 + [0.3 / shape.size_px] * 4 + [0.4])
    limited: FloatArray = step / max(1.0, float(np.max(np.abs(step) / limits)))
    return limited
