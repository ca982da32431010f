"""Exact shares of pixels covered by a panel, from polygons: nothing here is shared with the renderer."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Point, Polygon, affinity, box
from shapely.geometry.base import BaseGeometry

from geoqa.numerics.arrays import FloatArray

DARK, BRIGHT, GROUND = 30.0, 200.0, 110.0


def _disc(radius: float) -> Polygon:
    # 256 segments a quarter keep the polygon's area within 1e-5 of the circle's.
    return Point(0, 0).buffer(radius, quad_segs=256)


def _parts(kind: str, size_px: float) -> tuple[Sequence[BaseGeometry], BaseGeometry]:
    """Return the bright polygons and the outline of a target about (0, 0), x to the right, y downward."""
    half = size_px / 2
    square, width = box(-half, -half, half, half), 0.2 * size_px
    quarters = [box(-half, -half, 0, 0), box(0, 0, half, half)]
    plus = box(-half, -width / 2, half, width / 2).union(box(-width / 2, -half, width / 2, half))
    corner = box(0, 0, size_px, width).union(box(0, 0, width, size_px))
    arm = box(-size_px, -width / 2, size_px, width / 2)
    cross = affinity.rotate(arm, 45, origin=(0, 0)).union(affinity.rotate(arm, -45, origin=(0, 0)))
    triangles = [Polygon([(0, 0), (side, -half), (side, half)]) for side in (-half, half)]
    inner = affinity.translate(corner, -width, -width)
    ring = _disc(half).difference(_disc(half * 2 / 3))
    return {
        "quadrant-panel": (quarters, square),
        "round-quadrant-panel": ([part.intersection(_disc(half)) for part in quarters], _disc(half)),
        "bow-tie-panel": (triangles, square),
        "x-panel": ([cross.intersection(square)], square),
        "concentric-rings": ([_disc(half / 3), ring], _disc(half)),
        "disc": ([_disc(half)], _disc(half)),
        "painted-cross": ([plus], plus),
        "l-mark-outer": ([corner], corner),
        "l-mark-inner": ([inner], inner),
    }[kind]


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
