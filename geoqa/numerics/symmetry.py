"""The centre of a picture that looks the same when turned by half a turn.

The centre c makes I(c + d) = I(c − d) for every offset d. Nothing else is assumed: neither blur nor
grey values, neither shape nor size, so none of them can move the result.
"""

from dataclasses import dataclass

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray, frozen
from geoqa.numerics.resampling import SmoothPicture
from geoqa.numerics.robust import TUKEY_CONSISTENCY, ellipse_inflation, robust_sigma, tukey_weights

_MAX_ITERATIONS = 20
_CONVERGED_PX = 5e-4
_MAX_STEP_PX = 1.0
_NARROWING = 0.5
_WORST_CONDITION = 1e6
# Noise is never taken for more than this share of the normal matrix.
_LARGEST_EXCESS = 0.7
# Residuals are taken as correlated up to two pixels along each axis; the other half plane is the same.
_HALF_PLANE_OF_LAGS = [(0, 1), (0, 2)] + [(down, across) for down in (1, 2) for across in range(-2, 3)]
_FEWEST_PAIRS = 12


@dataclass(frozen=True, eq=False)
class SymmetryFit:
    """A centre of symmetry.

    Attributes
    ----------
    row, col
        Counted from the corner of the first pixel.
    covariance_px2 : array, shape (2, 2)
        In row, col order.
    likeness
        Share of the picture's variance that both halves have in common, 1 for perfect symmetry.
    kept
        Mean weight of the usable pairs of pixels: low where something covers the target.
    """

    row: float
    col: float
    covariance_px2: FloatArray
    likeness: float
    kept: float

    def __post_init__(self) -> None:
        """Make the array read-only."""
        object.__setattr__(self, "covariance_px2", frozen(self.covariance_px2))


@dataclass(frozen=True, eq=False)
class _Halves:
    """Both halves of the picture about one centre, laid over each other."""

    values: FloatArray
    difference: FloatArray
    slope_row: FloatArray
    slope_col: FloatArray
    noise_row: FloatArray
    noise_col: FloatArray
    pairs: BoolArray

    def scale(self, previous: float, iteration: int) -> tuple[float, bool]:
        """Return the scale of the differences for the weights, and whether it is the final one.

        Most pixels of a target lie on no edge. Away from the centre the few on its edges, which carry
        all that is known of the place, would pass for outliers: the scale comes down by degrees.
        It never grows, so that the weights cannot swing between two states.
        """
        differences = self.difference[self.pairs]
        # A perfect picture has no scatter, but needs weights too.
        final = max(robust_sigma(differences), 1e-9 * float(np.ptp(self.values)), 1e-300)
        wide = float(np.sqrt(np.mean(differences**2))) * _NARROWING**iteration
        return min(previous, max(final, wide)), wide <= final

    def normal(self, weights: FloatArray) -> FloatArray:
        """Return the weighted normal matrix of the two coordinates."""
        slopes = np.stack((self.slope_row, self.slope_col)).reshape(2, -1)
        matrix: FloatArray = (slopes * weights.ravel()) @ slopes.T
        return matrix

    def curvature(self, weights: FloatArray) -> FloatArray:
        """Return the normal matrix that the picture would have without noise.

        In the slopes of I(c + d) − I(c − d) along d a symmetric picture cancels out. What is left is noise,
        as much of it as the slopes by the centre hold.
        """
        normal = self.normal(weights)
        noise = np.stack((self.noise_row, self.noise_col)).reshape(2, -1)
        excess = (noise * weights.ravel()) @ noise.T
        largest = float(np.abs(np.linalg.eigvals(np.linalg.solve(normal, excess))).max())
        return normal - min(1.0, _LARGEST_EXCESS / max(largest, 1e-12)) * excess

    def step(self, weights: FloatArray) -> FloatArray | None:
        """Return the Gauss-Newton step in row and col, or None where the picture does not fix it."""
        right_side = np.array(
            [np.vdot(weights * slope, self.difference) for slope in (self.slope_row, self.slope_col)]
        )
        normal = self.normal(weights)
        if not np.linalg.cond(normal) < _WORST_CONDITION:
            return None
        step: FloatArray = -np.linalg.solve(normal, right_side)
        return step * min(1.0, _MAX_STEP_PX / max(float(np.hypot(*step)), 1e-12))


def fit_symmetry_centre(
    picture: SmoothPicture, row: float, col: float, footprint: BoolArray, *, smoothing_px: float
) -> SymmetryFit | None:
    """Return the centre of symmetry near a position by robust Gauss-Newton, or None where there is none.

    Parameters
    ----------
    picture
        Smoothed by a Gaussian of `smoothing_px`.
    row, col
        Where to start, within about a fifth of the target's size.
    footprint : array, shape (2 h + 1, 2 h + 1)
        True at the offsets (row − h, col − h) from the centre that belong to the target.

    Returns
    -------
    SymmetryFit or None
        None when the iteration does not settle, leaves the footprint or finds too few valid pixels.

    References
    ----------
    [HollandWelsch1977]_ for the weights.
    """
    footprint = footprint & footprint[::-1, ::-1]
    start, sigma = (row, col), np.inf
    for iteration in range(_MAX_ITERATIONS):
        halves = _fold(picture, row, col, footprint)
        if halves.pairs.sum() < 2 * _FEWEST_PAIRS:
            return None
        sigma, settled = halves.scale(sigma, iteration)
        weights = np.where(halves.pairs, tukey_weights(halves.difference, sigma), 0.0)
        step = halves.step(weights)
        if step is None or np.hypot(row - start[0], col - start[1]) > footprint.shape[0] / 2:
            return None
        row, col = row + float(step[0]), col + float(step[1])
        if settled and np.abs(step).max() < _CONVERGED_PX:
            return _finished(row, col, halves, weights, smoothing_px)
    return None


def _fold(picture: SmoothPicture, row: float, col: float, footprint: BoolArray) -> _Halves:
    half = footprint.shape[0] // 2
    values, slope_row, slope_col = picture.window(row, col, half)
    usable = picture.usable(row, col, half)
    return _Halves(
        values=values,
        difference=values - values[::-1, ::-1],
        slope_row=slope_row - slope_row[::-1, ::-1],
        slope_col=slope_col - slope_col[::-1, ::-1],
        noise_row=slope_row + slope_row[::-1, ::-1],
        noise_col=slope_col + slope_col[::-1, ::-1],
        pairs=footprint & usable & usable[::-1, ::-1],
    )


def _finished(
    row: float, col: float, halves: _Halves, weights: FloatArray, smoothing_px: float
) -> SymmetryFit:
    # Each pair stands in the sums twice, once from either end.
    pairs = 0.5 * float(weights.sum())
    freedom = max(pairs - 2.0, 1.0)
    scatter = float((weights * halves.difference**2).sum()) / TUKEY_CONSISTENCY
    variance = 0.5 * scatter / freedom
    inverse = np.linalg.inv(halves.curvature(weights))
    spread = _spread(halves, weights, smoothing_px, pairs)
    # Twice, since the difference of every pair was counted from both ends.
    covariance = 2.0 * variance * inverse @ spread @ inverse
    inside = halves.values[halves.pairs]
    unlike = 0.5 * float(np.mean(halves.difference[halves.pairs] ** 2))
    return SymmetryFit(
        row=row,
        col=col,
        covariance_px2=ellipse_inflation(freedom) * covariance,
        likeness=1.0 - unlike / max(float(np.var(inside)), 1e-300),
        kept=float(weights[halves.pairs].mean()),
    )


def _spread(halves: _Halves, weights: FloatArray, smoothing_px: float, pairs: float) -> FloatArray:
    """Return Σ J(d) w(d) ρ(d − e) w(e) J(e)ᵀ, with ρ the correlation of the residuals.

    Residuals of a fit are less correlated than the errors behind them, so each lag is raised by
    p / n (1 − ρ) with p = 2 unknowns, lowered by its own standard error, and kept above what the
    smoothing alone produces.
    """
    slopes = np.stack((halves.slope_row, halves.slope_col)) * weights
    weighted, squares = weights * halves.difference, weights * halves.difference**2
    spread = np.zeros((2, 2))
    for down, across in _HALF_PLANE_OF_LAGS:
        here, there = _lagged(down, across)
        measured = float(np.vdot(weighted[here], weighted[there]))
        measured /= max(float(np.vdot(squares[here], weights[there])), 1e-300)
        raised = measured + 2.0 / pairs * (1.0 - measured) - pairs**-0.5
        known = float(np.exp(-(down**2 + across**2) / (4.0 * smoothing_px**2)))
        ours, theirs = slopes[:, *here].reshape(2, -1), slopes[:, *there].reshape(2, -1)
        term = max(known, raised) * ours @ theirs.T
        spread += term + term.T
    return spread + slopes.reshape(2, -1) @ slopes.reshape(2, -1).T


def _lagged(down: int, across: int) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """Return two windows of one array whose elements lie so far apart; `down` is not negative."""
    rows = slice(down, None), slice(None, -down or None)
    if across >= 0:
        cols = slice(across, None), slice(None, -across or None)
    else:
        cols = slice(None, across), slice(-across, None)
    return (rows[0], cols[0]), (rows[1], cols[1])
