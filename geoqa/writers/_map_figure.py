"""The map picture as a figure: frame, coordinates, backdrop; what lies on it is drawn elsewhere."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geoqa.numerics.arrays import FloatArray
from geoqa.records.assessment import Assessment
from geoqa.records.measurements import Backdrop
from geoqa.writers import _map_page as page_of
from geoqa.writers._map_content import MapContent, Part, map_content
from geoqa.writers._map_key import draw_key
from geoqa.writers._map_layers import Layers
from geoqa.writers._map_marks import OUTLINE_DASHES
from geoqa.writers._map_page import FAINT, INK, QUIET, Page
from geoqa.writers._map_text import font
from geoqa.writers._map_words import draw_words
from geoqa.writers._scale import tick_label, ticks

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# The backdrop keeps this part of its contrast and lies at the bright end, so that ink stands out.
_CONTRAST = 0.27
_MOST_TICKS = 6
# The words of a coordinate nearer to the end of the frame would stick out beyond it.
_TICK_MARGIN_IN = 0.3
_TICK_PT = 7


@dataclass(frozen=True, eq=False)
class MapFigure:
    """The drawn figure.

    Attributes
    ----------
    axes
        The frame of the map, in metres of the common frame.
    unlabelled
        Number of ids that found no room.
    """

    page: Page
    axes: "Axes"
    content: MapContent
    unlabelled: int


def map_figure(assessment: Assessment, part: Part = Part.BOTH) -> MapFigure:
    """Return the map picture of an assessment, drawn but not yet written."""
    content = map_content(assessment, page_of.ASPECT, part)
    page = Page()
    axes = page.frame()
    west, south, east, north = content.extent_m
    axes.set(xlim=(west, east), ylim=(south, north))
    _draw_coordinates(axes, content, assessment.frame.unit.metres)
    if assessment.backdrop is not None:
        _draw_backdrop(axes, assessment.backdrop)
    _draw_outline(axes, assessment.mapped_area_m)
    unlabelled = Layers(axes, content).draw()
    # Some of the drawing functions widen the limits to what they drew.
    axes.set(xlim=(west, east), ylim=(south, north))
    draw_words(page, assessment, part)
    draw_key(page, assessment, content, unlabelled)
    return MapFigure(page, axes, content, unlabelled)


def _draw_coordinates(axes: "Axes", content: MapContent, unit_m: float) -> None:
    """Mark round coordinates in the unit of the CRS at the frame, and their crossings inside it."""
    west, south, east, north = (value / unit_m for value in content.extent_m)
    columns, step_east = ticks(west, east, _MOST_TICKS)
    rows, step_north = ticks(south, north, _MOST_TICKS)
    step = max(step_east, step_north)
    margin = _TICK_MARGIN_IN / page_of.FRAME_WIDTH_IN * (east - west)
    for axis, values, low, high in ((axes.xaxis, columns, west, east), (axes.yaxis, rows, south, north)):
        kept = values[np.isclose(values / step, np.round(values / step), rtol=0, atol=1e-6)]
        inner = (kept > low + margin) & (kept < high - margin)
        words = [tick_label(value, step) if near else "" for value, near in zip(kept, inner, strict=True)]
        axis.set_ticks(kept * unit_m, words)
    _style_frame(axes)
    east_at, north_at = np.meshgrid(axes.get_xticks(), axes.get_yticks())
    axes.scatter(east_at, north_at, s=30, marker="+", linewidths=0.5, color=FAINT, zorder=1.5)


def _style_frame(axes: "Axes") -> None:
    axes.tick_params(
        direction="in", length=4, width=0.7, color=INK, labelcolor=QUIET, top=True, right=True, pad=3
    )
    axes.grid(visible=False)
    for label in axes.get_xticklabels():
        label.set(fontproperties=font(_TICK_PT))
    for label in axes.get_yticklabels():
        label.set(fontproperties=font(_TICK_PT), rotation=90, va="center")
    for spine in axes.spines.values():
        spine.set(linewidth=0.9, edgecolor=INK, zorder=9)


def pale(grey: FloatArray) -> FloatArray:
    """Return the grey picture stretched between its 2 % quantiles and made pale, 0 to 1, NaN as it was."""
    known = grey[np.isfinite(grey)]
    if not len(known):
        return np.full(grey.shape, np.nan)
    dark, bright = np.percentile(known, [2, 98])
    if bright <= dark:
        return np.where(np.isfinite(grey), 1 - _CONTRAST / 2, np.nan)
    return np.asarray(1 - _CONTRAST * (1 - np.clip((grey - dark) / (bright - dark), 0, 1)))


def _draw_backdrop(axes: "Axes", backdrop: Backdrop) -> None:
    from matplotlib.transforms import Affine2D

    t = backdrop.transform
    rows, cols = backdrop.grey.shape
    to_ground = Affine2D(np.array([[t.a, t.b, t.c], [t.d, t.e, t.f], [0.0, 0.0, 1.0]]))
    axes.imshow(
        _pixels(backdrop.grey),
        extent=(0, cols, rows, 0),
        origin="upper",
        transform=to_ground + axes.transData,
        interpolation="bilinear",
        aspect="auto",
        zorder=0,
    )


def _pixels(grey: FloatArray) -> NDArray[np.uint8]:
    """Return the pale picture as red, green, blue, opacity, shape (rows, cols, 4); nothing where unknown."""
    # Drawn from numbers of 8 bits, since matplotlib takes several times the memory for a table of colours.
    known = np.isfinite(grey)
    shade = np.where(known, np.round(255 * pale(grey)), 255).astype(np.uint8)
    return np.stack([shade, shade, shade, np.where(known, 255, 0).astype(np.uint8)], axis=-1)


def _draw_outline(axes: "Axes", outline_m: FloatArray) -> None:
    if len(outline_m) > 2:
        ring = np.vstack([outline_m, outline_m[:1]])
        axes.plot(*ring.T, color=QUIET, linewidth=0.8, dashes=OUTLINE_DASHES, zorder=1)
