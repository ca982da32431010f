"""What lies on the map: ellipses, vectors, marks of points, ids."""

from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.writers import _map_page as page_of
from geoqa.writers._map_content import MapContent, Part
from geoqa.writers._map_labels import Obstacles, Placed, place_labels
from geoqa.writers._map_marks import (
    CUT_DASHES,
    CUT_GAP_PT,
    MARK_RADIUS_PT,
    STROKE_WIDTH_PT,
    STROKES_PT,
    arrows,
    mark,
)
from geoqa.writers._map_notes import FEW_POINTS
from geoqa.writers._map_page import FAINT, INK, QUIET
from geoqa.writers._map_text import drawable, font, text_width
from geoqa.writers._symbols import Shape
from geoqa.writers._untested import strokes

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.path import Path

_LABEL_PT = 7.5
# Height of a line of capitals and digits, and of what hangs below it, as parts of the size.
_LABEL_HEIGHT, _LABEL_FOOT = 0.95, 0.18
_DOT_PT = 0.7
# More marks than this are one picture inside the PDF, not a shape each.
_MOST_SHAPES = 1000


class Layers:
    """Draws the content of a map into its axes, whose limits are set."""

    def __init__(self, axes: "Axes", content: MapContent) -> None:
        self.axes = axes
        self.content = content
        west, _, east, _ = content.extent_m
        self.metres_per_point = (east - west) / (page_of.FRAME_WIDTH_IN * page_of.POINTS_PER_INCH)
        self.mark_pt = mark_radius_pt(int(content.in_full.sum()))
        self.rim_pt = 0.9 if self.mark_pt > 3 else 0.6

    def draw(self) -> int:
        """Draw all layers and return the number of ids that found no room."""
        self._untested()
        self._ellipses()
        self._vectors()
        self._points()
        return self._labels()

    def _untested(self) -> None:
        from matplotlib.collections import LineCollection

        lines = list(strokes(self.content.untested, STROKES_PT * self.metres_per_point))
        hatch = LineCollection(lines, colors=FAINT, linewidths=STROKE_WIDTH_PT, zorder=1.2)
        self.axes.add_collection(hatch, autolim=False)

    def _ellipses(self) -> None:
        from matplotlib.collections import EllipseCollection

        around = self.content.ellipses
        if not len(around.centre_m):
            return
        width, height = 2 * around.half_axes_m.T
        ellipses = EllipseCollection(
            width,
            height,
            around.angle_deg,
            units="xy",
            offsets=around.centre_m,
            offset_transform=self.axes.transData,
            facecolors="none",
            edgecolors=QUIET,
            linewidths=0.6,
            zorder=2,
        )
        self.axes.add_collection(ellipses, autolim=False)

    def _vectors(self) -> None:
        from matplotlib.collections import LineCollection, PolyCollection

        drawn = self.content.vectors
        unit = self.metres_per_point * arrow_size(len(drawn.index))
        outlines = arrows(drawn.start_m, drawn.tip_m, unit=unit)
        # A vector that ends inside its own mark is drawn over it, else nobody would see it.
        hidden = np.hypot(*(drawn.tip_m - drawn.start_m).T) < 2.2 * self.mark_pt * self.metres_per_point
        for chosen, order in ((~hidden, 3.0), (hidden, 5.0)):
            for used, colour in ((False, FAINT), (True, INK)):
                some = list(outlines[chosen & (drawn.used == used)])
                shapes = PolyCollection(
                    some, facecolors=colour, edgecolors="white", linewidths=0.5, zorder=order
                )
                self.axes.add_collection(shapes, autolim=False)
        lines = list(np.stack([drawn.start_m[drawn.cut], drawn.tip_m[drawn.cut]], axis=1))
        gaps = LineCollection(
            lines, colors="white", linewidths=CUT_GAP_PT, linestyles=(0, CUT_DASHES), zorder=3.1
        )
        self.axes.add_collection(gaps, autolim=False)

    def _points(self) -> None:
        content = self.content
        self._marks(content.dots, mark(Shape.WITHIN), _DOT_PT, fill=QUIET, rim=0.0, order=2.5)
        # The middle class first: where points are dense the large residuals stay on top.
        middle = len(content.classes) // 2
        ranked = sorted(range(len(content.classes)), key=lambda item: abs(item - middle))
        for rank, item in enumerate(ranked):
            one, rows = content.classes[item], content.in_full & (content.height_class == item)
            order = 4 + rank / 100
            self._marks(rows, mark(one.shape), self.mark_pt, fill=one.colour, rim=self.rim_pt, order=order)
        hollow = content.in_full & (content.height_class < 0)
        self._marks(hollow, mark(None), self.mark_pt, fill="white", rim=self.rim_pt, order=3.9)
        crossed = content.position_m[hollow & ~content.plan_used & (content.part is not Part.HEIGHTS)]
        if len(crossed):
            size = (1.5 * self.mark_pt) ** 2
            style: dict[str, Any] = {"marker": "x", "color": INK, "linewidths": self.rim_pt, "zorder": 3.95}
            self.axes.scatter(crossed[:, 0], crossed[:, 1], s=size, **style)

    def _marks(
        self, rows: BoolArray, outline: "Path", radius_pt: float, *, fill: str, rim: float, order: float
    ) -> None:
        if not rows.any():
            return
        # matplotlib scales the outline so that its furthest coordinate is half of the root of s.
        reach = float(np.abs(outline.vertices).max())
        east, north = self.content.position_m[rows].T
        self.axes.scatter(
            east,
            north,
            s=(2 * radius_pt * reach) ** 2,
            marker=outline,
            facecolors=fill,
            edgecolors=INK,
            linewidths=rim,
            zorder=order,
            rasterized=bool(rows.sum() > _MOST_SHAPES),
        )

    def _labels(self) -> int:
        rows = list(self.content.labels)
        if not rows:
            return 0
        words = [drawable(self.content.labels[row]) for row in rows]
        anchors = self._on_page(self.content.position_m[rows])
        places = place_labels(
            anchors,
            np.array([(text_width(text, _LABEL_PT), _LABEL_PT * _LABEL_HEIGHT) for text in words]),
            clearance=self.mark_pt * 1.1,
            frame=(
                2.0,
                2.0,
                page_of.FRAME_WIDTH_IN * page_of.POINTS_PER_INCH - 2.0,
                page_of.FRAME_HEIGHT_IN * page_of.POINTS_PER_INCH - 2.0,
            ),
            obstacles=self._obstacles(),
        )
        for anchor, place, text in zip(anchors, places, words, strict=True):
            if place is not None:
                self._label(anchor, place, text)
        return sum(place is None for place in places)

    def _label(self, anchor: FloatArray, place: Placed, text: str) -> None:
        from matplotlib.patheffects import withStroke

        east, north = self._on_ground(np.array([place.left, place.bottom + _LABEL_FOOT * _LABEL_PT]))
        halo = [withStroke(linewidth=1.8, foreground="white")]
        style: dict[str, Any] = {"fontproperties": font(_LABEL_PT), "color": INK, "parse_math": False}
        self.axes.text(float(east), float(north), text, path_effects=halo, zorder=8, **style)
        if place.leader is not None:
            ends = self._on_ground(np.array([anchor, place.leader]))
            self.axes.plot(*ends.T, color=QUIET, linewidth=0.5, zorder=3.5)

    def _obstacles(self) -> Obstacles:
        content = self.content
        centre = self._on_page(content.position_m[content.in_full])
        boxes = content.ellipses.boxes_m
        return Obstacles(
            boxes=np.hstack([centre - self.mark_pt, centre + self.mark_pt]),
            segments=np.hstack(
                [self._on_page(content.vectors.start_m), self._on_page(content.vectors.tip_m)]
            ),
            soft=np.hstack([self._on_page(boxes[:, :2]), self._on_page(boxes[:, 2:])]),
        )

    def _on_page(self, places_m: FloatArray) -> FloatArray:
        """Return places in points of the page from the lower left corner of the frame."""
        return np.asarray((places_m - np.array(self.content.extent_m[:2])) / self.metres_per_point)

    def _on_ground(self, places_pt: FloatArray) -> FloatArray:
        return np.asarray(np.array(self.content.extent_m[:2]) + places_pt * self.metres_per_point)


def mark_radius_pt(count: int) -> float:
    """Return the radius of the marks: smaller the more there are, so that they do not grow together."""
    return MARK_RADIUS_PT if count <= FEW_POINTS else 3.4 if count <= 150 else 2.6


def arrow_size(count: int) -> float:
    """Return the part of their full width that arrows have: the more there are, the finer."""
    return 1.0 if count <= FEW_POINTS else 0.8 if count <= 150 else 0.6
