"""Places in a window that may hold a target, found on block averages by correlation at all angles."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import groupby
from math import hypot

import numpy as np
from scipy import ndimage

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.numerics.blocks import block_average
from geoqa.numerics.cell_shape import square_cells
from geoqa.numerics.correlation import CorrelationMap, TurningPattern, correlate, turning_pattern
from geoqa.numerics.edges import effective_blur_px
from geoqa.targets import LARGEST_SIZE_PX
from geoqa.targets._pattern import TargetPattern

# Sides in pixels that are tried where the size is not known.
_SMALLEST_PX = 8.0
_UNKNOWN_SIZES = tuple(float(s) for s in np.geomspace(_SMALLEST_PX, LARGEST_SIZE_PX, 14))
# Shares of the known size that are tried; a fit bridges the gaps.
_KNOWN_SHARES = (0.86, 1.0, 1.16)
# In a wide area: smaller ones are too many, and a fit bridges wider gaps.
_FAR_SIZES = tuple(size for size in _UNKNOWN_SIZES[::-2] if size > 16.0)
# Side of a target on the block averages.
_WORKING_SIDE_PX = 11.0
# Radius in half sides of what is compared: a panel's inside, or paint and the ground around it.
_INSIDE_PANEL, _AROUND_DISC, _AROUND_PAINT = 0.95, 1.35, 1.15
_TYPICAL_BLUR_PX = 0.9
# Between two turns that are tried.
_ANGLE_STEP = np.pi / 24
# Share of the brightest tones that is added before the logarithm: it keeps the noise of dark pixels down.
_LIFT = 0.05
# Longer over shorter side of a pixel up to which it passes for square.
_NEARLY_SQUARE = 1.02
# A pixel between others is one where nearly all of what it is interpolated from is valid.
_WHOLE_PIXEL = 0.99


@dataclass(frozen=True, eq=False)
class Candidate:
    """A place, size and turn at which the pattern may stand, in pixels of the window.

    `angle` is in radians from columns towards rows on square pixels, `strength` the correlation there,
    `stretch` that of the `TargetSearch`.
    """

    row: float
    col: float
    size_px: float
    angle: float
    strength: float
    stretch: FloatArray = field(default_factory=square_cells)


@dataclass(frozen=True, eq=False)
class SearchArea:
    """Where the centre may lie, in the window's own rows and columns, and the size or None.

    In a wide area small sides are left out where none is known, and a known one is taken as it is.
    `stretch` is that of the `TargetSearch`.
    """

    row: float
    col: float
    radius_px: float
    size_px: float | None
    wide: bool = False
    stretch: FloatArray = field(default_factory=square_cells)

    def sizes(self) -> tuple[float, ...]:
        """Return the sides in pixels to try."""
        if self.size_px is None:
            return _FAR_SIZES if self.wide else _UNKNOWN_SIZES
        return tuple(share * self.size_px for share in ((1.0,) if self.wide else _KNOWN_SHARES))

    def holds(self, row: float, col: float, slack_px: float = 0.0) -> bool:
        """Return whether a centre there lies within the radius."""
        down, across = self.stretch @ (row - self.row, col - self.col)
        return hypot(down, across) <= self.radius_px + slack_px


def find_candidates(
    grey: FloatArray, valid: BoolArray, area: SearchArea, pattern: TargetPattern, *, least: float, most: int
) -> list[Candidate]:
    """Return up to `most` places per size with at least this correlation, strongest first."""
    tones = logarithmic(grey, valid)
    if np.linalg.cond(area.stretch) > _NEARLY_SQUARE:
        found = _on_square_pixels(tones, valid, area, pattern, least, most)
    else:
        found = _peaks(tones, valid, area, pattern, least, most)
    return sorted(found, key=lambda candidate: -candidate.strength)


def _on_square_pixels(
    tones: FloatArray, valid: BoolArray, area: SearchArea, pattern: TargetPattern, least: float, most: int
) -> list[Candidate]:
    """Return the places found on square pixels of the same area: a pattern keeps its form when it turns."""
    back = np.linalg.inv(area.stretch)
    corners = np.array([[0, 0, 1, 1], [0, 1, 0, 1]]) * np.array([valid.shape]).T
    first, last = (area.stretch @ corners).min(axis=1), (area.stretch @ corners).max(axis=1)
    shape = tuple(np.ceil(last - first).astype(int).tolist())
    offset = back @ (first + 0.5) - 0.5
    level = float(tones[valid].mean()) if valid.any() else 0.0
    squared = ndimage.affine_transform(tones, back, offset, shape, order=1, cval=level)
    there = ndimage.affine_transform(valid.astype(float), back, offset, shape, order=1) > _WHOLE_PIXEL
    row, col = (area.stretch @ (area.row, area.col) - first).tolist()
    square = SearchArea(row, col, area.radius_px, area.size_px, area.wide)
    found = []
    for peak in _peaks(squared, there, square, pattern, least, most):
        down, across = back @ (first + np.array([peak.row, peak.col]))
        found.append(replace(peak, row=float(down), col=float(across), stretch=area.stretch))
    return found


def _peaks(
    tones: FloatArray, valid: BoolArray, area: SearchArea, pattern: TargetPattern, least: float, most: int
) -> list[Candidate]:
    found: list[Candidate] = []
    for factor, sizes in groupby(area.sizes(), key=_block_factor):
        found += _peaks_on_blocks(tones, valid, area, pattern, factor, tuple(sizes), least, most)
    return found


def _block_factor(size_px: float) -> int:
    return max(1, round(size_px / _WORKING_SIDE_PX))


def logarithmic(grey: FloatArray, valid: BoolArray) -> FloatArray:
    """Return the logarithm of grey, so that a shadow's edge adds a step instead of scaling the pattern."""
    if not valid.any():
        return np.zeros(grey.shape)
    bright = float(np.percentile(grey[valid], 95.0))
    lift = _LIFT * max(bright, 1e-12)
    tones: FloatArray = np.log(np.maximum(np.where(valid, grey, bright), 0.0) + lift)
    return tones


def _peaks_on_blocks(
    tones: FloatArray,
    valid: BoolArray,
    area: SearchArea,
    pattern: TargetPattern,
    factor: int,
    sizes: tuple[float, ...],
    least: float,
    most: int,
) -> list[Candidate]:
    # The point may lie in a corner, the place sought is the middle.
    corner = 0.0 if pattern.point is None else 2**-0.5
    reach = area.radius_px + (0.6 + corner) * max(sizes) + 2.0 * factor
    top, left = max(0, int(area.row - reach)), max(0, int(area.col - reach))
    near = slice(top, max(0, int(area.row + reach) + 2)), slice(left, max(0, int(area.col + reach) + 2))
    blocks, usable = block_average(tones[near], valid[near], factor)
    peaks = []
    for size in sizes if blocks.size else ():
        kernels = _kernels(pattern, round(4.0 * size / factor) / 4.0, factor)
        matches = correlate(blocks, usable, kernels, _angles(pattern))
        places = [
            Candidate(
                top + (row + 0.5) * factor,
                left + (col + 0.5) * factor,
                size,
                float(matches.angle[row, col]),
                float(matches.strength[row, col]),
            )
            for row, col in _local_maxima(matches, size / factor, least)
        ]
        slack_px = factor + corner * size
        within = [place for place in places if area.holds(place.row, place.col, slack_px=slack_px)]
        peaks += sorted(within, key=lambda place: -place.strength)[:most]
    return peaks


@lru_cache(maxsize=64)
def _angles(pattern: TargetPattern) -> FloatArray:
    """Return the turns to try; a further turn repeats the pattern or swaps its tones."""
    return np.arange(max(1, round(pattern.turn / _ANGLE_STEP)), dtype=np.float64) * _ANGLE_STEP


@lru_cache(maxsize=512)
def _kernels(pattern: TargetPattern, side_px: float, factor: int) -> TurningPattern:
    half_side = side_px / 2.0
    blur = effective_blur_px(_TYPICAL_BLUR_PX / factor) / half_side

    def picture(across: FloatArray, down: FloatArray) -> FloatArray:
        u, v = across / half_side, down / half_side
        if pattern.painted:
            return pattern.parts(u, v, blur, pattern.proportions)[0]
        return pattern.tone(u, v, blur, pattern.proportions)

    around = _INSIDE_PANEL
    if pattern.painted:
        around = _AROUND_DISC if pattern.round else _AROUND_PAINT
    return turning_pattern(picture, around * half_side)


def _local_maxima(matches: CorrelationMap, side_px: float, least: float) -> Iterator[tuple[int, int]]:
    around = 2 * max(1, round(0.3 * side_px)) + 1
    highest = ndimage.maximum_filter(matches.strength, size=around, mode="constant")
    rows, cols = np.nonzero((matches.strength == highest) & (matches.strength >= least))
    yield from zip(rows.tolist(), cols.tolist(), strict=True)
