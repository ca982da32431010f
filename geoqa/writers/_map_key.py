"""The key beside the map: vectors, height classes, points that do not count, scale, north."""

import numpy as np
import shapely

from geoqa.records.assessment import Assessment
from geoqa.units import LinearUnit
from geoqa.writers import _map_page as page_of
from geoqa.writers._map_content import MapContent, Part
from geoqa.writers._map_marks import (
    CUT_DASHES,
    CUT_GAP_PT,
    OUTLINE_DASHES,
    STROKE_WIDTH_PT,
    STROKES_PT,
    mark,
)
from geoqa.writers._map_page import (
    BODY_PT,
    FAINT,
    INK,
    KEY_LEFT_IN,
    KEY_RIGHT_IN,
    LINE_IN,
    QUIET,
    SMALL_PT,
    Page,
    wrapped,
)
from geoqa.writers._map_words import draw_figures, remarks
from geoqa.writers._numbers import plain, whole
from geoqa.writers._scale import length_text, round_below
from geoqa.writers._untested import strokes

_GAP_IN = 0.115
# Middle of the symbols and left end of the words behind them.
_SYMBOL_IN, _TEXT_IN = KEY_LEFT_IN + 0.13, KEY_LEFT_IN + 0.36
# Symbols sit on the middle of a line of words, not on its baseline.
_RISE_IN = 0.033
_SHORT_ARROW_IN = 0.27
# Notes end above scale and north; the remarks about what is left out need the rest.
_LOWEST_NOTE_IN = 2.3
# The reference vector is the limit where that is drawn between these lengths, else about so long.
_SHORTEST_IN, _LONGEST_IN, _USUAL_IN = 0.25, 1.4, 1.3
_LONGEST_BAR_IN = 1.85


def draw_key(page: Page, assessment: Assessment, content: MapContent, unlabelled: int) -> None:
    """Draw the column on the right, from the figures down to scale and north."""
    y = draw_figures(page, assessment, page_of.FRAME_TOP_IN + 0.36, content.part)
    if content.part is not Part.HEIGHTS:
        y = _vectors(page, assessment, content, y)
    y = _heights(page, content, y)
    y = _hollow(page, content, y)
    y = _notes(page, content, y)
    for words in remarks(assessment, content, unlabelled):
        y = page.body(y - 0.03, words, colour=QUIET)
    _scale_and_north(page, assessment.frame.unit, content)


def _vectors(page: Page, assessment: Assessment, content: MapContent, y: float) -> float:
    y = page.heading(y, "Horizontal residual")
    if not len(content.vectors.index):
        return page.body(y, "none measured", colour=QUIET) - _GAP_IN
    length_m, is_limit = reference_length(assessment, content)
    end = KEY_LEFT_IN + length_m / _metres_per_inch(content) * content.exaggeration
    page.arrow((KEY_LEFT_IN, y + _RISE_IN), (end, y + _RISE_IN))
    page.text(end + 0.1, y, f"{length_text(length_m)}{', the limit' if is_limit else ''}")
    y = page.body(y - LINE_IN, f"drawn {factor_text(content.exaggeration)}")
    tip = KEY_LEFT_IN + _SHORT_ARROW_IN
    if not content.vectors.used.all():
        page.arrow((KEY_LEFT_IN, y + _RISE_IN), (tip, y + _RISE_IN), FAINT)
        y = page.body(y, "residual that does not count", x=_TEXT_IN)
    if content.vectors.cut.any():
        page.arrow((KEY_LEFT_IN, y + _RISE_IN), (tip, y + _RISE_IN))
        ends = [(KEY_LEFT_IN, y + _RISE_IN), (tip - 0.08, y + _RISE_IN)]
        page.line(ends, color="white", linewidth=CUT_GAP_PT, dashes=CUT_DASHES)
        y = page.body(y, "drawn shorter, true length given", x=_TEXT_IN)
    if len(content.ellipses.centre_m):
        page.ellipse(_SYMBOL_IN, y + _RISE_IN)
        y = page.body(y, f"95 % ellipse of {content.ellipses.source}", x=_TEXT_IN)
    return y - _GAP_IN


def reference_length(assessment: Assessment, content: MapContent) -> tuple[float, bool]:
    """Return the length of the reference vector in metres, and whether it is the limit that was asked for."""
    asked = assessment.settings.requirement
    limit = asked.horizontal_rmse_m or asked.horizontal_p95_m or asked.horizontal_max_m
    per_inch = _metres_per_inch(content) / content.exaggeration
    if limit is not None and _SHORTEST_IN <= limit / per_inch <= _LONGEST_IN:
        return limit, True
    return round_below(_USUAL_IN * per_inch), False


def factor_text(exaggeration: float) -> str:
    """Return how much larger or smaller than nature vectors are drawn, in words.

    Examples
    --------
    >>> factor_text(500.0), factor_text(0.5), factor_text(1.0)
    ('500 times enlarged', '2 times reduced', 'at their true size')
    """
    if exaggeration == 1:
        return "at their true size"
    if exaggeration > 1:
        return f"{whole(round(exaggeration))} times enlarged"
    return f"{plain(1 / exaggeration)} times reduced"


def _metres_per_inch(content: MapContent) -> float:
    west, _, east, _ = content.extent_m
    return (east - west) / page_of.FRAME_WIDTH_IN


def _heights(page: Page, content: MapContent, y: float) -> float:
    y = page.heading(y, "Points" if content.part is Part.PLAN else "Height residual")
    if content.part is Part.HEIGHTS:
        y = page.body(y, "behind each id in centimetres")
    counted = content.height_class[content.height_class >= 0]
    if not len(counted):
        return page.body(y, "none counts", colour=QUIET) - _GAP_IN
    counts = np.bincount(counted, minlength=len(content.classes)).tolist()
    for item, count in zip(reversed(content.classes), reversed(counts), strict=True):
        page.mark(_SYMBOL_IN, y + _RISE_IN, mark(item.shape), item.colour)
        _count(page, y, count)
        y = page.body(y, item.label, x=_TEXT_IN) - 0.015
    return y - _GAP_IN


def _count(page: Page, y: float, count: int) -> None:
    page.text(KEY_RIGHT_IN, y, whole(count), colour=QUIET, ha="right")


def _hollow(page: Page, content: MapContent, y: float) -> float:
    hollow = content.ground.shown & (content.height_class < 0)
    rows = {
        Part.BOTH: (
            (hollow & content.plan_used, False, "height does not count"),
            (hollow & ~content.plan_used, True, "neither plan nor height counts"),
        ),
        Part.PLAN: ((hollow, True, "plan does not count"),),
        Part.HEIGHTS: ((hollow, False, "height does not count"),),
    }[content.part]
    for points, crossed, words in rows:
        if points.any():
            page.mark(_SYMBOL_IN, y + _RISE_IN, mark(None), "white", crossed=crossed)
            _count(page, y, int(points.sum()))
            y = page.body(y, words, x=_TEXT_IN) - 0.015
    return y


def _notes(page: Page, content: MapContent, y: float) -> float:
    """Explain the letters behind the ids."""
    room = (KEY_RIGHT_IN - _TEXT_IN - 0.25) * page_of.POINTS_PER_INCH
    for written, note in enumerate(content.unused):
        if y < _LOWEST_NOTE_IN and written < len(content.unused) - 1:
            return page.body(y, "further reasons: see the report", x=_TEXT_IN)
        page.text(_SYMBOL_IN, y, f"({note.letter})", ha="center")
        _count(page, y, note.count)
        for line in wrapped(note.text, BODY_PT, room):
            y = page.body(y, line, x=_TEXT_IN)
    return y


def _scale_and_north(page: Page, unit: LinearUnit, content: MapContent) -> None:
    y = page_of.FRAME_BOTTOM_IN + 0.05
    if content.outline_known and content.ground.with_product:
        ends = [(KEY_LEFT_IN, y + 0.62), (KEY_LEFT_IN + _SHORT_ARROW_IN, y + 0.62)]
        page.line(ends, color=QUIET, linewidth=0.8, dashes=OUTLINE_DASHES)
        page.text(_TEXT_IN, y + 0.59, "outline of the product")
        if not content.untested.is_empty:
            _hatched(page, (KEY_LEFT_IN, y + 0.77, KEY_LEFT_IN + _SHORT_ARROW_IN, y + 0.91))
            page.text(_TEXT_IN, y + 0.79, "no checkpoint around: untested")
    per_inch = _metres_per_inch(content)
    length_m = round_below(_LONGEST_BAR_IN * per_inch)
    _bar(page, y, length_m / per_inch, length_text(length_m), above=True)
    if unit is not LinearUnit.METRE:
        length = round_below(_LONGEST_BAR_IN * per_inch / unit.metres)
        _bar(page, y, length * unit.metres / per_inch, f"{plain(length)} {unit.symbol}", above=False)
    x = KEY_RIGHT_IN - 0.28
    page.arrow((x, y - 0.02), (x, y + 0.4))
    page.text(x, y - 0.17, "grid north", SMALL_PT, ha="center")


def _hatched(page: Page, box: tuple[float, float, float, float]) -> None:
    for start, end in strokes(shapely.box(*box), STROKES_PT / page_of.POINTS_PER_INCH / 1.5).tolist():
        page.line([tuple(start), tuple(end)], color=FAINT, linewidth=STROKE_WIDTH_PT)


def _bar(page: Page, y: float, length_in: float, words: str, *, above: bool) -> None:
    left, middle, right = KEY_LEFT_IN, KEY_LEFT_IN + length_in / 2, KEY_LEFT_IN + length_in
    rise = 0.07 if above else -0.07
    page.line([(left, y + rise), (left, y), (right, y), (right, y + rise)], color=INK)
    page.line([(middle, y), (middle, y + rise * 0.7)])
    page.text(left, y + (0.11 if above else -0.2), words, SMALL_PT)
