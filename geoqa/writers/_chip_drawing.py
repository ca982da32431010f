"""Draw the picture of one target."""

from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from geoqa.errors import MeasurementError
from geoqa.numerics.arrays import FloatArray
from geoqa.records.assessment import Assessment
from geoqa.records.measurements import TargetFix, TargetStatus
from geoqa.writers._chip_view import SIDE_PX, View, picture, view
from geoqa.writers._map_text import drawable, font_path
from geoqa.writers._map_vectors import ELLIPSE_95
from geoqa.writers._numbers import centimetres, fixed
from geoqa.writers._scale import length_text, round_below
from geoqa.writers._signs import STATUS_SIGNS
from geoqa.writers._symbols import FOUND

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw
    from PIL.ImageFont import FreeTypeFont

Line = list[tuple[float, float]]
# Lines in the picture, their colour, and the widths of the dark line below and the light one above.
Stroke = tuple[list[Line], str, tuple[float, float]]

CAPTION_PX = 122
_INK, _QUIET, _PAPER, _LIGHT = "#111111", "#555555", "#ffffff", "#ffffff"
_MARGIN_PX, _LINE_PX = 10, 17
# Lines are drawn twice as large and then halved, which smooths them.
_FINE = 2
_RING_PX, _ARM_PX, _GAP_PX, _BORDER_PX = 16.0, 12.0, 4.0, 4
_SMALLEST_ELLIPSE_PX = 1.5
_KEY = "ring: surveyed; cross: found; dashes: target"
# Dark below light: seen on any ground. The outline is thin and broken, so that edges show through.
_PLAIN, _THIN, _DASH_PX = (4.5, 2.0), (2.4, 1.0), 7.0


def chip(assessment: Assessment, row: int, surveyed: FloatArray, axes_m: FloatArray) -> "Image":
    """Return the picture of a point's target, RGB.

    Parameters
    ----------
    surveyed : array, shape (2,)
        Surveyed place in the orthomosaic, row and col; NaN draws no ring.
    axes_m : array, shape (2, 2)
        From steps in (row, col) to (east, north) in metres; NaN draws neither scale nor north.
    """
    from PIL import Image, ImageDraw

    patch, fix = assessment.patches[row], assessment.fixes.fixes[row]
    if patch is None:
        message = f"{assessment.residuals.ids[row]}: there is no window of the orthomosaic to draw."
        raise MeasurementError(message)
    shown = view(patch, np.array([surveyed, (fix.row, fix.col)]), fix.size_px)
    sheet = Image.new("RGB", (SIDE_PX, SIDE_PX + CAPTION_PX), _PAPER)
    ground = picture(patch, shown, assessment.orthomosaic)
    _draw_marks(ground, shown, surveyed, fix)
    if np.isfinite(axes_m).all():
        _scale_and_north(ImageDraw.Draw(ground), shown, axes_m)
    sheet.paste(ground, (0, 0))
    _caption(ImageDraw.Draw(sheet), assessment, row)
    return sheet


@cache
def _font(size_px: int, *, bold: bool = False) -> "FreeTypeFont":
    from PIL import ImageFont

    return ImageFont.truetype(font_path(bold=bold), size_px, layout_engine=ImageFont.Layout.BASIC)


def _draw_marks(ground: "Image", shown: View, surveyed: FloatArray, fix: TargetFix) -> None:
    """Draw the ring at the surveyed place, the cross at the centre found and its ellipse."""
    from PIL import Image, ImageDraw

    strokes = _strokes(shown, surveyed, fix)
    points = np.array([point for lines, _, _ in strokes for line in lines for point in line])
    if not len(points):
        return
    left, top = np.maximum(np.floor(points.min(axis=0)).astype(int) - _BORDER_PX, 0).tolist()
    right, bottom = np.minimum(np.ceil(points.max(axis=0)).astype(int) + _BORDER_PX, SIDE_PX).tolist()
    if left >= right or top >= bottom:
        return
    size = (right - left, bottom - top)
    large = (size[0] * _FINE, size[1] * _FINE)
    colours, mask = Image.new("RGB", large), Image.new("L", large)
    for lines, colour, widths in strokes:
        for width, ink in zip(widths, (_INK, colour), strict=True):
            for line in lines:
                places = [((x - left) * _FINE, (y - top) * _FINE) for x, y in line]
                stroke = round(width * _FINE)
                ImageDraw.Draw(colours).line(places, fill=ink, width=stroke, joint="curve")
                ImageDraw.Draw(mask).line(places, fill=255, width=stroke, joint="curve")
    smooth = Image.Resampling.BOX
    ground.paste(colours.resize(size, smooth), (left, top), mask.resize(size, smooth))


def _strokes(shown: View, surveyed: FloatArray, fix: TargetFix) -> list[Stroke]:
    """Return what is drawn over the picture, from below to above."""
    strokes: list[Stroke] = []
    if len(fix.outline):
        strokes.append((dashes(np.array([shown.place(*corner) for corner in fix.outline])), FOUND, _THIN))
    if np.isfinite(surveyed).all():
        strokes.append(([_ring(shown.place(*surveyed), np.eye(2) * _RING_PX)], _LIGHT, _PLAIN))
    if np.isfinite([fix.row, fix.col]).all():
        x, y = shown.place(fix.row, fix.col)
        arms = [
            [(x + dx * _GAP_PX, y + dy * _GAP_PX), (x + dx * _ARM_PX, y + dy * _ARM_PX)]
            for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1))
        ]
        strokes.append((arms, FOUND, _PLAIN))
        axes = ellipse_axes_px(fix, shown)
        if axes is not None and np.abs(axes).max() >= _SMALLEST_ELLIPSE_PX:
            strokes.append(([_ring((x, y), axes)], FOUND, _PLAIN))
    return strokes


def dashes(ring: FloatArray) -> list[Line]:
    """Return a broken line along an open ring of corners (x, y), with a dash about every corner.

    Examples
    --------
    >>> len(dashes(np.array([[0.0, 0.0], [70.0, 0.0], [70.0, 70.0], [0.0, 70.0]])))
    20
    """
    broken: list[Line] = []
    for start, end in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        count = max(1, round(float(np.hypot(*(end - start))) / (2.0 * _DASH_PX)))
        for dash in range(count):
            ends = [start + (end - start) * (dash + share) / count for share in (0.0, 0.5)]
            broken.append([(float(x), float(y)) for x, y in ends])
    return broken


def ellipse_axes_px(fix: TargetFix, shown: View) -> FloatArray | None:
    """Return the half axes of the 95 % ellipse in the picture as columns (x, y), or None if unknown."""
    covariance = np.asarray(fix.covariance_px2)
    if not np.isfinite(covariance).all():
        return None
    values, vectors = np.linalg.eigh(covariance[::-1, ::-1])
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)) * ELLIPSE_95 * shown.scale)


def _ring(centre: tuple[float, float], axes: FloatArray) -> Line:
    angle = np.linspace(0, 2 * np.pi, 49)
    points = np.array(centre) + np.column_stack([np.cos(angle), np.sin(angle)]) @ axes.T
    return [(float(x), float(y)) for x, y in points]


def _scale_and_north(draw: "ImageDraw", shown: View, axes_m: FloatArray) -> None:
    per_px = float(np.sqrt(abs(np.linalg.det(axes_m)))) / shown.scale
    length_m = round_below(0.3 * SIDE_PX * per_px)
    left, bottom, length = _MARGIN_PX, SIDE_PX - _MARGIN_PX, length_m / per_px
    draw.rectangle((left - 1, bottom - 5, left + length + 1, bottom), fill=_INK)
    draw.rectangle((left, bottom - 4, left + length, bottom - 1), fill=_LIGHT)
    _outlined(draw, (left, bottom - 8), length_text(length_m), 12, "ls")
    _north(draw, north_in_picture(axes_m))


def north_in_picture(axes_m: FloatArray) -> FloatArray:
    """Return the direction of grid north in the picture, x to the right and y down, of length 1.

    Examples
    --------
    >>> north_in_picture(np.array([[0.0, 0.02], [-0.02, 0.0]])).tolist()
    [0.0, -1.0]
    """
    row, col = np.linalg.solve(axes_m, [0.0, 1.0])
    return np.asarray(np.array([col, row]) / np.hypot(row, col))


def _north(draw: "ImageDraw", along: FloatArray) -> None:
    middle = np.array([SIDE_PX - 24.0, 26.0])
    tip, foot = middle + 14 * along, middle - 14 * along
    across = np.array([-along[1], along[0]]) * 5
    neck = tip - 9 * along
    for width, ink in ((5, _INK), (2, _LIGHT)):
        draw.line([tuple(foot), tuple(neck)], fill=ink, width=width)
    draw.polygon([tuple(tip), tuple(neck + across), tuple(neck - across)], fill=_LIGHT, outline=_INK)
    x, y = foot - 8 * along
    _outlined(draw, (float(x), float(y)), "N", 11, "mm")


def _outlined(draw: "ImageDraw", at: tuple[float, float], words: str, size_px: int, anchor: str) -> None:
    draw.text(at, words, font=_font(size_px), anchor=anchor, fill=_LIGHT, stroke_fill=_INK, stroke_width=2)


def _caption(draw: "ImageDraw", assessment: Assessment, row: int) -> None:
    lines = caption(assessment, row)
    top, right = SIDE_PX + _MARGIN_PX + 10, SIDE_PX - _MARGIN_PX
    name = _cut(lines[0], 15, bold=True)
    draw.text((_MARGIN_PX, top), name, font=_font(15, bold=True), anchor="ls", fill=_INK)
    draw.text((right, top), lines[1], font=_font(13, bold=True), anchor="rs", fill=_INK)
    said = [part for text in lines[2:] for part in _wrapped(text, 12)]
    for number, text in enumerate(said, start=1):
        place, ink = (_MARGIN_PX, top + 2 + number * _LINE_PX), _INK if number == 1 else _QUIET
        draw.text(place, text, font=_font(12), anchor="ls", fill=ink)


def _wrapped(text: str, size_px: int) -> list[str]:
    """Return the text on up to two lines, nothing for no text."""
    words = drawable(text).split()
    count = len(words)
    while count > 1 and _font(size_px).getlength(" ".join(words[:count])) > SIDE_PX - 2 * _MARGIN_PX:
        count -= 1
    return [_cut(" ".join(part), size_px) for part in (words[:count], words[count:]) if part]


def _cut(text: str, size_px: int, *, bold: bool = False) -> str:
    room = SIDE_PX - 2 * _MARGIN_PX - (130 if bold else 0)
    line = drawable(text)
    while len(line) > 1 and _font(size_px, bold=bold).getlength(line) > room:
        line = line[:-2] + "…"
    return line


def caption(assessment: Assessment, row: int) -> tuple[str, ...]:
    """Return the words below the picture: id, status, offset, score with kind and sigma, flags and reason."""
    fix, delta = assessment.fixes.fixes[row], assessment.residuals.delta_m[row]
    offset = "no offset: the centre is not known"
    if np.isfinite(delta[:2]).all():
        length = centimetres(float(np.hypot(*delta[:2])))
        east, north = centimetres(float(delta[0]), signed=True), centimetres(float(delta[1]), signed=True)
        offset = f"{length} cm off: east {east}, north {north} cm"
    measured = [f"score {fixed(fix.score, 2)}"] if fix.status is not TargetStatus.MARKED else []
    if fix.kind:
        measured.append(fix.kind.replace("-", " "))
    sigma = np.sqrt(np.trace(np.asarray(assessment.fixes.covariance_m2[row])) / 2)
    if np.isfinite(sigma):
        measured.append(f"sigma {fixed(1000 * float(sigma), 1)} mm")
    said = [*fix.flags, *([fix.reason] if fix.reason else [])]
    known = np.isfinite([fix.row, fix.col]).all()
    return (
        assessment.residuals.ids[row],
        f"{STATUS_SIGNS[fix.status]} {fix.status}",
        offset,
        ", ".join(measured),
        "; ".join(said),
        _KEY if known else "ring: surveyed",
    )
