"""How a target lies in a window, and the pixels around it."""

from dataclasses import dataclass
from functools import cached_property
from math import cos, exp, sin

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.numerics.blocks import block_average
from geoqa.numerics.edges import effective_blur_px
from geoqa.targets._candidates import Candidate
from geoqa.targets._pattern import TargetPattern

# How far around the middle the ground is looked at, in half sides.
GROUND_REACH = 1.5
# Larger targets are averaged to about this side: it shows already what tells them from look-alikes.
_WORKING_SIDE_PX = 12.0
_USUAL_BLUR_PX = 0.9
# Row, col, four terms of the axes, logarithm of the blur; then the logarithms of the proportions.
SHAPE_TERMS = 7


@dataclass(frozen=True, eq=False)
class Sight:
    """The pixels around a candidate, one row each: their places and grey values."""

    rows: FloatArray
    cols: FloatArray
    grey: FloatArray
    factor: int


@dataclass(frozen=True, eq=False)
class Shape:
    """How a target lies: its middle, its axes from (row, col) offsets to half sides, blur and proportions."""

    row: float
    col: float
    axes: FloatArray
    blur_px: float
    proportions: tuple[float, ...] = ()

    @cached_property
    def size_px(self) -> float:
        """Return the side of a square of the same area."""
        (a, b), (c, d) = self.axes.tolist()
        area = float(abs(a * d - b * c))
        return float(2.0 / max(area, 1e-300) ** 0.5)

    @property
    def blur(self) -> float:
        """Return the blur in half sides."""
        return 2.0 * self.blur_px / self.size_px

    def on_pixels(self, factor: int) -> "Shape":
        """Return the shape on single pixels of one that was fitted to averages over factor × factor."""
        blur_px = max(self.blur_px**2 - (factor**2 - 1.0) / 12.0, 0.25) ** 0.5
        return Shape(self.row, self.col, self.axes, blur_px, self.proportions)

    def own_axes(self, rows: FloatArray, cols: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return places in the target's own axes, in half sides."""
        down, across = rows - self.row, cols - self.col
        (by_row, by_col), (v_by_row, v_by_col) = self.axes
        return by_row * down + by_col * across, v_by_row * down + v_by_col * across

    def place(self, u: float, v: float) -> tuple[float, float]:
        """Return row and col of a place in the target's own axes."""
        down, across = np.linalg.solve(self.axes, np.array([u, v]))
        return self.row + float(down), self.col + float(across)

    def reach(self, half_sides: float) -> tuple[float, float]:
        """Return the rows and columns to the farthest corner of a target so many times the size."""
        turned = half_sides * self.size_px / 2**0.5
        down, across = (half_sides * np.abs(np.linalg.inv(self.axes)).sum(axis=1)).tolist()
        return max(turned, down), max(turned, across)

    def moved(self, step: FloatArray) -> "Shape":
        """Return the shape after a step in its terms."""
        return Shape(
            self.row + float(step[0]),
            self.col + float(step[1]),
            self.axes + step[2:6].reshape(2, 2),
            self.blur_px * exp(float(step[6])),
            tuple(
                value * exp(float(change))
                for value, change in zip(self.proportions, step[SHAPE_TERMS:], strict=True)
            ),
        )


def starting_shape(pattern: TargetPattern, start: Candidate) -> Shape:
    """Return how a target lies where a candidate says."""
    turn = np.array([[sin(start.angle), cos(start.angle)], [cos(start.angle), -sin(start.angle)]])
    factor = block_factor(start.size_px)
    blur_px = factor * effective_blur_px(_USUAL_BLUR_PX / factor)
    axes = turn @ start.stretch * 2.0 / start.size_px
    return Shape(start.row, start.col, axes, blur_px, pattern.proportions)


def block_factor(size_px: float) -> int:
    """Return over how many pixels a target of this side is averaged."""
    return max(1, int(size_px / _WORKING_SIDE_PX))


def look_at(grey: FloatArray, valid: BoolArray, shape: Shape, factor: int) -> Sight | None:
    """Return the valid pixels of a target and of the ground around it, averaged over factor × factor."""
    down, across = shape.reach(GROUND_REACH)
    top, left = max(0, int(shape.row - down)), max(0, int(shape.col - across))
    near = slice(top, max(0, int(shape.row + down) + 1)), slice(left, max(0, int(shape.col + across) + 1))
    blocks, usable = block_average(grey[near], valid[near], factor)
    rows, cols = np.nonzero(usable)
    rows_px: FloatArray = top + (rows.astype(np.float64) + 0.5) * factor
    cols_px: FloatArray = left + (cols.astype(np.float64) + 0.5) * factor
    u, v = shape.own_axes(rows_px, cols_px)
    inside = np.maximum(np.abs(u), np.abs(v)) < GROUND_REACH
    if inside.sum() < 0.5 * (GROUND_REACH * shape.size_px / factor) ** 2:
        return None
    values = blocks[rows[inside], cols[inside]]
    return Sight(rows_px[inside], cols_px[inside], values, factor)
