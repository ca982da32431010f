"""The page of the map picture: sizes in inches, and words, lines and marks placed on it."""

from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.writers._map_marks import MARK_RADIUS_PT, arrows
from geoqa.writers._map_text import drawable, fitted, font, text_width

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.path import Path

# A4 lying, to the tenth of an inch, which gives whole pixels.
WIDTH_IN, HEIGHT_IN = 11.7, 8.3
DPI = 150
FRAME_LEFT_IN, FRAME_BOTTOM_IN = 0.55, 0.78
FRAME_WIDTH_IN, FRAME_HEIGHT_IN = 7.95, 6.72
FRAME_TOP_IN = FRAME_BOTTOM_IN + FRAME_HEIGHT_IN
KEY_LEFT_IN, KEY_RIGHT_IN = 8.78, 11.4
ASPECT = FRAME_WIDTH_IN / FRAME_HEIGHT_IN
POINTS_PER_INCH = 72

INK, QUIET, FAINT = "#111111", "#555555", "#8a8a8a"
HEADING_PT, BODY_PT, SMALL_PT = 8.6, 7.8, 7.2
LINE_IN = 0.168


class Page:
    """A figure with one sheet over it whose coordinates are inches from the lower left corner."""

    def __init__(self) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        self.figure: Figure = Figure(figsize=(WIDTH_IN, HEIGHT_IN), dpi=DPI, facecolor="white")
        self.canvas = FigureCanvasAgg(self.figure)
        self.sheet: Axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0), zorder=2)
        self.sheet.set_axis_off()
        self.sheet.set(xlim=(0, WIDTH_IN), ylim=(0, HEIGHT_IN))
        self.sheet.patch.set_visible(False)

    def frame(self) -> "Axes":
        """Return the axes of the map, in the frame."""
        left, bottom = FRAME_LEFT_IN / WIDTH_IN, FRAME_BOTTOM_IN / HEIGHT_IN
        width, height = FRAME_WIDTH_IN / WIDTH_IN, FRAME_HEIGHT_IN / HEIGHT_IN
        return self.figure.add_axes((left, bottom, width, height), zorder=1, facecolor="white")

    def text(self, x: float, y: float, words: str, size_pt: float = BODY_PT, **style: Any) -> None:
        """Write words with the baseline at y; the style takes `bold`, `colour` and `ha`."""
        properties = font(size_pt, bold=style.pop("bold", False))
        colour = style.pop("colour", INK)
        self.sheet.text(
            x, y, words, fontproperties=properties, color=colour, va="baseline", parse_math=False, **style
        )

    def body(self, y: float, words: str, *, x: float = KEY_LEFT_IN, colour: str = INK) -> float:
        """Write words in the key, on as many lines as they need, and return where the next line goes."""
        for line in wrapped(words, BODY_PT, (KEY_RIGHT_IN - x) * POINTS_PER_INCH):
            self.text(x, y, line, colour=colour)
            y -= LINE_IN
        return y

    def heading(self, y: float, words: str) -> float:
        """Write a heading in the key and return where the next line goes."""
        self.text(KEY_LEFT_IN, y, words, HEADING_PT, bold=True)
        return y - LINE_IN - 0.025

    def line(self, points: list[tuple[float, float]], **style: Any) -> None:
        """Draw a line through these places."""
        style = {"color": INK, "linewidth": 0.9, "solid_capstyle": "butt", **style}
        self.sheet.plot(*zip(*points, strict=True), **style)

    def arrow(self, start: tuple[float, float], tip: tuple[float, float], colour: str = INK) -> None:
        """Draw an arrow as the map has them."""
        from matplotlib.patches import Polygon

        outline = arrows(np.array([start]), np.array([tip]), unit=1 / POINTS_PER_INCH)[0]
        self.sheet.add_patch(Polygon(outline, facecolor=colour, edgecolor="none"))

    def mark(self, x: float, y: float, outline: "Path", fill: str, *, crossed: bool = False) -> None:
        """Draw the mark of a point as the map has them."""
        from matplotlib.patches import PathPatch
        from matplotlib.transforms import Affine2D

        radius = MARK_RADIUS_PT / POINTS_PER_INCH
        path = Affine2D().scale(radius).translate(x, y).transform_path(outline)
        self.sheet.add_patch(PathPatch(path, facecolor=fill, edgecolor=INK, linewidth=0.9))
        reach = 0.75 * radius
        for rise in (reach, -reach) if crossed else ():
            self.line([(x - reach, y - rise), (x + reach, y + rise)])

    def ellipse(self, x: float, y: float) -> None:
        """Draw a small ellipse as the map has them."""
        from matplotlib.patches import Ellipse

        shape = Ellipse((x, y), 0.24, 0.15, angle=25, facecolor="none", edgecolor=QUIET, linewidth=0.6)
        self.sheet.add_patch(shape)


def wrapped(words: str, size_pt: float, room_pt: float) -> list[str]:
    """Return the words in lines that are at most so wide; one word that is wider is cut."""
    lines: list[str] = []
    for word in drawable(words).split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size_pt) <= room_pt:
            lines[-1] = longer
        else:
            lines.append(fitted(word, size_pt, room_pt))
    return lines
