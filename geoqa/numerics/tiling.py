"""Which tiles of a grid a set of windows reaches into, so that each tile is visited once."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from geoqa.numerics.arrays import BoolArray, IntArray


@dataclass(frozen=True)
class Window:
    """Rows `row0` to `row1` and columns `col0` to `col1` of a grid, the ends excluded."""

    row0: int
    row1: int
    col0: int
    col1: int

    @property
    def shape(self) -> tuple[int, int]:
        """Return rows, columns."""
        return self.row1 - self.row0, self.col1 - self.col0


@dataclass(frozen=True, eq=False)
class Visit:
    """One tile, and the windows that reach into it.

    Attributes
    ----------
    window
        The part of the tile that encloses what the windows want of it.
    members : array of int
        Numbers of the windows, ascending.
    """

    window: Window
    members: IntArray


def visits(windows: IntArray, tile_shape: tuple[int, int]) -> Iterator[Visit]:
    """Yield each tile that a window reaches into once, row by row and from left to right.

    Parameters
    ----------
    windows : array, shape (n, 4)
        First row, first column, end row, end column, ends excluded, none negative. A window without rows or
        columns is in no tile.
    tile_shape
        Rows, columns of a tile.

    Examples
    --------
    >>> [visit.window for visit in visits(np.array([[0, 6, 2, 9]]), (8, 8))]
    [Window(row0=0, row1=2, col0=6, col1=8), Window(row0=0, row1=2, col0=8, col1=9)]
    """
    members, tiles = _pairs(windows, tile_shape)
    if not len(members):
        return
    changes: IntArray = np.abs(np.diff(tiles, axis=0)).sum(axis=1)
    starts = np.concatenate([[0], 1 + np.flatnonzero(changes)])
    low = np.maximum(windows[members, :2], tiles * tile_shape)
    high = np.minimum(windows[members, 2:], (tiles + 1) * tile_shape)
    first = np.minimum.reduceat(low, starts, axis=0).tolist()
    end = np.maximum.reduceat(high, starts, axis=0).tolist()
    parts = np.split(members, starts[1:])
    for (row0, col0), (row1, col1), part in zip(first, end, parts, strict=True):
        yield Visit(Window(row0, row1, col0, col1), part)


def visit_counts(windows: IntArray, tile_shape: tuple[int, int]) -> IntArray:
    """Return in how many tiles each window lies, shape (n,)."""
    return np.asarray(_spans(windows, tile_shape).prod(axis=1))


def _spans(windows: IntArray, tile_shape: tuple[int, int]) -> IntArray:
    """Return how many rows and columns of tiles each window touches, shape (n, 2)."""
    filled: BoolArray = np.all(windows[:, 2:] > windows[:, :2], axis=1, keepdims=True)
    first, last = windows[:, :2] // tile_shape, (windows[:, 2:] - 1) // tile_shape
    return np.where(filled, last - first + 1, 0)


def _pairs(windows: IntArray, tile_shape: tuple[int, int]) -> tuple[IntArray, IntArray]:
    """Return window number and row, column of the tile for each meeting of the two, by tile."""
    spans = _spans(windows, tile_shape)
    counts = spans.prod(axis=1)
    members = np.repeat(np.arange(len(windows)), counts)
    rank = np.arange(len(members)) - np.repeat(np.cumsum(counts) - counts, counts)
    across = np.maximum(spans[members, 1], 1)
    tiles = windows[members, :2] // tile_shape + np.column_stack([rank // across, rank % across])
    order = np.lexsort((members, tiles[:, 1], tiles[:, 0]))
    return members[order], tiles[order]
