"""The words around the map: title, frame and date below, figures and verdicts beside it."""

import numpy as np

from geoqa.records.assessment import Assessment
from geoqa.records.results import Claim, ComponentStatistics
from geoqa.writers import _map_page as page_of
from geoqa.writers._frame_words import UNIT_NAMES, created, height_system
from geoqa.writers._map_content import MapContent, Part
from geoqa.writers._map_notes import FEW_POINTS, MOST_IN_FULL
from geoqa.writers._map_page import (
    BODY_PT,
    FAINT,
    HEADING_PT,
    KEY_LEFT_IN,
    KEY_RIGHT_IN,
    LINE_IN,
    QUIET,
    SMALL_PT,
    Page,
)
from geoqa.writers._map_text import fitted, text_width
from geoqa.writers._numbers import interval, metres, plain, whole
from geoqa.writers._signs import VERDICT_SIGNS

_GAP_IN = 0.115
_MOST_NAMED = 4


def draw_words(page: Page, assessment: Assessment, part: Part = Part.BOTH) -> None:
    """Write title, what is shown, and the lines about frame, heights and date."""
    left, top = page_of.FRAME_LEFT_IN, page_of.FRAME_TOP_IN
    room = page_of.FRAME_WIDTH_IN * page_of.POINTS_PER_INCH
    page.text(left, top + 0.36, fitted(assessment.title, 15, room, bold=True), 15, bold=True)
    page.text(left, top + 0.12, _shown(assessment, part), HEADING_PT, colour=QUIET)
    frame = assessment.frame
    parts = [
        frame.name,
        f"coordinates in {UNIT_NAMES[frame.unit]}",
        f"heights: {height_system(frame.height_system)}",
    ]
    if frame.epoch is not None:
        parts.append(f"epoch {frame.epoch:.2f}")
    room = (KEY_RIGHT_IN - left) * page_of.POINTS_PER_INCH
    page.text(left, 0.36, fitted(" · ".join(parts), SMALL_PT, room), SMALL_PT, colour=QUIET)
    version = assessment.provenance.versions.get("geoqa", "")
    stamp = f"Created {created(assessment.provenance)} by geoqa {version}".rstrip()
    page.text(left, 0.18, fitted(stamp, SMALL_PT, room), SMALL_PT, colour=QUIET)


def _shown(assessment: Assessment, part: Part) -> str:
    products = [
        name
        for name, product in (
            ("orthomosaic", assessment.orthomosaic),
            ("elevation raster", assessment.elevation),
        )
        if product is not None
    ]
    named = " and ".join(products) or "marked positions"
    points = _points(len(assessment.residuals), "surveyed ")
    kind = {Part.PLAN: "Horizontal residuals", Part.HEIGHTS: "Height residuals"}.get(part, "Residuals")
    return f"{kind}, product minus survey: {named} at {points}"


def _points(count: int, kind: str = "") -> str:
    return f"{whole(count)} {kind}point{'' if count == 1 else 's'}"


def draw_figures(page: Page, assessment: Assessment, y: float, part: Part = Part.BOTH) -> float:
    """Write RMSE, points used, limits and verdicts, and return where the key goes on."""
    statistics, total = assessment.statistics, len(assessment.residuals)
    both = (("plan", "horizontal", statistics.horizontal), ("height", "vertical", statistics.up))
    for shown, direction, figures in both:
        if shown not in part.directions:
            continue
        y = _direction(page, y, direction, figures, total)
        for claim in assessment.claims:
            if claim.direction == direction and claim.limit_m is not None:
                y = _claim(page, y, claim)
        y -= _GAP_IN
    page.line([(KEY_LEFT_IN, y + 0.12), (KEY_RIGHT_IN, y + 0.12)], color=FAINT, linewidth=0.6)
    return y - 0.1


def _direction(page: Page, y: float, name: str, part: ComponentStatistics, total: int) -> float:
    page.text(KEY_LEFT_IN, y, f"{name.capitalize()} RMSE", HEADING_PT, bold=True)
    unit = " m" if part.count else ""
    page.text(KEY_RIGHT_IN, y - 0.02, f"{metres(part.rmse_m)}{unit}", 13, bold=True, ha="right")
    y = page.body(y - LINE_IN, f"{whole(part.count)} of {_points(total)} used", colour=QUIET)
    if part.count:
        y = page.body(y, f"95 % interval {interval(part.rmse_interval_m)} m", colour=QUIET)
    return y


def _claim(page: Page, y: float, claim: Claim) -> float:
    sign, colour = VERDICT_SIGNS[claim.verdict]
    words = f"limit {plain(claim.limit_m)} m:"
    if claim.quantity not in ("horizontal RMSE", "vertical RMSE"):
        y = page.body(y, f"{claim.quantity} {metres(claim.value_m)} m")
    page.text(KEY_LEFT_IN, y, words)
    x = KEY_LEFT_IN + text_width(words, BODY_PT) / page_of.POINTS_PER_INCH + 0.06
    page.text(x, y, f"{sign} {claim.verdict}", bold=True, colour=colour)
    return y - LINE_IN


def remarks(assessment: Assessment, content: MapContent, unlabelled: int) -> list[str]:
    """Return sentences about what the map leaves out; `unlabelled` ids found no room."""
    shown, full = int(content.ground.shown.sum()), int(content.in_full.sum())
    said: list[str] = []
    if not shown:
        said.append("No point lies on this map.")
    if content.dots.any():
        said.append(
            f"{whole(full)} of {whole(shown)} points are drawn in full: those with an id, and in each cell "
            "of a grid the one of median residual. The others are dots."
        )
    if len(content.labels) < shown:
        also = "" if shown > MOST_IN_FULL else " and points that do not count"
        said.append(f"Ids: the largest residuals{also}.")
    if unlabelled:
        said.append(f"Ids without room: {whole(unlabelled)}.")
    if content.ground.beyond.any():
        ids = [assessment.residuals.ids[row] for row in np.flatnonzero(content.ground.beyond)]
        more = f" and {whole(len(ids) - _MOST_NAMED)} more" if len(ids) > _MOST_NAMED else ""
        said.append(f"Far off this map, not shown: {', '.join(ids[:_MOST_NAMED])}{more}.")
    if shown and content.outline_known and not content.ground.with_product:
        said.append("The product lies elsewhere: no point is near it.")
    if shown > FEW_POINTS and len(content.vectors.index) and content.part is not Part.HEIGHTS:
        said.append(f"95 % ellipses are drawn for up to {FEW_POINTS} points.")
    return said
