"""Residual vectors and their ellipses as the map shows them: enlarged, thinned, cut where too long."""

from dataclasses import dataclass

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray, IntArray
from geoqa.records.assessment import Assessment
from geoqa.writers._map_frame import Ground
from geoqa.writers._map_notes import FEW_POINTS, MOST_IN_FULL

# A vector drawn longer than this part of the site is cut and dashed, with its length beside the id.
_LONGEST_DRAWN = 0.4
# Columns and rows of the grid that thins points: with vectors, and with heights alone.
_VECTOR_GRID, _HEIGHT_GRID = (20, 17), (40, 34)
# Square root of the 95 % quantile of chi-square with two degrees of freedom, which is −2 ln 0.05.
ELLIPSE_95 = float(np.sqrt(-2 * np.log(0.05)))


@dataclass(frozen=True, eq=False)
class Vectors:
    """The residual vectors drawn, one row a vector.

    Attributes
    ----------
    index
        Row of the point.
    start_m, tip_m : array, shape (k, 2)
        Surveyed place, and that place plus the residual times the exaggeration.
    used
        Whether the point counts for the plan.
    cut
        Drawn shorter than it is.
    """

    index: IntArray
    start_m: FloatArray
    tip_m: FloatArray
    used: BoolArray
    cut: BoolArray


@dataclass(frozen=True, eq=False)
class Ellipses:
    """95 % ellipses around tips of vectors.

    Attributes
    ----------
    half_axes_m : array, shape (k, 2)
        Larger and smaller half axis as drawn.
    angle_deg
        Of the larger axis, from east towards north.
    source
        Whose uncertainty they show: survey, location or both.
    """

    centre_m: FloatArray
    half_axes_m: FloatArray
    angle_deg: FloatArray
    source: str

    @property
    def boxes_m(self) -> FloatArray:
        """Return west, south, east, north of squares around them, shape (k, 4)."""
        reach = self.half_axes_m.max(axis=1, initial=0.0)[:, None]
        return np.hstack([self.centre_m - reach, self.centre_m + reach])


def in_full(assessment: Assessment, place: Ground, labelled: IntArray) -> BoolArray:
    """Return which points are drawn with their mark and vector, shape (n,); the others are dots.

    All where there are few. Else the labelled ones and one point in each cell of a grid: that of
    median length among its vectors, or where it has none, of median height residual.
    """
    rows = np.flatnonzero(place.shown)
    if len(rows) <= MOST_IN_FULL:
        return place.shown
    delta = assessment.residuals.delta_m[rows]
    length = np.hypot(delta[:, 0], delta[:, 1])
    grid = _VECTOR_GRID if np.isfinite(length).any() else _HEIGHT_GRID
    chosen = np.zeros_like(place.shown)
    cell = _cells(np.asarray(assessment.residuals.survey_m[rows, :2]), place, grid)
    for value in (length, delta[:, 2]):
        free = np.isfinite(value) & ~np.isin(cell, cell[chosen[rows]])
        chosen[rows[free][_medians(value[free], cell[free])]] = True
    chosen[labelled] = True
    return chosen


def _cells(plan: FloatArray, place: Ground, grid: tuple[int, int]) -> IntArray:
    west, south, east, north = place.site_m
    share = (plan - [west, south]) / np.maximum([east - west, north - south], 1e-9)
    column, row = np.clip((share * grid).astype(int), 0, np.array(grid) - 1).T
    return np.asarray(column * grid[1] + row)


def _medians(values: FloatArray, cell: IntArray) -> IntArray:
    """Return for each cell the index of its median value, the lower one of two."""
    order = np.lexsort((values, cell))
    _, first, count = np.unique(cell[order], return_index=True, return_counts=True)
    return np.asarray(order[first + (count - 1) // 2])


def vectors(assessment: Assessment, place: Ground, index: IntArray, factor: float) -> Vectors:
    """Return the vectors of these points, enlarged by the factor and cut where they are too long."""
    residuals = assessment.residuals
    start = np.asarray(residuals.survey_m[index, :2])
    step = residuals.delta_m[index, :2] * factor
    length = np.hypot(step[:, 0], step[:, 1])
    # Where most vectors are long, none is the exception that would crowd out the others.
    longest = max(_LONGEST_DRAWN * place.side_m, 2 * float(np.median(length)) if len(length) else 0.0)
    cut = length > longest
    shrink = np.where(cut, longest / np.where(cut, length, 1.0), 1.0)[:, None]
    return Vectors(index, start, start + step * shrink, np.asarray(residuals.horizontal.used[index]), cut)


def ellipses(assessment: Assessment, drawn: Vectors, factor: float) -> Ellipses:
    """Return the 95 % ellipses of the vectors that count; none among many points, where they hide all.

    They join the uncertainty of survey and location. Half of an uncertainty looks like a whole one,
    so where any point has both parts only such points get an ellipse.
    """
    residuals, fixes = assessment.residuals, assessment.fixes
    kept = drawn.used & ~drawn.cut & (len(residuals) <= FEW_POINTS)
    index = drawn.index[kept]
    survey = residuals.sigma_survey_m[index, :2] ** 2
    location = fixes.covariance_m2[index]
    with_survey: BoolArray = np.asarray(np.isfinite(survey).all(axis=1))
    with_location: BoolArray = np.asarray(np.isfinite(location).all(axis=(1, 2)))
    total = np.where(with_location[:, None, None], location, 0.0)
    total[:, [0, 1], [0, 1]] += np.where(with_survey[:, None], survey, 0.0)
    both = with_survey & with_location
    chosen = both if both.any() else with_survey | with_location
    values, axes = np.linalg.eigh(total[chosen])
    half = ELLIPSE_95 * factor * np.sqrt(np.maximum(values[:, ::-1], 0.0))
    angle = np.degrees(np.arctan2(axes[:, 1, 1], axes[:, 0, 1]))
    source = "survey and location" if both.any() else "survey" if with_survey.any() else "location"
    return Ellipses(drawn.tip_m[kept][chosen], half, angle, source)
