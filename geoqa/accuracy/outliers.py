"""Points that stand out from their set by more than chance; pointed out, never left out.

A fixed multiple of the spread calls a false alarm the more often the fewer points there are. The
thresholds here depend on their number: of clean sets, normal errors without outliers, equal in both
axes, 5 % have a point beyond. Where the declared standard deviations of all points explain the
spread of the set, residuals are measured by them instead, which sees smaller outliers.
"""

import math
from dataclasses import replace

import numpy as np
from scipy.special import ndtri

from geoqa.accuracy.influence import used_sizes
from geoqa.accuracy.limits import checkpoints, metres
from geoqa.accuracy.statistics import NMAD_FACTOR, root_mean_square
from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.evidence import Direction, OutlierBasis, OutlierSearch
from geoqa.records.results import ResidualSet

FALSE_ALARMS = 0.05
FEWEST_POINTS = 5
MOST_NAMED = 8

# Simulated by `tests/accuracy/calibrate_outliers.py`: number of points; largest distance from the
# median in a clean set, 95 % quantile, height and plan in NMADs, height and plan in true sigmas; NMAD
# of errors of sigma 1, 95 % quantile, height and plan.
CALIBRATION = np.array(
    [
        (5, 7.969, 6.545, 2.689, 3.151, 1.720, 1.383),
        (6, 5.531, 5.840, 2.699, 3.146, 1.570, 1.343),
        (7, 5.869, 5.356, 2.792, 3.245, 1.648, 1.372),
        (8, 4.927, 5.110, 2.800, 3.247, 1.546, 1.338),
        (9, 5.065, 4.875, 2.858, 3.306, 1.587, 1.350),
        (10, 4.581, 4.751, 2.867, 3.312, 1.517, 1.327),
        (11, 4.668, 4.630, 2.909, 3.359, 1.539, 1.328),
        (12, 4.361, 4.545, 2.922, 3.368, 1.483, 1.311),
        (13, 4.431, 4.468, 2.956, 3.399, 1.499, 1.312),
        (14, 4.221, 4.422, 2.969, 3.410, 1.460, 1.296),
        (15, 4.274, 4.367, 2.993, 3.438, 1.468, 1.293),
        (16, 4.131, 4.335, 3.004, 3.444, 1.436, 1.284),
        (17, 4.167, 4.306, 3.025, 3.467, 1.443, 1.282),
        (18, 4.048, 4.272, 3.033, 3.475, 1.413, 1.271),
        (19, 4.086, 4.238, 3.054, 3.490, 1.421, 1.269),
        (20, 3.986, 4.218, 3.066, 3.504, 1.396, 1.262),
        (22, 3.946, 4.187, 3.088, 3.528, 1.381, 1.252),
        (25, 3.940, 4.151, 3.130, 3.563, 1.368, 1.240),
        (30, 3.839, 4.109, 3.172, 3.602, 1.333, 1.222),
        (35, 3.822, 4.086, 3.216, 3.646, 1.316, 1.208),
        (40, 3.779, 4.066, 3.249, 3.680, 1.291, 1.196),
        (50, 3.752, 4.057, 3.307, 3.736, 1.261, 1.176),
        (60, 3.743, 4.058, 3.354, 3.781, 1.240, 1.163),
        (80, 3.741, 4.078, 3.430, 3.857, 1.210, 1.143),
        (100, 3.748, 4.084, 3.488, 3.905, 1.188, 1.130),
        (150, 3.783, 4.138, 3.601, 4.009, 1.156, 1.106),
        (200, 3.809, 4.171, 3.659, 4.066, 1.133, 1.093),
        (300, 3.868, 4.241, 3.756, 4.167, 1.110, 1.076),
        (500, 3.959, 4.331, 3.889, 4.287, 1.085, 1.059),
        (1000, 4.090, 4.474, 4.043, 4.447, 1.061, 1.042),
    ]
)


def thresholds(count: int, *, plan: bool, by_sigmas: bool) -> float:
    """Return the distance from the median that the largest of a clean set exceeds in 5 % of the cases.

    Parameters
    ----------
    count
        Number of points, 5 or more.
    by_sigmas
        In true standard deviations; else in NMADs.

    Examples
    --------
    >>> round(thresholds(10, plan=False, by_sigmas=False), 1)
    4.6
    """
    column = CALIBRATION[:, 1 + 2 * by_sigmas + plan]
    numbers = CALIBRATION[:, 0]
    if count <= numbers[-1]:
        return float(np.interp(math.log(count), np.log(numbers), column))
    # The median and the NMAD of so many points are as good as true: what is left is chance alone.
    return float(column[-1] + _of_known_scale(count, plan=plan) - _of_known_scale(numbers[-1], plan=plan))


def _of_known_scale(count: float, *, plan: bool) -> float:
    beyond = -math.expm1(math.log1p(-FALSE_ALARMS) / count)
    return math.sqrt(-2 * math.log(beyond)) if plan else float(ndtri(1 - beyond / 2))


def search_outliers(residuals: ResidualSet) -> tuple[OutlierSearch, ...]:
    """Return the points of either direction that stand out; none for a direction without points."""
    columns = {"horizontal": slice(0, 2), "vertical": slice(2, 3)}
    return tuple(
        _search(residuals, direction, rows, columns[direction], sizes_m)
        for direction, rows, sizes_m in used_sizes(residuals)
        if len(sizes_m)
    )


def _search(
    residuals: ResidualSet, direction: Direction, rows: BoolArray, columns: slice, sizes_m: FloatArray
) -> OutlierSearch:
    values_m = residuals.delta_m[rows, columns]
    sigma_m = _declared(residuals, rows, columns)
    distance, scale_m, basis = _distances(values_m, sigma_m)
    plan = values_m.shape[1] == 2
    threshold = float("nan")
    beyond = np.zeros(len(values_m), dtype=bool)
    if basis is not OutlierBasis.NONE:
        threshold = thresholds(len(values_m), plan=plan, by_sigmas=basis is OutlierBasis.SIGMAS)
        beyond = distance > threshold
    names = tuple(residuals.ids[row] for row in np.flatnonzero(rows)[beyond])
    rmse_m, without_m = root_mean_square(sizes_m), root_mean_square(sizes_m[~beyond])
    found = OutlierSearch(
        direction, len(values_m), basis, threshold, scale_m, names, rmse_m, without_m, sentence=""
    )
    return replace(found, sentence=_sentence(found))


def _declared(residuals: ResidualSet, rows: BoolArray, columns: slice) -> FloatArray:
    """Return the standard deviation of each residual, survey and location; NaN where one is missing.

    That of a height in the product is not known and not asked for.
    """
    survey_m = residuals.sigma_survey_m[rows, columns]
    product_m = residuals.sigma_product_m[rows, columns]
    if columns.start == 2:
        product_m = np.nan_to_num(product_m)
    survey_m = np.where(survey_m > 0, survey_m, np.nan)
    return np.asarray(np.hypot(survey_m, product_m))


def _distances(values_m: FloatArray, sigma_m: FloatArray) -> tuple[FloatArray, float, OutlierBasis]:
    """Return the distance of each point from the median in units of the scale, the scale, and its kind."""
    count, axes = values_m.shape
    apart = values_m - np.median(values_m, axis=0)
    if count < FEWEST_POINTS:
        return np.zeros(count), float("nan"), OutlierBasis.NONE
    if not np.isnan(sigma_m).any():
        weighed = values_m / sigma_m
        weighed = weighed - np.median(weighed, axis=0)
        spread = NMAD_FACTOR * float(np.median(np.abs(weighed)))
        largest = np.interp(math.log(count), np.log(CALIBRATION[:, 0]), CALIBRATION[:, 4 + axes])
        if spread <= largest:
            return np.sqrt((weighed**2).sum(axis=1)), float("nan"), OutlierBasis.SIGMAS
    scale_m = NMAD_FACTOR * float(np.median(np.abs(apart)))
    if scale_m == 0.0:
        return np.zeros(count), 0.0, OutlierBasis.NONE
    return np.sqrt((apart**2).sum(axis=1)) / scale_m, scale_m, OutlierBasis.SPREAD


def _sentence(found: OutlierSearch) -> str:
    if found.basis is OutlierBasis.NONE:
        reason = (
            f"{checkpoints(found.count)} are too few" if found.count < FEWEST_POINTS else "half of them agree"
        )
        return f"No outlier can be told in the {found.direction} residuals: {reason}."
    unit = "NMADs" if found.basis is OutlierBasis.SPREAD else "declared standard deviations"
    rule = (
        f"beyond {found.threshold:.1f} {unit} from the median, which 5 % of clean sets of "
        f"{checkpoints(found.count)} have"
    )
    if not found.ids:
        return f"No {found.direction} residual stands out ({rule})."
    named = ", ".join(found.ids[:MOST_NAMED]) + (" …" if len(found.ids) > MOST_NAMED else "")
    return (
        f"{len(found.ids)} {found.direction} residual{'s stand' if len(found.ids) > 1 else ' stands'} out: "
        f"{named} ({rule}). The RMSE is {metres(found.rmse_m)} with and {metres(found.rmse_without_m)} "
        "without; a point is left out only for a reason other than its residual."
    )
