"""Places in a window that may hold a panel, found on block averages by correlation at all angles."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from math import hypot

import numpy as np
from scipy import ndimage

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.numerics.blocks import block_average
from geoqa.numerics.correlation import CorrelationMap, TurningPattern, correlate, turning_pattern
from geoqa.numerics.edges import effective_blur_px
from geoqa.targets import LARGEST_SIZE_PX
from geoqa.targets._pattern import QUARTER_TURN, PanelPattern

# Sides in pixels that are tried where the size is not known.
_SMALLEST_PX = 8.0
_UNKNOWN_SIZES = tuple(float(s) for s in np.geomspace(_SMALLEST_PX, LARGEST_SIZE_PX, 14))
# Shares of the known size that are tried; a fit bridges the gaps.
_KNOWN_SHARES = (0.86, 1.0, 1.16)
# Side of a panel on the block averages.
_WORKING_SIDE_PX = 11.0
# The disc stays this far within the square, in half sides.
_DISC = 0.95
_TYPICAL_BLUR_PX = 0.9
_ANGLES = QUARTER_TURN * np.arange(12) / 12
# Share of the brightest tones that is added before the logarithm: it keeps the noise of dark pixels down.
_LIFT = 0.05


@dataclass(frozen=True)
class Candidate:
    """A place, size and turn at which the pattern may stand, in pixels of the window.

    `angle` is in radians from columns towards rows, `strength` the correlation there.
    """

    row: float
    col: float
    size_px: float
    angle: float
    strength: float


@dataclass(frozen=True)
class SearchArea:
    """Where the centre may lie, in the window's own rows and columns, and the size or None."""

    row: float
    col: float
    radius_px: float
    size_px: float | None

    def sizes(self) -> tuple[float, ...]:
        """Return the sides in pixels to try."""
        if self.size_px is None:
            return _UNKNOWN_SIZES
        return tuple(share * self.size_px for share in _KNOWN_SHARES)

    def holds(self, row: float, col: float, slack_px: float = 0.0) -> bool:
        """Return whether a centre there lies within the radius."""
        return hypot(row - self.row, col - self.col) <= self.radius_px + slack_px


def find_candidates(
    grey: FloatArray, valid: BoolArray, area: SearchArea, pattern: PanelPattern, *, least: float, most: int
) -> list[Candidate]:
    """Return up to `most` places per size with at least this correlation, strongest first."""
    tones = logarithmic(grey, valid)
    found: list[Candidate] = []
    for factor, sizes in groupby(area.sizes(), key=_block_factor):
        found += _peaks_on_blocks(tones, valid, area, pattern, factor, tuple(sizes), least, most)
    return sorted(found, key=lambda candidate: -candidate.strength)


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
    pattern: PanelPattern,
    factor: int,
    sizes: tuple[float, ...],
    least: float,
    most: int,
) -> list[Candidate]:
    reach = area.radius_px + 0.6 * max(sizes) + 2.0 * factor
    top, left = max(0, int(area.row - reach)), max(0, int(area.col - reach))
    near = slice(top, max(0, int(area.row + reach) + 2)), slice(left, max(0, int(area.col + reach) + 2))
    blocks, usable = block_average(tones[near], valid[near], factor)
    peaks = []
    for size in sizes if blocks.size else ():
        kernels = _kernels(pattern, round(4.0 * size / factor) / 4.0, factor)
        matches = correlate(blocks, usable, kernels, _ANGLES)
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
        within = [place for place in places if area.holds(place.row, place.col, slack_px=factor)]
        peaks += sorted(within, key=lambda place: -place.strength)[:most]
    return peaks


@lru_cache(maxsize=256)
def _kernels(pattern: PanelPattern, side_px: float, factor: int) -> TurningPattern:
    half_side = side_px / 2.0
    blur = effective_blur_px(_TYPICAL_BLUR_PX / factor) / half_side
    return turning_pattern(
        lambda across, down: pattern.tone(across / half_side, down / half_side, blur), _DISC * half_side
    )


def _local_maxima(matches: CorrelationMap, side_px: float, least: float) -> Iterator[tuple[int, int]]:
    around = 2 * max(1, round(0.3 * side_px)) + 1
    highest = ndimage.maximum_filter(matches.strength, size=around, mode="constant")
    rows, cols = np.nonzero((matches.strength == highest) & (matches.strength >= least))
    yield from zip(rows.tolist(), cols.tolist(), strict=True)
