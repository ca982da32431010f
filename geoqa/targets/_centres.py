"""The centre of a find to a fraction of a pixel, with its covariance: by symmetry, or by the fitted model."""

from dataclasses import dataclass, replace
from math import hypot

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.numerics.resampling import smooth_picture
from geoqa.numerics.robust import ellipse_inflation
from geoqa.numerics.symmetry import fit_symmetry_centre
from geoqa.targets._appearance import AppearanceFit, design_of, levels_of, limited, sharpened, weights_of
from geoqa.targets._finds import Find
from geoqa.targets._shadow import Shadow
from geoqa.targets._shape import SHAPE_TERMS, look_at

# The centre comes from what lies so far within the outline, where hardly any ground shows through the blur,
# and is at least this steep, as a share of the steepest.
_OUTLINE_MARGIN_PX, _LEAST_STEEPNESS = 0.5, 0.05
# Slight smoothing before the spline; see `smooth_picture`.
_SMOOTHING_PX = 0.6
_SPLINE_MARGIN_PX = 8
# Errors of a model are taken as correlated up to so many pixels along each axis.
_FARTHEST_LAG = 3
_LEAST_CONDITION = 1e-10
# Steps of target and shadow together, and the longest, in sides.
_SHADOW_STEPS, _FARTHEST, _DERIVATIVE_STEP = 6, 0.2, 1e-3
# Of a step of the shadow: inward in pixels, turn, logarithms of softness and depth.
_LARGEST_STEPS, _DAMPING = np.array([1.0, 0.1, 0.3, 0.2]), 1e-3


@dataclass(frozen=True, eq=False)
class Centre:
    """The point of a target, in pixels of the window.

    Attributes
    ----------
    covariance_px2 : array, shape (2, 2)
        In row, col order.
    kept
        Share of the pixels that match: low where something covers the target.
    """

    row: float
    col: float
    covariance_px2: FloatArray
    kept: float


def centre_of(picture: FloatArray, valid: BoolArray, find: Find) -> Centre | None:
    """Return the centre of a find, or None where the picture does not fix it."""
    if find.shadow is not None:
        return _in_shadow(picture, valid, find.fit, find.shadow)
    if find.fit.pattern.point is None:
        return _by_symmetry(picture, valid, find)
    fit = sharpened(picture, valid, find.fit)
    return _by_model(fit, design_of(fit), np.where(fit.footprint, weights_of(fit), 0.0))


def _in_shadow(picture: FloatArray, valid: BoolArray, fit: AppearanceFit, shadow: Shadow) -> Centre | None:
    """Return the centre of target and shadow fitted together on the single pixels.

    On the picture without shadow the noise grows as the light falls, so that the weights are its square.
    """
    shape = fit.shape.on_pixels(fit.sight.factor)
    for _ in range(_SHADOW_STEPS):
        sight = look_at(shadow.lifted(picture), valid, shape, 1)
        if sight is None:
            return None
        fit = levels_of(sight, fit.pattern, shape)
        light = shadow.light(sight.rows, sight.cols)
        model = fit.levels @ fit.parts
        unit = _DERIVATIVE_STEP * np.eye(4)
        by_shadow = [
            model * (shadow.moved(step).light(sight.rows, sight.cols) / light - 1.0) / _DERIVATIVE_STEP
            for step in unit
        ]
        design = np.vstack((design_of(fit), by_shadow))
        weights = np.where(fit.footprint, weights_of(fit), 0.0) * light**2
        step = _least_squares_step(design, weights, fit.residual)
        terms = len(design) - 4 - len(fit.parts)
        if np.abs(step[:2]).max() > _FARTHEST * shape.size_px:
            return None
        shape = shape.moved(limited(step[:terms], shape))
        shadow = shadow.moved(np.clip(step[-4:], -_LARGEST_STEPS, _LARGEST_STEPS))
    moved = replace(fit, shape=shape)
    return _by_model(moved, design, weights)


def _by_symmetry(picture: FloatArray, valid: BoolArray, find: Find) -> Centre | None:
    half = int(np.ceil(0.75 * find.size_px))
    reach = half + _SPLINE_MARGIN_PX
    top, left = max(0, int(find.row) - reach), max(0, int(find.col) - reach)
    near = slice(top, int(find.row) + reach + 1), slice(left, int(find.col) + reach + 1)
    surface = smooth_picture(picture[near], valid[near], _SMOOTHING_PX)
    edges = _edges(find.fit, half)
    fit = fit_symmetry_centre(surface, find.row - top, find.col - left, edges, smoothing_px=_SMOOTHING_PX)
    return None if fit is None else Centre(fit.row + top, fit.col + left, fit.covariance_px2, fit.kept)


def _edges(fit: AppearanceFit, half: int) -> BoolArray:
    """Return the offsets from the middle that lie about the target's edges, clear of a panel's outline.

    What lies between the edges knows nothing of the centre and would only add its noise.
    """
    offsets = np.arange(-half, half + 1.0)
    shape, pattern = fit.shape, fit.pattern
    u, v = shape.own_axes(shape.row + offsets[:, None], shape.col + offsets)
    blur = 2.0 * hypot(shape.blur_px, _SMOOTHING_PX) / shape.size_px
    if pattern.painted:
        drawn = pattern.parts(u, v, blur, shape.proportions)[0]
        inside = pattern.footprint(u, v)
    else:
        drawn = pattern.tone(u, v, blur, shape.proportions)
        inside = pattern.distance(u, v) <= 1.0 - 2.0 * _OUTLINE_MARGIN_PX / shape.size_px
    steepness = np.hypot(*np.gradient(drawn))
    edges: BoolArray = inside & (steepness > _LEAST_STEEPNESS * steepness[inside].max(initial=0.0))
    return edges


def _least_squares_step(design: FloatArray, weights: FloatArray, residual: FloatArray) -> FloatArray:
    normal = (design * weights) @ design.T
    scales = np.sqrt(np.maximum(np.diag(normal), 1e-300))
    right_side = design @ (weights * residual) / scales
    lifted = normal / np.outer(scales, scales) + _DAMPING * np.eye(len(scales))
    step: FloatArray = np.linalg.solve(lifted, right_side).astype(np.float64)
    return step / scales


def _by_model(fit: AppearanceFit, design: FloatArray, weights: FloatArray) -> Centre | None:
    """Return the fitted point. Its covariance is N⁻¹ J'W R W J N⁻¹ s², R the residuals' correlation.

    Parameters
    ----------
    design : array, shape (k, n)
        Derivatives J of the model, those by the terms of the shape first.
    """
    scales = np.linalg.norm(design * weights, axis=1)
    scaled = design / np.where(scales > 0, scales, 1.0)[:, None]
    normal = (scaled * weights) @ scaled.T
    freedom = float(weights.sum()) - len(design)
    if freedom < 1.0:
        return None
    # What the picture does not show, such as the turn of a ring, is left out.
    inverse = np.linalg.pinv(normal, rcond=_LEAST_CONDITION)
    variance = float((weights * fit.residual**2).sum()) / freedom
    spread = _spread(fit, scaled * weights, weights)
    terms = inverse @ spread @ inverse * variance / np.outer(scales, scales)
    gradient = point_gradient(fit)
    covariance = gradient @ terms[: gradient.shape[1], : gradient.shape[1]] @ gradient.T
    point = fit.pattern.point
    row, col = fit.shape.place(*(point(fit.shape.proportions) if point else (0.0, 0.0)))
    return Centre(row, col, ellipse_inflation(freedom) * covariance, kept=1.0)


def _spread(fit: AppearanceFit, slopes: FloatArray, weights: FloatArray) -> FloatArray:
    """Return Σ J(d) w(d) ρ(d − e) w(e) J(e)ᵀ with ρ the autocorrelation of the weighted residuals.

    Residuals of a fit are less correlated than the errors behind them: each lag is raised by p / n (1 − ρ)
    with p unknowns and n pixels, lowered by its own standard error, and never below 0.
    """
    row0, col0 = int(fit.sight.rows.min()), int(fit.sight.cols.min())
    rows, cols = fit.sight.rows.astype(int) - row0, fit.sight.cols.astype(int) - col0
    reach = _FARTHEST_LAG
    shape = rows.max() + 1 + 2 * reach, cols.max() + 1 + 2 * reach
    spread_out = np.zeros((len(slopes) + 2, *shape))
    spread_out[:, rows + reach, cols + reach] = np.vstack((slopes, weights * fit.residual, weights))
    planes, residual, share = spread_out[:-2].reshape(len(slopes), -1), spread_out[-2], spread_out[-1]
    pixels, power = float(share.sum()), float((residual**2).sum())
    total = planes @ planes.T
    for down in range(reach + 1):
        for across in range(-reach, reach + 1):
            if down == 0 and across <= 0:
                continue
            moved = np.roll(spread_out, (-down, -across), axis=(1, 2))
            pairs = float((share * moved[-1]).sum())
            measured = float((residual * moved[-2]).sum()) / max(power * pairs / pixels, 1e-300)
            raised = measured + len(slopes) / pixels * (1.0 - measured) - pixels**-0.5
            if raised > 0.0:
                term = min(raised, 1.0) * planes @ moved[:-2].reshape(len(slopes), -1).T
                total += term + term.T
    return total


def point_gradient(fit: AppearanceFit) -> FloatArray:
    """Return the derivatives of the point's row and col by the terms of the shape, shape (2, terms)."""
    terms, e = SHAPE_TERMS + len(fit.shape.proportions), 1e-4
    point = fit.pattern.point
    columns = []
    for term in range(terms):
        length = fit.shape.axes.max() if 2 <= term < 6 else 1.0
        ends = []
        for sign in (1.0, -1.0):
            step = np.zeros(terms)
            step[term] = sign * e * length
            moved = fit.shape.moved(step)
            ends.append(moved.place(*point(moved.proportions)) if point else (moved.row, moved.col))
        columns.append((np.array(ends[0]) - ends[1]) / (2.0 * e * length))
    return np.stack(columns, axis=1)
