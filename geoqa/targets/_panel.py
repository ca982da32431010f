"""From a window of the orthomosaic to the centre of a square panel, or to why there is none.

The chain: candidates by correlation on block averages (`_candidates`), the whole footprint fitted
(`_appearance`) and weighed (`_evidence`), the centre by symmetry (`_finds`), then what speaks against it
(`_doubts`). The surveyed place only bounds where the centre may lie.
"""

import numpy as np

from geoqa.numerics.arrays import BoolArray
from geoqa.records.measurements import RasterPatch, TargetFix, TargetSearch, TargetStatus
from geoqa.targets._candidates import SearchArea
from geoqa.targets._doubts import doubts, remarks
from geoqa.targets._finds import APART_SIDES, SURE, Find, examine, refine
from geoqa.targets._pattern import PanelPattern

# A score below this is no panel.
_POSSIBLE = 0.5
# A rival has at least this share of the contrast.
_RIVAL_CONTRAST = 0.5
# What no residual shows, interpolation and the limits of the model: (0.005 px)².
_FLOOR_PX2 = 0.005**2


def locate_panel(patch: RasterPatch, search: TargetSearch, pattern: PanelPattern) -> TargetFix:
    """Return the centre of a panel of this pattern, or why there is none."""
    picture = patch.grey
    valid = patch.valid & np.isfinite(picture)
    picture = np.where(valid, picture, 0.0)
    area = SearchArea(search.row - patch.row0, search.col - patch.col0, search.radius_px, search.size_px)
    finds = examine(picture, valid, area, pattern)
    possible = [find for find in finds if find.score >= _POSSIBLE]
    within = [find for find in possible if area.holds(find.row, find.col)]
    if not within:
        score = max((find.score for find in finds if area.holds(find.row, find.col)), default=0.0)
        return _not_found(pattern, score, _why_nothing(possible, valid, area))
    best = within[0]
    rival = _rival(best, within)
    if rival is not None and (rival.score >= SURE or best.score < SURE):
        away = rival.distance_px(best.row, best.col)
        reason = f"two candidates of equal standing, {away:.0f} px apart"
        status = TargetStatus.AMBIGUOUS
        return TargetFix(status, pattern.kind, score=best.score, flags=("ambiguous",), reason=reason)
    centre = refine(picture, valid, best, pattern)
    if centre is not None and not area.holds(centre.row, centre.col):
        return _not_found(pattern, best.score, "the panel lies just outside the search radius")
    against = doubts(best, centre, rival, search.size_px)
    flags = tuple(dict.fromkeys([doubt.flag for doubt in against] + remarks(best, patch)))
    row, col, covariance = best.row, best.col, np.full((2, 2), np.nan)
    if centre is not None:
        row, col, covariance = centre.row, centre.col, centre.covariance_px2 + _FLOOR_PX2 * np.eye(2)
    return TargetFix(
        status=TargetStatus.SUSPECT if against else TargetStatus.FOUND,
        kind=pattern.kind,
        row=patch.row0 + row,
        col=patch.col0 + col,
        covariance_px2=covariance,
        score=best.score,
        flags=flags,
        reason=against[0].reason if against else None,
        size_px=best.size_px,
    )


def _rival(best: Find, others: list[Find]) -> Find | None:
    """Return the best other panel beside this one, or None."""
    for other in others[1:]:
        apart = other.distance_px(best.row, best.col) > APART_SIDES * max(best.size_px, other.size_px)
        contrast = other.evidence.relative_contrast / max(best.evidence.relative_contrast, 1e-300)
        if apart and contrast > _RIVAL_CONTRAST:
            return other
    return None


def _not_found(pattern: PanelPattern, score: float, reason: str) -> TargetFix:
    return TargetFix(TargetStatus.NOT_FOUND, pattern.kind, score=score, reason=reason)


def _why_nothing(possible: list[Find], valid: BoolArray, area: SearchArea) -> str:
    rows, cols = np.mgrid[: valid.shape[0], : valid.shape[1]] + 0.5
    if not valid[np.hypot(rows - area.row, cols - area.col) <= area.radius_px + 1.0].any():
        return "the orthomosaic has no data within the search radius"
    if possible:
        away = possible[0].distance_px(area.row, area.col)
        return f"the nearest panel lies {away:.1f} px away, outside the search radius"
    return "no candidate resembles the panel over its whole footprint"
