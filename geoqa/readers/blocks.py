"""Windows of a raster, cut so that each block of the file is decoded once."""

from collections.abc import Iterator

import numpy as np

from geoqa.numerics.arrays import BoolArray, IntArray
from geoqa.numerics.tiling import Window, visit_counts, visits
from geoqa.readers._dataset import LEAST_SIDE, Pixels, Source
from geoqa.readers._gdal import over_network
from geoqa.readers._handles import opened_handles
from geoqa.records.measurements import RasterInfo, RasterPatch

# Tiles side by side lie together in most files, so that one request over a network fetches them all.
_REMOTE_COLS = 4096


def reading_tile(info: RasterInfo) -> tuple[int, int]:
    """Return rows, columns that are read in one go: a block of the file, or several small ones.

    Examples
    --------
    A strip of 6 rows gives 66 rows, a tile of 512 × 512 itself.
    """
    height, width = info.block_shape
    least_cols = _REMOTE_COLS if over_network(info.path) else LEAST_SIDE
    return height * -(-LEAST_SIDE // height), width * -(-least_cols // width)


def clipped(windows: IntArray, shape: tuple[int, int]) -> IntArray:
    """Return first row, first column, end row, end column of the part of each window in the raster.

    Parameters
    ----------
    windows : array, shape (n, 4)
        First row, first column, rows, columns; may hang over the edge or lie outside.
    """
    corners = np.hstack([windows[:, :2], windows[:, :2] + windows[:, 2:]])
    return np.clip(corners, 0, np.tile(shape, 2))


def read_patches(info: RasterInfo, windows: IntArray) -> Iterator[tuple[int, RasterPatch]]:
    """Yield the number of each window and its patch, as soon as its last block is decoded.

    Blocks are decoded once each, row by row, in whatever order the windows stand; memory is bounded by the
    patches that are begun and not finished.

    Parameters
    ----------
    windows : array, shape (n, 4)
        First row, first column, rows, columns. Beyond the raster a patch is not valid, its values are 0.

    Raises
    ------
    InputError
        Where a block cannot be decoded; the message names file and place.
    """
    windows = np.asarray(windows, dtype=np.int64).reshape(-1, 4)
    inside, tile = clipped(windows, info.shape), reading_tile(info)
    left = visit_counts(inside, tile)
    begun: dict[int, _Canvas] = {}
    with opened_handles(info) as handles:
        source = handles.first
        for index in np.flatnonzero(left == 0).tolist():
            yield index, _Canvas(windows[index], source, info).patch()
        for batch in handles.batches(visits(inside, tile)):
            with source.reading():
                found = handles.read([visit.window for visit in batch], Source.read_valid)
            for visit, (values, there) in zip(batch, found, strict=True):
                for index in visit.members.tolist():
                    if index not in begun:
                        begun[index] = _Canvas(windows[index], source, info)
                    begun[index].paste(values, there, visit.window)
                    left[index] -= 1
                    if not left[index]:
                        yield index, begun.pop(index).patch()


class _Canvas:
    """A patch that is being pasted together."""

    def __init__(self, window: IntArray, source: Source, info: RasterInfo) -> None:
        self._row0, self._col0, rows, cols = (int(number) for number in window)
        self._values: Pixels = np.zeros((len(source.bands), rows, cols), dtype=info.dtype)
        self._valid: BoolArray = np.zeros((rows, cols), dtype=bool)
        self._luma = info.luma

    def paste(self, values: Pixels, there: BoolArray, window: Window) -> None:
        """Take what of the window lies in the patch."""
        rows, cols = self._valid.shape
        top, bottom = max(window.row0, self._row0), min(window.row1, self._row0 + rows)
        left, right = max(window.col0, self._col0), min(window.col1, self._col0 + cols)
        here = np.s_[top - self._row0 : bottom - self._row0, left - self._col0 : right - self._col0]
        part = np.s_[top - window.row0 : bottom - window.row0, left - window.col0 : right - window.col0]
        self._values[:, *here] = values[:, *part]
        self._valid[here] = there[part]

    def patch(self) -> RasterPatch:
        """Return the patch."""
        return RasterPatch(self._values, self._valid, self._row0, self._col0, self._luma)
