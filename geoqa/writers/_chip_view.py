"""The window of the orthomosaic that a target's picture shows, and where things lie in it."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from geoqa.numerics.arrays import FloatArray
from geoqa.records.measurements import RasterInfo, RasterPatch

if TYPE_CHECKING:
    from PIL.Image import Image

SIDE_PX = 360
# Windows whose pixels come out as whole squares in the picture.
_WINDOWS = [side for side in range(SIDE_PX, 17, -1) if SIDE_PX % side == 0]
_AROUND_PX = 12.0
_TARGETS_WIDE = 2.4
# A place more than so many sides of the patch away from its middle is left to the caption.
_FURTHEST = 2.0
# Where the orthomosaic has nothing, stripes of these two greys.
_STRIPES, _STRIPE_PX = (196, 222), 6


@dataclass(frozen=True, eq=False)
class View:
    """A square window, enlarged.

    Attributes
    ----------
    row0, col0, side
        Upper left corner in the raster and side of the window, in its pixels.
    """

    row0: int
    col0: int
    side: int

    @property
    def scale(self) -> float:
        """Return how many pixels of the picture a pixel of the raster takes."""
        return SIDE_PX / self.side

    def place(self, row: float, col: float) -> tuple[float, float]:
        """Return x and y in the picture of a position in the raster."""
        return (col - self.col0) * self.scale, (row - self.row0) * self.scale


def view(patch: RasterPatch, places: FloatArray, size_px: float | None = None) -> View:
    """Return a window around these places (row, col): the patch, or less where the target is small in it.

    Parameters
    ----------
    places : array, shape (k, 2)
        Rows with NaN and places far off the patch are left out; all others lie inside the window with
        air around them.
    size_px
        Side or diameter of the target; None or NaN shows the whole patch, as far as it fits.
    """
    sides = np.array(patch.valid.shape)
    start = np.array([patch.row0, patch.col0])
    middle = start + sides / 2
    known = places[(np.abs(places - middle) <= _FURTHEST * sides).all(axis=1)]
    low, high = (known.min(axis=0), known.max(axis=0)) if len(known) else (middle, middle)
    side = _side(float((high - low).max()) + 2 * _AROUND_PX, int(sides.min()), size_px or np.inf)
    corner = np.round((low + high) / 2 - side / 2).astype(int)
    # The window stays on the patch where it can.
    inside = np.clip(corner, start, np.maximum(start, start + sides - side))
    holds = ((low - _AROUND_PX / 2 >= inside) & (high + _AROUND_PX / 2 <= inside + side)).all()
    row0, col0 = inside if holds else corner
    return View(int(row0), int(col0), side)


def _side(needed: float, patch_side: int, size_px: float) -> int:
    """Return the side of the window: a few targets wide, else as wide as the patch, but what is needed."""
    fitting = [side for side in _WINDOWS if needed <= side <= patch_side]
    narrow = [side for side in fitting if side >= _TARGETS_WIDE * size_px]
    if fitting:
        return narrow[-1] if narrow else fitting[0]
    return int(np.ceil(max(needed, min(patch_side, SIDE_PX))))


def picture(patch: RasterPatch, shown: View, info: RasterInfo | None) -> "Image":
    """Return the window enlarged without smoothing, RGB; stripes where nothing is known."""
    from PIL import Image

    rows, cols = patch.valid.shape
    row, col = (np.arange(shown.side) + start for start in (shown.row0 - patch.row0, shown.col0 - patch.col0))
    there = ((row >= 0) & (row < rows))[:, None] & ((col >= 0) & (col < cols))[None]
    index = np.ix_(np.clip(row, 0, rows - 1), np.clip(col, 0, cols - 1))
    bands = patch.values[:3] if len(patch.values) >= 3 else patch.values[:1].repeat(3, axis=0)
    tones = _eight_bits(np.asarray(bands, dtype=float), patch, info)
    known = there & patch.valid[index]
    window = np.stack([band[index] for band in tones], axis=-1).astype(np.uint8)
    size, nearest = (SIDE_PX, SIDE_PX), Image.Resampling.NEAREST
    enlarged = Image.fromarray(window).resize(size, nearest)
    if not known.all():
        enlarged.paste(
            _stripes(), mask=Image.fromarray(np.where(known, 0, 255).astype(np.uint8)).resize(size, nearest)
        )
    return enlarged


def _stripes() -> "Image":
    from PIL import Image

    diagonal = np.add.outer(np.arange(SIDE_PX), np.arange(SIDE_PX)) // _STRIPE_PX % 2
    return Image.fromarray(np.where(diagonal == 0, *_STRIPES).astype(np.uint8)).convert("RGB")


def _eight_bits(bands: FloatArray, patch: RasterPatch, info: RasterInfo | None) -> FloatArray:
    """Return the bands from 0 to 255: as they are in an 8-bit file, stretched in any other."""
    if info is not None and info.dtype == "uint8":
        return np.clip(bands, 0, 255)
    known = bands[:, patch.valid]
    known = known[np.isfinite(known)]
    low, high = np.percentile(known, [1, 99]) if len(known) else (0.0, 1.0)
    if high <= low:
        return np.full(bands.shape, 127.0)
    return np.nan_to_num(np.clip((bands - low) / (high - low), 0, 1) * 255)
