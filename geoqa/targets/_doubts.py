"""What speaks against a panel that was found: flags for the table, sentences for a person."""

from dataclasses import dataclass
from math import hypot

import numpy as np

from geoqa.numerics.arrays import BoolArray
from geoqa.numerics.symmetry import SymmetryFit
from geoqa.records.measurements import RasterPatch
from geoqa.targets._finds import SURE, Find

# Centre by symmetry and centre of the footprint differ by no more than this in a sound panel.
_AGREEMENT_PX, _AGREEMENT_SIDES = 0.35, 0.03
# Mean weight of the pairs below which something covers the panel.
_LEAST_KEPT = 0.65
_LOW_CONTRAST = 0.2
_SMALL_PX = 10.0
_SIZE_TOLERANCE = 1.2
_SATURATED_SHARE = 0.05
_WHOLE_SHARE = 0.98


@dataclass(frozen=True)
class Doubt:
    """A reason not to rely on a find, as a sentence without its full stop."""

    flag: str
    reason: str


def doubts(find: Find, centre: SymmetryFit | None, rival: Find | None, size_px: float | None) -> list[Doubt]:
    """Return what makes a find suspect, gravest first; nothing for a sound one."""
    found: list[Doubt] = []
    if find.score < SURE:
        found.append(Doubt("doubtful look", "it resembles the panel, but not closely enough to rely on"))
    if rival is not None:
        away = rival.distance_px(find.row, find.col)
        found.append(Doubt("look-alike", f"something {away:.0f} px away resembles the panel almost as well"))
    if centre is None:
        found.append(Doubt("asymmetric", "the two halves of the panel do not match"))
    else:
        found += _doubts_about_centre(find, centre)
    ratio = find.evidence.size_ratio
    if size_px is not None and ratio is not None and not 1 / _SIZE_TOLERANCE <= ratio <= _SIZE_TOLERANCE:
        message = f"it is {find.size_px:.1f} px wide where {size_px:.1f} px were expected"
        found.append(Doubt("size mismatch", message))
    return found


def _doubts_about_centre(find: Find, centre: SymmetryFit) -> list[Doubt]:
    found: list[Doubt] = []
    off_px = hypot(centre.row - find.row, centre.col - find.col)
    if off_px > _AGREEMENT_PX + _AGREEMENT_SIDES * find.size_px:
        message = f"its outline and its pattern have centres {off_px:.1f} px apart"
        found.append(Doubt("asymmetric", message))
    if centre.kept < _LEAST_KEPT:
        found.append(Doubt("covered", "part of the panel is covered or changed"))
    return found


def remarks(find: Find, patch: RasterPatch) -> list[str]:
    """Return flags that do not cast doubt on the position: they explain a large covariance."""
    flags = []
    if find.evidence.relative_contrast < _LOW_CONTRAST:
        flags.append("low contrast")
    if find.size_px < _SMALL_PX:
        flags.append("small")
    footprint = _footprint(find, patch.valid.shape)
    if _saturated_share(patch, footprint) > _SATURATED_SHARE:
        flags.append("over-exposed")
    if not _is_whole(find, patch.valid.shape):
        flags.append("at window edge")
    if footprint.any() and patch.valid[footprint].mean() < _WHOLE_SHARE:
        flags.append("partly without data")
    return flags


def _is_whole(find: Find, shape: tuple[int, ...]) -> bool:
    """Return whether all four corners of the panel lie in the window."""
    corners = np.linalg.solve(find.fit.shape.axes, np.array([[1, 1, -1, -1], [1, -1, 1, -1]]))
    rows, cols = corners + np.array([[find.row], [find.col]])
    inside = (rows >= 0) & (rows <= shape[0]) & (cols >= 0) & (cols <= shape[1])
    return bool(inside.all())


def _footprint(find: Find, shape: tuple[int, ...]) -> BoolArray:
    rows, cols = np.mgrid[: shape[0], : shape[1]] + 0.5
    u, v = find.fit.shape.own_axes(rows, cols)
    footprint: BoolArray = np.maximum(np.abs(u), np.abs(v)) <= 1.0
    return footprint


def _saturated_share(patch: RasterPatch, footprint: BoolArray) -> float:
    """Return the share of the panel at the largest value the file can hold; 0 for floating point."""
    if not np.issubdtype(patch.values.dtype, np.integer) or not footprint.any():
        return 0.0
    largest = np.iinfo(str(patch.values.dtype)).max
    return float((patch.values[:, footprint] == largest).any(axis=0).mean())
