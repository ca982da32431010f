"""Where in a picture a pattern stands, at any angle: masked normalised correlation.

A pattern on a disc is a sum of harmonics h_m(r) cos(m θ). Turning it by α only turns the phase of each
harmonic, so that a few correlations give those with the pattern at every angle. A plane is taken off the
picture under the disc: a brightness ramp belongs to the light and not to the pattern.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from geoqa.numerics.arrays import BoolArray, FloatArray

# From offsets in pixels along columns and along rows to the pattern's values.
PatternFunction: TypeAlias = Callable[[FloatArray, FloatArray], FloatArray]

_CIRCLE = 2.0 * np.pi * np.arange(96) / 96
_HIGHEST_ORDER = 16
# Harmonics with less than this share of the pattern's energy are left out.
_LEAST_ENERGY = 0.005
# Where less than this share of the disc is valid there is no correlation.
_LEAST_VALID = 0.7
# Spectra of kernels are kept for pictures of up to so many pixels, half a megabyte each.
_LARGEST_KEPT = 256**2
# From this share on the disc counts as whole.
_WHOLE = 0.98
# A disc with less than this share of the picture's variance holds nothing but rounding errors.
_LEAST_VARIANCE = 1e-6


@dataclass(frozen=True, eq=False)
class TurningPattern:
    """A pattern on a disc, as kernels to correlate with; all are centred on their middle pixel.

    Attributes
    ----------
    orders
        Orders m of the n harmonics that are kept.
    kernels : array, shape (3 + 2 n, k, k)
        The disc's weight; weight × row and weight × column; weight × the cosine parts of the harmonics,
        then of their sine parts.
    inertia
        Σ weight × row².
    norm
        Root of the pattern's energy on the disc without its mean.
    """

    orders: tuple[int, ...]
    kernels: FloatArray
    inertia: float
    norm: float


@dataclass(frozen=True, eq=False)
class CorrelationMap:
    """How well the pattern fits at every pixel, and how it is turned there.

    Attributes
    ----------
    strength : array, shape (rows, cols)
        Absolute correlation, 0 to 1, at the best angle; 0 where too little is valid.
    angle : array, shape (rows, cols)
        That angle in radians, from columns towards rows.
    """

    strength: FloatArray
    angle: FloatArray


def turning_pattern(pattern: PatternFunction, radius_px: float) -> TurningPattern:
    """Return the harmonics of a pattern on a disc of this radius in pixels."""
    half = int(np.ceil(radius_px + 0.5))
    rows, cols = np.mgrid[-half : half + 1, -half : half + 1].astype(float)
    radius, theta = np.hypot(rows, cols), np.arctan2(rows, cols)
    disc = np.clip(radius_px + 0.5 - radius, 0.0, 1.0)
    rings = np.arange(0.0, half * 2**0.5 + 1.0, 0.25)[:, None]
    samples = pattern(rings * np.cos(_CIRCLE), rings * np.sin(_CIRCLE))
    spectrum = np.fft.rfft(samples, axis=1).T[: _HIGHEST_ORDER + 1] / _CIRCLE.size
    # A real harmonic of order m > 0 holds the orders m and −m.
    spectrum[1:] *= 2.0
    waves = [
        np.interp(radius, rings[:, 0], profile) * np.exp(1j * order * theta)
        for order, profile in enumerate(spectrum)
    ]
    waves[0] = waves[0] - (disc * waves[0]).sum() / disc.sum()
    # The plane that is taken off the picture is taken off the pattern as well.
    slope = (disc * waves[1] * (cols - 1j * rows)).sum() / (disc * radius**2).sum()
    waves[1] = waves[1] - slope * (cols + 1j * rows)
    energies = np.array([float((disc * wave.real**2).sum()) for wave in waves])
    orders = tuple(int(m) for m in np.flatnonzero(energies > _LEAST_ENERGY * energies.sum()))
    parts = [waves[m].real for m in orders] + [waves[m].imag for m in orders]
    return TurningPattern(
        orders=orders,
        kernels=disc * np.stack([np.ones_like(disc), rows, cols, *parts]),
        inertia=float((disc * rows**2).sum()),
        norm=float(energies[list(orders)].sum()) ** 0.5,
    )


def correlate(
    picture: FloatArray, valid: BoolArray, pattern: TurningPattern, angles: FloatArray
) -> CorrelationMap:
    """Return the masked normalised correlation with the pattern at the best of the given angles.

    Parameters
    ----------
    picture, valid : arrays, shape (rows, cols)
        Grey values, and False where there is none: such pixels, and all beyond the picture, have no
        share.
    angles : array, shape (a,)
        Turns of the pattern in radians, from columns towards rows.
    """
    level = float(picture[valid].mean()) if valid.any() else 0.0
    flat = np.where(valid, picture - level, 0.0)
    filtered, covered = _filtered(flat, pattern), _covered(pattern, valid)
    weight = float(pattern.kernels[0].sum())
    share = covered[0] / weight
    mean = filtered[0] / (np.maximum(share, 0.1) * weight)
    # On a part of the disc the pattern has a mean of its own, which would answer to that of the picture.
    harmonics = filtered[3:] - mean * covered[3:]
    energy = _energy(flat, pattern, filtered, mean, share)
    phases = np.outer(angles, pattern.orders)
    turns = np.hstack((np.cos(phases), np.sin(phases)))
    responses = np.abs(np.tensordot(turns, harmonics, 1))
    best = responses.argmax(axis=0)
    response = np.take_along_axis(responses, best[None], axis=0)[0]
    least = _LEAST_VARIANCE * float(np.mean(flat**2)) * float(pattern.kernels[0].sum())
    enough = (share > _LEAST_VALID) & (energy > least)
    # Where a part of the disc is missing, so is that part of the pattern's energy.
    scale = pattern.norm * np.sqrt(np.where(enough, energy * share, 1.0))
    strength = np.where(enough, np.minimum(response / scale, 1.0), 0.0)
    return CorrelationMap(strength, angles[best])


def _energy(
    flat: FloatArray, pattern: TurningPattern, filtered: FloatArray, mean: FloatArray, share: FloatArray
) -> FloatArray:
    """Return the picture's energy under the disc without its plane."""
    (squares,) = _filtered(flat**2, pattern, kernels=1)
    # On a part of the disc level and tilt are not apart, so that no tilt is taken off: this errs towards less
    # correlation.
    tilt = np.where(share > _WHOLE, (filtered[1:3] ** 2).sum(axis=0) / pattern.inertia, 0.0)
    energy: FloatArray = np.maximum(squares - mean * filtered[0] - tilt, 0.0)
    return energy


def _covered(pattern: TurningPattern, valid: BoolArray) -> FloatArray:
    """Return what the kernels make of a picture that is 1 where there is one and 0 elsewhere."""
    if valid.all() and valid.size <= _LARGEST_KEPT:
        whole: FloatArray = _covered_by_whole(pattern, (valid.shape[0], valid.shape[1]))
        return whole
    return _filtered(valid.astype(float), pattern)


def _filtered(values: FloatArray, pattern: TurningPattern, kernels: int | None = None) -> FloatArray:
    """Return Σ kernel(d) values(p + d) at every pixel p for the first kernels, or for all of them."""
    size = pattern.kernels.shape[1]
    rows, cols = (fft.next_fast_len(max(length, size) + size // 2, real=True) for length in values.shape)
    keep = _kernel_spectra if rows * cols <= _LARGEST_KEPT else _kernel_spectra.__wrapped__
    spectra = keep(pattern, (rows, cols))[:kernels]
    products: FloatArray = fft.irfft2(fft.rfft2(values, (rows, cols)) * spectra, (rows, cols))
    return products[:, : values.shape[0], : values.shape[1]]


@lru_cache(maxsize=64)
def _covered_by_whole(pattern: TurningPattern, shape: tuple[int, int]) -> FloatArray:
    covered: FloatArray = _filtered(np.ones(shape), pattern)
    return covered


@lru_cache(maxsize=64)
def _kernel_spectra(pattern: TurningPattern, shape: tuple[int, int]) -> NDArray[np.complex128]:
    size = pattern.kernels.shape[1]
    padded = np.zeros((len(pattern.kernels), *shape))
    padded[:, :size, :size] = pattern.kernels
    # The middle of the kernels comes to the first pixel, so that nothing is moved by the product.
    centred = np.roll(padded, (-(size // 2), -(size // 2)), axis=(1, 2))
    spectra: NDArray[np.complex128] = np.conj(fft.rfft2(centred))
    return spectra
