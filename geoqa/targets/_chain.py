"""From a window of the orthomosaic to the centre of a target, or to why there is none.

The chain: candidates by correlation on block averages (`_candidates`), the whole footprint fitted
(`_appearance`) and weighed (`_evidence`), the centre (`_centres`), then what speaks against it
(`_doubts`). The surveyed place only bounds where the centre may lie.
"""

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.measurements import RasterPatch, TargetFix, TargetSearch, TargetStatus
from geoqa.targets._candidates import SearchArea
from geoqa.targets._centres import centre_of
from geoqa.targets._doubts import disturbed, doubts, is_over_exposed, remarks
from geoqa.targets._finds import APART_SIDES, SURE, Find, examine
from geoqa.targets._inspection import Inspection
from geoqa.targets._pattern import TargetPattern

# A score below this is no target.
_POSSIBLE = 0.5
# In a wide area so many candidates are fitted.
_MOST_FITS_FAR = 24
# A rival has at least this share of the contrast.
_RIVAL_CONTRAST = 0.5
# What no residual shows, interpolation and the limits of the model: (0.005 px)².
_FLOOR_PX2 = 0.005**2


def locate_target(patch: RasterPatch, search: TargetSearch, pattern: TargetPattern) -> TargetFix:
    """Return the centre of a target of this pattern, or why there is none."""
    picture, valid = _grey_of(patch)
    area = _area(search, patch)
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
    centre = centre_of(picture, valid, best)
    if centre is not None and not area.holds(centre.row, centre.col):
        return _not_found(pattern, best.score, "the target lies just outside the search radius")
    inspection = Inspection(best.fit)
    disturbances = disturbed(best, inspection, over_exposed=is_over_exposed(best, patch))
    against = doubts(best, centre, disturbances, rival, search.size_px)
    flags = tuple(dict.fromkeys([doubt.flag for doubt in against] + remarks(best, patch)))
    row, col, covariance = best.row, best.col, np.full((2, 2), np.nan)
    if centre is not None:
        row, col = centre.row, centre.col
        floor_px2 = _FLOOR_PX2 + inspection.inconsistency_px2()
        if pattern.point is None:
            # Residuals of the ground count already where the centre comes from the fitted model.
            floor_px2 += inspection.unevenness_px2()
        covariance = centre.covariance_px2 + floor_px2 * np.eye(2)
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
        outline=_outline(best, patch),
    )


def _outline(find: Find, patch: RasterPatch) -> FloatArray:
    """Return row and col in the raster of the corners of a find."""
    shape, pattern = find.fit.shape, find.fit.pattern
    offsets = np.linalg.solve(shape.axes, pattern.outline(shape.proportions).T).T
    middle = np.array([patch.row0 + shape.row, patch.col0 + shape.col])
    corners: FloatArray = (offsets + middle).astype(np.float64)
    return corners


def list_candidates(
    patch: RasterPatch, search: TargetSearch, pattern: TargetPattern
) -> tuple[TargetFix, ...]:
    """Return all places in a wide window that may be a target of this pattern, most alike first."""
    picture, valid = _grey_of(patch)
    area = _area(search, patch, wide=True)
    return tuple(
        TargetFix(
            TargetStatus.SUSPECT,
            pattern.kind,
            row=patch.row0 + find.row,
            col=patch.col0 + find.col,
            score=find.score,
            reason="seen far from the surveyed place",
            size_px=find.size_px,
        )
        for find in examine(picture, valid, area, pattern, most=_MOST_FITS_FAR)
        if find.score >= _POSSIBLE and area.holds(find.row, find.col)
    )


def _area(search: TargetSearch, patch: RasterPatch, *, wide: bool = False) -> SearchArea:
    """Return where the centre may lie, in the window's own rows and columns."""
    row, col = search.row - patch.row0, search.col - patch.col0
    return SearchArea(row, col, search.radius_px, search.size_px, wide, search.stretch)


def _grey_of(patch: RasterPatch) -> tuple[FloatArray, BoolArray]:
    """Return grey values, 0 where there are none, and where there are some."""
    picture = patch.grey
    valid = patch.valid & np.isfinite(picture)
    return np.where(valid, picture, 0.0), valid


def _rival(best: Find, others: list[Find]) -> Find | None:
    """Return the best other target beside this one, or None."""
    for other in others[1:]:
        apart = other.distance_px(best.row, best.col) > APART_SIDES * max(best.size_px, other.size_px)
        contrast = other.evidence.relative_contrast / max(best.evidence.relative_contrast, 1e-300)
        if apart and contrast > _RIVAL_CONTRAST:
            return other
    return None


def _not_found(pattern: TargetPattern, score: float, reason: str) -> TargetFix:
    return TargetFix(TargetStatus.NOT_FOUND, pattern.kind, score=score, reason=reason)


def _why_nothing(possible: list[Find], valid: BoolArray, area: SearchArea) -> str:
    rows, cols = np.mgrid[: valid.shape[0], : valid.shape[1]] + 0.5
    if not valid[np.hypot(rows - area.row, cols - area.col) <= area.radius_px + 1.0].any():
        return "the orthomosaic has no data within the search radius"
    if possible:
        away = possible[0].distance_px(area.row, area.col)
        return f"the nearest target lies {away:.1f} px away, outside the search radius"
    return "no candidate resembles the target over its whole footprint"
