"""Positions of the points as means, with standard deviations that do not shrink by mere repetition.

References
----------
[Denys2025]_ for the reason; weighted mean and chi-square of its residuals: common practice of
adjustment. The floors are common practice too, the specification class of RTK receivers (8 to 10 mm
horizontally, 15 to 20 mm vertically, 1 sigma, each + 1 ppm of the baseline, which is left out: the
files do not say where the base stood).
"""

from dataclasses import dataclass

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray, IntArray
from geoqa.numerics.groups import (
    group_largest,
    group_means,
    group_medians,
    group_numbers,
    group_ranges,
    group_sums,
    ratio,
)
from geoqa.records.survey_settings import Survey
from geoqa.survey.shots import Shots


@dataclass(frozen=True, eq=False)
class Means:
    """Means of the p points and of their m occupations, metres, east, north, up.

    Attributes
    ----------
    position_m, sigma_m : array, shape (p, 3)
        Weighted mean of the occupations. NaN height where no shot has one; NaN standard deviation
        where that of an occupation is unknown.
    sigma_stated_m : array, shape (p, 3)
        That of the same mean by the stated standard deviations alone, without the floor.
    sigma_reported_m : array, shape (p, 3)
        Median of the standard deviations of the shots as stated.
    spread_m : array, shape (p, 3)
        Largest difference between occupations, or between shots where those are not told apart; NaN
        where there is one.
    shot_spread_m : array, shape (p, 3)
        Largest difference between two shots of one occupation.
    from_mean_m, occupation_sigma_m : array, shape (m, 3)
        Mean of the occupation minus position of the point, and the sigma that it is weighted with.
    raised : array of bool, shape (p,)
        True where a stated standard deviation lies below the floor.
    """

    position_m: FloatArray
    sigma_m: FloatArray
    sigma_stated_m: FloatArray
    sigma_reported_m: FloatArray
    spread_m: FloatArray
    shot_spread_m: FloatArray
    from_mean_m: FloatArray
    occupation_sigma_m: FloatArray
    raised: BoolArray


def form_means(shots: Shots, rules: Survey) -> Means:
    """Return the mean of each point.

    Within an occupation: the arithmetic mean of the shots; its sigma is the median of those stated,
    at least the floor, and is not divided by the number of shots. Between occupations: the mean
    weighted with 1/sigma², axis by axis, and sigma² = 1/Σ(1/sigma²) × max(1, chi²/(S − 1)) with
    chi² = Σ((x − mean)²/sigma²) over the S occupations. The floor holds for a single shot as well: a
    receiver states how well its epochs repeat, not how well an occupation does. Where an occupation
    has no stated sigma, the mean has equal weights and its sigma stays unknown.
    """
    counted = np.flatnonzero(shots.in_mean)
    occupation, several = shots.occupation[counted], len(shots.point_of_occupation)
    reference_m = _reference(shots, counted)
    # Differences from a place nearby keep the digits that millions of metres would take.
    offset_m = shots.rows.position_m[counted] - reference_m[shots.point[counted]]
    stated_m = np.where(shots.rows.sigma_m[counted] > 0, shots.rows.sigma_m[counted], np.nan)
    reported_m = group_medians(stated_m, occupation, several)
    floor_m = np.array([rules.floor_horizontal_m, rules.floor_horizontal_m, rules.floor_vertical_m])
    sigma_m = np.maximum(reported_m, floor_m)
    means_m = group_means(offset_m, occupation, several)
    mean_m, mean_sigma_m = weighted_means(means_m, sigma_m, shots.point_of_occupation, shots.count)
    _, without_floor_m = weighted_means(means_m, reported_m, shots.point_of_occupation, shots.count)
    shot_spread_m = group_largest(
        group_ranges(offset_m, occupation, several), shots.point_of_occupation, shots.count
    )
    spread_m = group_ranges(means_m, shots.point_of_occupation, shots.count)
    raised = np.zeros(shots.count, dtype=bool)
    raised[shots.point_of_occupation[(reported_m < floor_m).any(axis=1)]] = True
    return Means(
        position_m=reference_m + mean_m,
        sigma_m=mean_sigma_m,
        sigma_stated_m=np.minimum(without_floor_m, mean_sigma_m),
        sigma_reported_m=group_medians(stated_m, shots.point[counted], shots.count),
        spread_m=np.where(shots.told_apart[:, None], spread_m, np.fmax(spread_m, shot_spread_m)),
        shot_spread_m=shot_spread_m,
        from_mean_m=means_m - mean_m[shots.point_of_occupation],
        occupation_sigma_m=sigma_m,
        raised=raised,
    )


def weighted_means(
    values_m: FloatArray, sigma_m: FloatArray, groups: IntArray, count: int
) -> tuple[FloatArray, FloatArray]:
    """Return the weighted mean of each group and its standard deviation, shape (count, k) each.

    Parameters
    ----------
    values_m, sigma_m : array, shape (m, k)
        NaN values are left out. Where the sigma of a value is NaN, all values of its group weigh the
        same and the sigma of the mean is NaN.

    Examples
    --------
    Two equal values of equal weight, then two that differ by more than their sigma: chi² = 8.

    >>> groups, sigma_m = np.array([0, 0, 1, 1]), np.full((4, 1), 0.01)
    >>> mean_m, mean_sigma_m = weighted_means(np.array([[1.0], [1.0], [2.0], [2.04]]), sigma_m, groups, 2)
    >>> mean_m.round(4).tolist(), mean_sigma_m.round(4).tolist()
    ([[1.0], [2.02]], [[0.0071], [0.02]])
    """
    present = np.isfinite(values_m)
    known = np.where(present & np.isfinite(sigma_m), 1.0, np.nan)
    numbers = group_numbers(values_m, groups, count)
    all_known = group_numbers(known, groups, count) == numbers
    weights = np.where(all_known[groups], 1 / sigma_m**2, 1.0)
    weights[~present] = np.nan
    total = group_sums(weights, groups, count)
    mean_m = ratio(group_sums(weights * values_m, groups, count), total)
    chi_square = group_sums(weights * (values_m - mean_m[groups]) ** 2, groups, count)
    inflation = np.fmax(ratio(chi_square, numbers - 1), 1.0)
    of_several_m = np.sqrt(ratio(inflation, total))
    of_one_m = group_sums(np.where(present, sigma_m, np.nan), groups, count)
    mean_sigma_m = np.where(numbers > 1, of_several_m, of_one_m)
    return mean_m, np.where(all_known & (numbers > 0), mean_sigma_m, np.nan)


def _reference(shots: Shots, counted: IntArray) -> FloatArray:
    """Return a place at each point: its first shot, in height the mean where that has none."""
    first_m = shots.rows.position_m[shots.first]
    if np.isfinite(first_m).all():
        return first_m
    mean_m = group_means(shots.rows.position_m[counted], shots.point[counted], shots.count)
    return np.where(np.isfinite(first_m), first_m, mean_m)
