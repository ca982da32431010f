"""Candidates that were fitted and weighed, best first."""

from dataclasses import dataclass
from math import hypot

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.targets._appearance import AppearanceFit, fit_appearance
from geoqa.targets._candidates import Candidate, SearchArea, find_candidates
from geoqa.targets._evidence import Evidence, weigh
from geoqa.targets._pattern import TargetPattern
from geoqa.targets._shadow import Shadow, darkens_evenly, find_shadow
from geoqa.targets._shape import starting_shape

# A score from which nobody doubts the target.
SURE = 0.95
# Weaker correlations are not looked at; up to so many places a size are.
_LEAST_STRENGTH, _PLACES_A_SIZE = 0.6, 6
# So many candidates are fitted where the size is known, and where it is not.
_MOST_FITS, _MOST_FITS_OF_ANY_SIZE = 6, 16
# A target that is explained so well lies in no shadow; a shadow must explain this share of the rest.
_WELL_EXPLAINED, _SHADOW_GAIN = 0.98, 0.5
# Only the strongest candidates are looked at once more for a shadow: it takes as long as the fit.
_MOST_IN_SHADOW = 2
# Two candidates this near, in sides, and within this ratio of sizes are one.
_SAME_PLACE, _SAME_SIZE = 0.3, 1.3
# Two targets do not overlap: what is nearer than this, in sides, is one target seen twice.
APART_SIDES = 0.85
# Once a target is found, only candidates this close to it in strength can compete.
_COMPETING_STRENGTH = 0.8


@dataclass(frozen=True, eq=False)
class Find:
    """A target that was fitted, in pixels of the window, and the shadow that was taken off it."""

    fit: AppearanceFit
    evidence: Evidence
    score: float
    shadow: Shadow | None = None

    @property
    def row(self) -> float:
        """Return the row of the fitted point."""
        return self._place()[0]

    @property
    def col(self) -> float:
        """Return the column of the fitted point."""
        return self._place()[1]

    def _place(self) -> tuple[float, float]:
        shape, point = self.fit.shape, self.fit.pattern.point
        return (shape.row, shape.col) if point is None else shape.place(*point(shape.proportions))

    @property
    def size_px(self) -> float:
        """Return the fitted side."""
        return self.fit.shape.size_px

    def distance_px(self, row: float, col: float) -> float:
        """Return how far a place lies from the fitted point."""
        return hypot(row - self.row, col - self.col)


def examine(
    picture: FloatArray,
    valid: BoolArray,
    area: SearchArea,
    pattern: TargetPattern,
    *,
    most: int | None = None,
) -> list[Find]:
    """Return what looks like the target in and about the search area, most alike first."""
    if most is None:
        most = _MOST_FITS if area.size_px is not None else _MOST_FITS_OF_ANY_SIZE
    places = _PLACES_A_SIZE if most <= _MOST_FITS_OF_ANY_SIZE else most
    candidates = find_candidates(picture, valid, area, pattern, least=_LEAST_STRENGTH, most=places)
    tried: list[Candidate] = []
    finds: list[Find] = []
    for candidate in candidates:
        if len(tried) == most:
            break
        if any(_alike(candidate, other) for other in tried) or any(_rules_out(f, candidate) for f in finds):
            continue
        tried.append(candidate)
        # Where a target lies in plain light nothing else is sought in shadows.
        sure = any(find.score >= SURE for find in finds)
        shadows = not sure and len(tried) <= _MOST_IN_SHADOW
        fit, shadow = _fit(picture, valid, pattern, candidate, shadows=shadows)
        if fit is not None:
            evidence = weigh(fit, candidate, area.size_px, shadow=shadow is not None)
            finds.append(Find(fit, evidence, evidence.score(pattern.likelihood), shadow))
    return sorted(finds, key=lambda find: -find.score)


def _fit(
    picture: FloatArray, valid: BoolArray, pattern: TargetPattern, candidate: Candidate, *, shadows: bool
) -> tuple[AppearanceFit | None, Shadow | None]:
    """Return the target that fits best near a candidate, without the shadow across it if there is one."""
    fit = fit_appearance(picture, valid, pattern, candidate)
    if not shadows or (fit is not None and fit.explained > _WELL_EXPLAINED):
        return fit, None
    shadow, lit = None, None
    shape = starting_shape(pattern, candidate)
    # The second time the target's place is known well enough to tell its edges from the shadow's.
    for _ in range(2):
        shadow = find_shadow(picture, valid, pattern, shape)
        lit = None if shadow is None else fit_appearance(shadow.lifted(picture), valid, pattern, candidate)
        if lit is None:
            return fit, None
        shape = lit.shape
    if shadow is None or lit is None or not darkens_evenly(shadow, lit):
        return fit, None
    if fit is None or 1 - lit.explained < (1 - _SHADOW_GAIN) * (1 - fit.explained):
        return lit, shadow
    return fit, None


def _alike(one: Candidate, other: Candidate) -> bool:
    near = hypot(one.row - other.row, one.col - other.col) < _SAME_PLACE * max(one.size_px, other.size_px)
    return near and 1 / _SAME_SIZE < one.size_px / other.size_px < _SAME_SIZE


def _rules_out(find: Find, candidate: Candidate) -> bool:
    """Return whether a target that was found leaves no room for a candidate.

    Either the candidate would overlap that target and be no larger, as its side lobes would, or it is too
    weak to rival it.
    """
    shape = find.fit.shape
    overlaps = hypot(shape.row - candidate.row, shape.col - candidate.col) < APART_SIDES * find.size_px
    a_part = overlaps and candidate.size_px < _SAME_SIZE * find.size_px
    return find.score >= SURE and (
        a_part or candidate.strength < _COMPETING_STRENGTH * find.evidence.strength
    )
