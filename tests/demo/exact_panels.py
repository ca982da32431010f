"""Exact shares of pixels covered by a panel, from polygons: nothing here is shared with the renderer."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Polygon, affinity, box
from shapely.geometry.base import BaseGeometry

from geoqa.numerics.arrays import FloatArray

DARK, BRIGHT, GROUND = 30.0, 200.0, 110.0


def _parts(kind: str, size_px: float) -> tuple[Sequence[BaseGeometry], Polygon]:
    """Return the bright polygons and the outline of a panel about (0, 0), x to the right, y downward."""
    half = size_px / 2
    outline = box(-half, -half, half, half)
    if kind == "quadrant-panel":
        return [box(-half, -half, 0, 0), box(0, 0, half, half)], outline
    arm = box(-size_px, -0.1 * size_px, size_px, 0.1 * size_px)
    cross = affinity.rotate(arm, 45, origin=(0, 0)).union(affinity.rotate(arm, -45, origin=(0, 0)))
    return [cross.intersection(outline)], outline


def exact_shares(
    shape: tuple[int, int], row: float, col: float, kind: str, size_px: float, angle_deg: float
) -> tuple[FloatArray, FloatArray]:
    """Return the bright and dark share of each pixel.

    With y downward a positive turn in shapely is clockwise as the picture is seen.
    """
    rows, cols = np.mgrid[: shape[0], : shape[1]]
    pixels = shapely.box(cols, rows, cols + 1, rows + 1)

    def covered(part: BaseGeometry) -> FloatArray:
        placed = affinity.translate(affinity.rotate(part, angle_deg, origin=(0, 0)), col, row)
        return shapely.area(shapely.intersection(pixels, placed))

    bright_parts, outline = _parts(kind, size_px)
    bright = np.sum([covered(part) for part in bright_parts], axis=0)
    return bright, covered(outline) - bright


def exact_picture(
    shape: tuple[int, int], row: float, col: float, kind: str, size_px: float, angle_deg: float
) -> FloatArray:
    """Return the sharp picture of a panel on even ground."""
    bright, dark = exact_shares(shape, row, col, kind, size_px, angle_deg)
    return BRIGHT * bright + DARK * dark + GROUND * (1 - bright - dark)


def centre_error_px(
    picture: FloatArray, row: float, col: float, kind: str, size_px: float, angle_deg: float
) -> FloatArray:
    """Return how far a sharp picture's centre lies from (row, col), by least squares on the exact picture."""
    step = 0.02
    at = [
        exact_picture(picture.shape, row + d_row, col + d_col, kind, size_px, angle_deg)
        for d_row, d_col in ((0, 0), (step, 0), (-step, 0), (0, step), (0, -step))
    ]
    slopes = np.column_stack([(at[1] - at[2]).ravel(), (at[3] - at[4]).ravel()]) / (2 * step)
    return np.linalg.lstsq(slopes, (picture - at[0]).ravel(), rcond=None)[0]
