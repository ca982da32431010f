"""Candidates that were fitted and weighed, best first, and their centres by symmetry."""

from dataclasses import dataclass, replace
from math import hypot

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.numerics.resampling import smooth_picture
from geoqa.numerics.symmetry import SymmetryFit, fit_symmetry_centre
from geoqa.targets._appearance import PanelFit, fit_panel
from geoqa.targets._candidates import Candidate, SearchArea, find_candidates
from geoqa.targets._evidence import Evidence, weigh
from geoqa.targets._pattern import PanelPattern

# A score from which nobody doubts the panel.
SURE = 0.95
# Weaker correlations are not looked at; up to so many places a size are.
_LEAST_STRENGTH, _PLACES_A_SIZE = 0.6, 6
# So many candidates are fitted where the size is known, and where it is not.
_MOST_FITS, _MOST_FITS_OF_ANY_SIZE = 6, 16
# Two candidates this near, in sides, and within this ratio of sizes are one.
_SAME_PLACE, _SAME_SIZE = 0.3, 1.3
# Two panels do not overlap: what is nearer than this, in sides, is one panel seen twice.
APART_SIDES = 0.7
# Once a panel is found, only candidates this close to it in strength can compete.
_COMPETING_STRENGTH = 0.8
# The centre comes from what lies so far within the outline, where hardly any ground shows through the blur,
# and is at least this steep, as a share of the steepest.
_OUTLINE_MARGIN_PX, _LEAST_STEEPNESS = 0.5, 0.05
# Slight smoothing before the spline; see `smooth_picture`.
_SMOOTHING_PX = 0.6
_SPLINE_MARGIN_PX = 8


@dataclass(frozen=True, eq=False)
class Find:
    """A panel that was fitted, in pixels of the window."""

    fit: PanelFit
    evidence: Evidence
    score: float

    @property
    def row(self) -> float:
        """Return the row of the fitted centre."""
        return self.fit.shape.row

    @property
    def col(self) -> float:
        """Return the column of the fitted centre."""
        return self.fit.shape.col

    @property
    def size_px(self) -> float:
        """Return the fitted side."""
        return self.fit.shape.size_px

    def distance_px(self, row: float, col: float) -> float:
        """Return how far a place lies from the fitted centre."""
        return hypot(row - self.row, col - self.col)


def examine(picture: FloatArray, valid: BoolArray, area: SearchArea, pattern: PanelPattern) -> list[Find]:
    """Return what looks like the panel in and about the search area, most panel-like first."""
    candidates = find_candidates(picture, valid, area, pattern, least=_LEAST_STRENGTH, most=_PLACES_A_SIZE)
    most = _MOST_FITS if area.size_px is not None else _MOST_FITS_OF_ANY_SIZE
    tried: list[Candidate] = []
    finds: list[Find] = []
    for candidate in candidates:
        if len(tried) == most:
            break
        if any(_alike(candidate, other) for other in tried) or any(_rules_out(f, candidate) for f in finds):
            continue
        tried.append(candidate)
        fit = fit_panel(picture, valid, pattern, candidate)
        if fit is not None:
            evidence = weigh(fit, pattern, candidate.strength, area.size_px)
            finds.append(Find(fit, evidence, evidence.score()))
    return sorted(finds, key=lambda find: -find.score)


def refine(picture: FloatArray, valid: BoolArray, find: Find, pattern: PanelPattern) -> SymmetryFit | None:
    """Return the centre of symmetry of a find, in pixels of the window, or None where there is none."""
    half = int(np.ceil(0.75 * find.size_px))
    reach = half + _SPLINE_MARGIN_PX
    top, left = max(0, int(find.row) - reach), max(0, int(find.col) - reach)
    near = slice(top, int(find.row) + reach + 1), slice(left, int(find.col) + reach + 1)
    surface = smooth_picture(picture[near], valid[near], _SMOOTHING_PX)
    edges = _edges(find, pattern, half)
    fit = fit_symmetry_centre(surface, find.row - top, find.col - left, edges, smoothing_px=_SMOOTHING_PX)
    return None if fit is None else replace(fit, row=fit.row + top, col=fit.col + left)


def _edges(find: Find, pattern: PanelPattern, half: int) -> BoolArray:
    """Return the offsets from the centre that lie about the pattern's edges and clear of the outline.

    What lies between the edges knows nothing of the centre and would only add its noise.
    """
    offsets = np.arange(-half, half + 1.0)
    shape = find.fit.shape
    u, v = shape.own_axes(shape.row + offsets[:, None], shape.col + offsets)
    blur = 2.0 * hypot(shape.blur_px, _SMOOTHING_PX) / find.size_px
    steepness = np.hypot(*np.gradient(pattern.tone(u, v, blur)))
    inside = np.maximum(np.abs(u), np.abs(v)) <= 1.0 - 2.0 * _OUTLINE_MARGIN_PX / find.size_px
    edges: BoolArray = inside & (steepness > _LEAST_STEEPNESS * steepness[inside].max(initial=0.0))
    return edges


def _alike(one: Candidate, other: Candidate) -> bool:
    near = hypot(one.row - other.row, one.col - other.col) < _SAME_PLACE * max(one.size_px, other.size_px)
    return near and 1 / _SAME_SIZE < one.size_px / other.size_px < _SAME_SIZE


def _rules_out(find: Find, candidate: Candidate) -> bool:
    """Return whether a panel that was found leaves no room for a candidate.

    Either the candidate would overlap that panel and be no larger, as its side lobes would, or it is too
    weak to rival it.
    """
    overlaps = find.distance_px(candidate.row, candidate.col) < APART_SIDES * find.size_px
    a_part = overlaps and candidate.size_px < _SAME_SIZE * find.size_px
    return find.score >= SURE and (
        a_part or candidate.strength < _COMPETING_STRENGTH * find.evidence.strength
    )
