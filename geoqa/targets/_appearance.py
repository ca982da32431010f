"""A target's whole footprint fitted to the picture: place, axes, blur, proportions and grey values.

The picture is taken to be a sum of blurred parts, each times a grey value: see `TargetPattern.parts`. All
lengths are pixels of the window, also where the picture is averaged over blocks.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.targets._candidates import Candidate
from geoqa.targets._pattern import TargetPattern
from geoqa.targets._shape import Shape, Sight, block_factor, look_at, starting_shape

_MAX_ITERATIONS = 8
# Shares of the side: a last step below the first for the centre and below the second for the edges ends the
# fit, a centre beyond the third drops it.
_CONVERGED, _EDGES_CONVERGED, _FARTHEST = 3e-4, 3e-3, 0.35
# Of these, the share to which a fit on single pixels comes to rest.
_FINELY = 0.1
_LARGEST_CHANGE = 1.6
# After so many steps a fit that explains less than this of the target is given up: one has come to rest by
# then, and most of the time would be spent where there is none.
_LEAST_EXPLAINED = {3: 0.55, 5: 0.75}
_LEAST_EXPLAINED_PAINT = {3: 0.3, 5: 0.4}
# What is known beforehand, as standard deviations: the centre in sides, each axis in its length, and the
# logarithms of the blur and of the proportions about usual ones.
_PRIOR_CENTRE, _PRIOR_AXES, _PRIOR_BLUR, _PRIOR_PROPORTIONS = 0.2, 0.12, 0.35, 0.5
_DERIVATIVE_STEP = 1e-3


@dataclass(frozen=True, eq=False)
class AppearanceFit:
    """A target as it fits best.

    Attributes
    ----------
    u, v, footprint, model, residual : arrays, shape (n,)
        Of the pixels of `sight`: place in the target's own axes, whether it belongs to the target's
        picture, modelled grey, and grey minus model.
    levels : array, shape (k,)
        Grey values of the pattern's parts.
    middle, contrast
        Grey between the two tones, and half their signed difference.
    """

    pattern: TargetPattern
    shape: Shape
    sight: Sight
    levels: FloatArray
    u: FloatArray
    v: FloatArray
    footprint: BoolArray
    parts: FloatArray
    residual: FloatArray

    @property
    def middle(self) -> float:
        """Return the grey between the two tones."""
        return float(self.levels.mean() if self.pattern.painted else self.levels[0])

    @property
    def contrast(self) -> float:
        """Return half the signed difference of the two tones."""
        return float((self.levels[0] - self.levels[1]) / 2.0 if self.pattern.painted else self.levels[1])

    @property
    def explained(self) -> float:
        """Return the share of the footprint's variance that the model explains; 0 where nothing varies."""
        if not self.footprint.any():
            return 0.0
        variance = float(np.var(self.sight.grey[self.footprint]))
        return 1.0 - float(np.mean(self.residual[self.footprint] ** 2)) / variance if variance > 0 else 0.0


def fit_appearance(
    grey: FloatArray, valid: BoolArray, pattern: TargetPattern, start: Candidate
) -> AppearanceFit | None:
    """Return the target that fits best near a candidate, or None where too little is valid."""
    least = _LEAST_EXPLAINED_PAINT if pattern.painted else _LEAST_EXPLAINED
    shape = first = starting_shape(pattern, start)
    sight = look_at(grey, valid, first, block_factor(first.size_px))
    if sight is None:
        return None
    centred = None
    for iteration in range(_MAX_ITERATIONS):
        fit = levels_of(sight, pattern, shape)
        if fit.explained < least.get(iteration, -np.inf):
            return None
        step = _step(fit, first)
        moved = shape.moved(step)
        if not _plausible(moved, first):
            # Squares beside squares draw the edges on when the centre has come to rest.
            if centred is None:
                return None
            shape = centred
            break
        shape = moved
        if _centre_rests(step, first):
            centred = shape
            if _edges_rest(step, first):
                break
    # Seen anew from where it ended, so that the ground around it is in sight.
    final = look_at(grey, valid, shape, block_factor(shape.size_px))
    return None if final is None else levels_of(final, pattern, shape)


def sharpened(grey: FloatArray, valid: BoolArray, fit: AppearanceFit) -> AppearanceFit:
    """Return the fit repeated on the single pixels until its edges rest finely: the point may lie on them."""
    shape = first = fit.shape.on_pixels(fit.sight.factor)
    sight = look_at(grey, valid, first, 1)
    if sight is None:
        return fit
    for _ in range(_MAX_ITERATIONS):
        step = _step(levels_of(sight, fit.pattern, shape), first)
        shape = shape.moved(step)
        if not _plausible(shape, first):
            return fit
        if _centre_rests(step, first, _FINELY) and _edges_rest(step, first, _FINELY):
            break
    return levels_of(sight, fit.pattern, shape)


def _centre_rests(step: FloatArray, first: Shape, share: float = 1.0) -> bool:
    return bool(np.abs(step[:2]).max() < share * _CONVERGED * first.size_px)


def _edges_rest(step: FloatArray, first: Shape, share: float = 1.0) -> bool:
    moved_px = np.abs(step[2:6]).max() * (first.size_px / 2.0) ** 2
    return bool(moved_px < share * _EDGES_CONVERGED * first.size_px)


def _plausible(shape: Shape, first: Shape) -> bool:
    """Return whether a fit is still about the place and size where it began."""
    nearby = np.hypot(shape.row - first.row, shape.col - first.col) < _FARTHEST * first.size_px
    return bool(nearby) and 1 / _LARGEST_CHANGE < shape.size_px / first.size_px < _LARGEST_CHANGE


def levels_of(sight: Sight, pattern: TargetPattern, shape: Shape) -> AppearanceFit:
    """Return the fit of the grey values to a given shape."""
    u, v = shape.own_axes(sight.rows, sight.cols)
    parts = np.stack(pattern.parts(u, v, shape.blur, shape.proportions))
    footprint = pattern.footprint(u, v)
    weighted = parts * np.where(footprint, 1.0, 0.3)
    lifted = weighted @ parts.T + 1e-9 * np.eye(len(parts)) * sight.grey.size
    levels = np.linalg.solve(lifted, weighted @ sight.grey).astype(np.float64)
    residual = sight.grey - levels @ parts
    return AppearanceFit(pattern, shape, sight, levels, u, v, footprint, parts, residual)


def _step(fit: AppearanceFit, first: Shape) -> FloatArray:
    """Return a Gauss-Newton step of the shape, the grey values free and the prior pulling to the start."""
    weights = weights_of(fit)
    design = design_of(fit)
    terms = len(design) - len(fit.parts)
    weighted = design * weights
    normal = weighted @ design.T
    right_side = weighted @ fit.residual
    variance = max(
        float(np.average(fit.residual**2, weights=weights)), 1e-12 * float(np.var(fit.sight.grey)), 1e-300
    )
    precision, pull = _prior(fit.shape, first)
    shape_terms, levels = np.arange(terms), np.arange(terms, len(design))
    normal[shape_terms, shape_terms] += variance * precision
    right_side[:terms] += variance * precision * pull
    normal[levels, levels] *= 1.0 + 1e-9
    solved: FloatArray = np.linalg.solve(normal, right_side).astype(np.float64)
    return limited(solved[:terms], fit.shape)


def design_of(fit: AppearanceFit) -> FloatArray:
    """Return the derivatives of the model by the terms of the shape and by the grey values, one row each."""
    shape, e = fit.shape, _DERIVATIVE_STEP

    def slope(u: FloatArray, v: FloatArray, blur: float, proportions: Sequence[float]) -> FloatArray:
        moved = weighted_sum(fit.levels, fit.pattern.parts(u, v, blur, proportions))
        changed: FloatArray = (moved - here) / e
        return changed

    here = fit.levels @ fit.parts
    same = shape.proportions
    by_u, by_v = slope(fit.u + e, fit.v, shape.blur, same), slope(fit.u, fit.v + e, shape.blur, same)
    by_blur = slope(fit.u, fit.v, shape.blur * (1.0 + e), same)
    widened = [
        tuple(value * (1.0 + e * (other == one)) for other, value in enumerate(same))
        for one in range(len(same))
    ]
    down, across = fit.sight.rows - shape.row, fit.sight.cols - shape.col
    by_row = -(by_u * shape.axes[0, 0] + by_v * shape.axes[1, 0])
    by_col = -(by_u * shape.axes[0, 1] + by_v * shape.axes[1, 1])
    by_axes = (by_u * down, by_u * across, by_v * down, by_v * across)
    by_proportions = [slope(fit.u, fit.v, shape.blur, changed) for changed in widened]
    return np.stack((by_row, by_col, *by_axes, by_blur, *by_proportions, *fit.parts))


def weighted_sum(levels: FloatArray, parts: Iterable[FloatArray]) -> FloatArray:
    """Return the sum of the parts, each times its level."""
    total: FloatArray = np.asarray(
        sum(level * part for level, part in zip(levels.tolist(), parts, strict=True))
    )
    return total


def weights_of(fit: AppearanceFit) -> FloatArray:
    """Return less weight for the ground: by as much as it scatters more, and by how far it is off the scale.

    A kerb or a stone beside the target may be of far more contrast than the target itself.
    """
    inner = fit.footprint
    if inner.all() or not inner.any():
        return np.ones(inner.shape)
    inside = float(np.mean(fit.residual[inner] ** 2))
    outside = float(np.mean(fit.residual[~inner] ** 2))
    alike = min(1.0, inside / outside) if inside > 0 else 1.0
    off_scale = fit.residual / max(abs(fit.contrast), 1e-300)
    return np.where(inner, 1.0, alike / (1.0 + off_scale**2) ** 2)


def _prior(shape: Shape, first: Shape) -> tuple[FloatArray, FloatArray]:
    length = 2.0 / first.size_px
    free = len(shape.proportions)
    sigma = np.array(
        [_PRIOR_CENTRE * first.size_px] * 2
        + [_PRIOR_AXES * length] * 4
        + [_PRIOR_BLUR]
        + [_PRIOR_PROPORTIONS] * free
    )
    widths = [log(one / other) for one, other in zip(first.proportions, shape.proportions, strict=True)]
    pull = np.concatenate(
        (
            [first.row - shape.row, first.col - shape.col],
            (first.axes - shape.axes).ravel(),
            [log(first.blur_px / shape.blur_px), *widths],
        )
    )
    return sigma**-2.0, pull


def limited(step: FloatArray, shape: Shape) -> FloatArray:
    """Return the step, shortened where it would leave the range in which the picture is nearly linear."""
    limits = [0.1 * shape.size_px] * 2 + [0.3 / shape.size_px] * 4 + [0.4] * (1 + len(shape.proportions))
    shortened: FloatArray = step / max(1.0, float(np.max(np.abs(step) / limits)))
    return shortened
