"""Marks on the map: the outlines of points and of vectors."""

from typing import TYPE_CHECKING

import numpy as np

from geoqa.numerics.arrays import FloatArray
from geoqa.writers._symbols import Shape

if TYPE_CHECKING:
    from matplotlib.path import Path

_HALF_SQUARE = 0.82
# Points of the page.
MARK_RADIUS_PT = 4.2
# Dots and gaps of the white line through a vector that is cut, and of the outline of the product.
CUT_DASHES, CUT_GAP_PT = (1.2, 3.0), 1.8
OUTLINE_DASHES = (7, 3)
# Distance and width of the strokes over ground that no checkpoint supports.
STROKES_PT, STROKE_WIDTH_PT = 6.5, 0.45
SHAFT_PT, HEAD_WIDTH_PT, HEAD_LENGTH_PT = 1.5, 6.0, 7.5


def mark(shape: Shape | None) -> "Path":
    """Return the outline of a point, centre of gravity at 0, 0, about 1 in radius; None gives the square."""
    from matplotlib.path import Path

    if shape is Shape.WITHIN:
        return Path.unit_circle()
    if shape is None:
        half = _HALF_SQUARE
        return Path([(-half, -half), (half, -half), (half, half), (-half, half), (-half, -half)], closed=True)
    up = 1.0 if shape is Shape.HIGH else -1.0
    wide, tip, foot = 1.13, 1.3 * up, -0.65 * up
    return Path([(-wide, foot), (wide, foot), (0.0, tip), (-wide, foot)], closed=True)


def arrows(start: FloatArray, tip: FloatArray, *, unit: float = 1.0) -> FloatArray:
    """Return the outlines of arrows, shape (k, 7, 2), in the coordinates of their ends.

    Parameters
    ----------
    start, tip : array, shape (k, 2)
        An arrow without length gets an outline without area.
    unit
        Length of a point of the page in these coordinates.

    Notes
    -----
    The tip lies exactly at `tip`. A short arrow is all head, smaller in proportion, so that it
    never looks longer than it is.
    """
    step = tip - start
    length = np.hypot(step[:, 0], step[:, 1])
    along = np.divide(step, length[:, None], out=np.zeros_like(step), where=length[:, None] > 0)
    across = np.column_stack([-along[:, 1], along[:, 0]])
    head = np.minimum(HEAD_LENGTH_PT * unit, length)
    size = head / (HEAD_LENGTH_PT * unit)
    half_head = (HEAD_WIDTH_PT / 2 * unit * size)[:, None] * across
    half_shaft = (SHAFT_PT / 2 * unit * np.minimum(1.0, size))[:, None] * across
    neck = tip - head[:, None] * along
    outline: FloatArray = np.stack(
        [
            start + half_shaft,
            neck + half_shaft,
            neck + half_head,
            tip,
            neck - half_head,
            neck - half_shaft,
            start - half_shaft,
        ],
        axis=1,
    )
    return outline
