"""What the residuals of a fitted target say: does one undisturbed target explain the picture?

Each disturbance is a few further terms of the model, made orthogonal to those that were fitted, so that one
step of least squares gives their size. Lengths are pixels of the window.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.numerics.robust import robust_sigma, tukey_weights
from geoqa.targets._appearance import AppearanceFit, design_of, weighted_sum

# Lines that may part a target: directions over half a turn, and distances from its middle in half sides.
_DIRECTIONS, _DISTANCES = 8, (-0.35, 0.0, 0.35)
_DERIVATIVE_STEP = 0.02
# How far a break or a bend moves the centre, in its size, and the gain up to which noise makes one.
_BREAK_SHARE, _BEND_SHARE, _NOISE_GAIN = 0.3, 1.0, 25.0
# A pixel shows paint or ground alone from this share on; fewer of them say nothing of their scatter.
_ALL_OF_ONE, _FEWEST_OF_ONE = 0.95, 8
# How far uneven ground moves the centre of paint, in its scatter times the blur: learnt from drawn discs and
# crosses on ground with stones and edges. One edge moves by 1.25 times that, and several differ.
_UNEVEN_SHARE = 0.8
# A pixel counts as foreign from this many contrasts and sigmas off the model.
_FOREIGN_CONTRASTS, _FOREIGN_SIGMAS = 0.4, 5.0


@dataclass(frozen=True)
class Disturbance:
    """Size of a disturbance, and how much of the residuals it takes away, in variances of the noise."""

    size_px: float
    gain: float


@dataclass(frozen=True, eq=False)
class Inspection:
    """The residuals of a fit, with what was fitted taken out of every further term."""

    fit: AppearanceFit

    @cached_property
    def _design(self) -> FloatArray:
        return design_of(self.fit)

    @cached_property
    def _weights(self) -> FloatArray:
        """Return 1 on the footprint and 0 off it, less where something foreign lies."""
        residual = self.fit.residual
        inside = self.fit.footprint
        sigma = max(robust_sigma(residual[inside]), 1e-3 * abs(self.fit.contrast), 1e-300)
        return np.where(inside, np.maximum(tukey_weights(residual, 3.0 * sigma), 0.05), 0.0)

    @cached_property
    def _basis(self) -> FloatArray:
        root = np.sqrt(self._weights)
        basis, _ = np.linalg.qr((self._design * root).T)
        columns: FloatArray = basis
        return columns

    def _steps(self, terms: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the sizes of further terms, shape (m, k), and the gain of each of m groups of k terms.

        Parameters
        ----------
        terms : array, shape (m, k, n)
        """
        groups, k, pixels = terms.shape
        root = np.sqrt(self._weights)
        columns = (terms * root).reshape(-1, pixels)
        columns = columns - (columns @ self._basis) @ self._basis.T
        target = self.fit.residual * root
        grouped = columns.reshape(groups, k, pixels)
        normal = grouped @ grouped.transpose(0, 2, 1)
        traces = np.trace(normal, axis1=1, axis2=2)[:, None, None]
        common = (columns @ target).reshape(groups, k)
        sizes = np.linalg.solve(normal + (1e-6 * traces + 1e-300) * np.eye(k), common[:, :, None])[:, :, 0]
        explained = (sizes * common).sum(axis=1)
        freedom = max(float(self._weights.sum()) - len(self._design), 1.0)
        left = np.maximum(float(target @ target) - explained, 0.0) / freedom
        return sizes, explained / np.maximum(left, (1e-3 * self.fit.contrast) ** 2)

    @cached_property
    def broken(self) -> Disturbance:
        """Return how far the parts of the target on both sides of a line are moved against each other."""
        angles = np.pi * np.arange(_DIRECTIONS) / _DIRECTIONS
        along = np.outer(np.cos(angles), self.fit.u) + np.outer(np.sin(angles), self.fit.v)
        beyond = np.concatenate([along > distance for distance in _DISTANCES])
        sizes, gains = self._steps(beyond[:, None, :] * self._design[:2])
        best = int(gains.argmax())
        return Disturbance(float(np.hypot(*sizes[best])), float(gains[best]))

    @cached_property
    def bent(self) -> Disturbance:
        """Return the scatter of the target's places under a smooth bend: what is no turn, stretch or skew."""
        u, v = self.fit.u, self.fit.v
        fields = (u * u, u * v, v * v)
        terms = [slope * field for slope in self._design[:2] for field in fields]
        (sizes,), (gain,) = self._steps(np.stack(terms)[None])
        inside = self.fit.footprint
        bent = sizes.reshape(2, 3) @ np.stack(fields)[:, inside]
        scatter = float(np.hypot(*bent.std(axis=1)))
        return Disturbance(scatter, float(gain))

    @cached_property
    def doubled(self) -> Disturbance:
        """Return how much more the picture is blurred along one direction than across it, as an offset.

        Two copies of equal weight that lie d apart widen every edge by the variance d² / 4 along d, and by
        nothing across it.
        """
        rows_rows, cols_cols, rows_cols = self._curvatures()
        terms = np.stack((0.5 * (rows_rows - cols_cols), rows_cols))
        (sizes,), (gain,) = self._steps(terms[None])
        variance = 2.0 * float(np.hypot(sizes[0], sizes[1]))
        return Disturbance(2.0 * variance**0.5, float(gain))

    def inconsistency_px2(self) -> float:
        """Return the variance of the centre that the fit of one undisturbed target does not show.

        Nothing where breaks and bends are what noise makes of them.
        """
        shares = (
            (_BREAK_SHARE * self.broken.size_px, self.broken.gain / _NOISE_GAIN),
            (_BEND_SHARE * self.bent.size_px, self.bent.gain / _NOISE_GAIN),
        )
        return max(max(0.0, 1.0 - 1.0 / max(gain, 1e-9)) * size_px**2 for size_px, gain in shares)

    def unevenness_px2(self) -> float:
        """Return the variance of the centre of paint from ground that is not alike on all sides.

        Where the ground is brighter by a share g of the contrast, the middle of a blurred edge moves by some
        g times the blur; the sides of a mark differ in g as the ground scatters, more than noise does.
        """
        fit = self.fit
        if not fit.pattern.painted:
            return 0.0
        paint, ground = (fit.residual[part > _ALL_OF_ONE] for part in fit.parts)
        if len(paint) < _FEWEST_OF_ONE or len(ground) < _FEWEST_OF_ONE:
            return 0.0
        noise = float(np.var(paint)) * (1.0 + 2.0 * (2.0 / len(paint)) ** 0.5)
        uneven = max(float(np.var(ground)) - noise, 0.0) / max((2.0 * fit.contrast) ** 2, 1e-300)
        blur_px = fit.shape.on_pixels(fit.sight.factor).blur_px
        return float(uneven * (_UNEVEN_SHARE * blur_px) ** 2)

    def _curvatures(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the second derivatives of the model by rows, by columns and by both."""
        step = _DERIVATIVE_STEP * self.fit.shape.size_px
        shape, pattern, sight = self.fit.shape, self.fit.pattern, self.fit.sight

        def model(down: float, across: float) -> FloatArray:
            u, v = shape.own_axes(sight.rows + down * step, sight.cols + across * step)
            return weighted_sum(self.fit.levels, pattern.parts(u, v, shape.blur, shape.proportions))

        here = self.fit.levels @ self.fit.parts
        rows_rows = model(1, 0) + model(-1, 0) - 2.0 * here
        cols_cols = model(0, 1) + model(0, -1) - 2.0 * here
        crossed = model(1, 1) + model(-1, -1) - model(1, -1) - model(-1, 1)
        return rows_rows / step**2, cols_cols / step**2, crossed / (4.0 * step**2)

    @cached_property
    def foreign(self) -> BoolArray:
        """Return which pixels of the footprint do not look like the target at all."""
        inside = self.fit.footprint
        sigma = robust_sigma(self.fit.residual[inside])
        off = max(_FOREIGN_CONTRASTS * abs(self.fit.contrast), _FOREIGN_SIGMAS * sigma)
        foreign: BoolArray = inside & (np.abs(self.fit.residual) > off)
        return foreign

    @property
    def foreign_share(self) -> float:
        """Return their share of the footprint."""
        return float(self.foreign.sum()) / max(float(self.fit.footprint.sum()), 1.0)

    def foreign_width(self) -> float:
        """Return how narrow the foreign pixels lie: their scatter across their line over that along it."""
        u, v = self.fit.u[self.foreign], self.fit.v[self.foreign]
        if len(u) < 4:
            return 1.0
        small, large = np.linalg.eigvalsh(np.cov(np.stack((u, v))))
        return float((max(small, 0.0) / max(large, 1e-12)) ** 0.5)
