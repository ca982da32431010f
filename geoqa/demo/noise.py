"""Random fields with a chosen grain, and fields enlarged to a finer grid, for scenes that do not exist."""

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Field = NDArray[np.float32]


def smooth_noise(shape: tuple[int, int], grain_cells: float, rng: np.random.Generator) -> Field:
    """Return a smooth random field of mean 0 and standard deviation 1 whose lumps are `grain_cells` wide.

    Coarse fields are drawn on a coarser grid and enlarged, so that their cost does not grow with the grain.
    """
    step = max(1, int(grain_cells / 4))
    coarse = rng.standard_normal([length // step + 3 for length in shape], dtype=np.float32)
    coarse = ndimage.gaussian_filter(coarse, max(grain_cells / step / 2.5, 0.4), mode="wrap")
    coarse = (coarse - coarse.mean()) / coarse.std()
    return enlarge(coarse, step)[: shape[0], : shape[1]] if step > 1 else coarse[: shape[0], : shape[1]]


def enlarge(field: Field, factor: int) -> Field:
    """Return a field on a grid `factor` times finer, by quadratic B-splines: smooth, without creases."""
    return enlarge_rows(np.pad(field, 1, mode="edge"), factor)


def enlarge_rows(padded: Field, factor: int) -> Field:
    """Return the enlarged inner part of a field that brings one further row and column on each side."""
    weights = _spline_weights(factor)
    wide = np.empty((padded.shape[0], padded.shape[1] - 2, factor), np.float32)
    for place, (before, here, after) in enumerate(weights):
        wide[:, :, place] = before * padded[:, :-2] + here * padded[:, 1:-1] + after * padded[:, 2:]
    flat = wide.reshape(padded.shape[0], -1)
    tall = np.empty((padded.shape[0] - 2, factor, flat.shape[1]), np.float32)
    for place, (before, here, after) in enumerate(weights):
        tall[:, place] = before * flat[:-2] + here * flat[1:-1] + after * flat[2:]
    return tall.reshape(-1, flat.shape[1])


def _spline_weights(factor: int) -> Field:
    place = (np.arange(factor) + 0.5) / factor - 0.5
    return np.stack([0.5 * (0.5 - place) ** 2, 0.75 - place**2, 0.5 * (0.5 + place) ** 2], axis=1).astype(
        np.float32
    )
