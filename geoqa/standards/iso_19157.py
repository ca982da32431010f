"""ISO 19157:2013, data quality measures of positional accuracy, by identifier."""

import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from geoqa.accuracy.judging import Rule, counted, percent_beyond, plan_lengths
from geoqa.accuracy.limits import metres
from geoqa.accuracy.options import Option, read_options
from geoqa.accuracy.survey_error import HEIGHT, PLAN, survey_rmse
from geoqa.numerics.arrays import FloatArray
from geoqa.numerics.biased_error import circular_error_90, linear_error_90
from geoqa.numerics.circular_error import circular_error, principal_rms
from geoqa.records.results import ComponentStatistics, Judgement
from geoqa.standards import Standard, StandardCase, StandardRequest

ID = "iso-19157"
SOURCE = (
    "ISO 19157:2013, Geographic information – Data quality, annex D: measures 28 to 51 and 128. Not read in "
    "the original: identifiers and names as listed in the documentation of GeoAPI 3.1, formulas of measures "
    "39 and 47 as pictured in the INSPIRE technical guidelines; all other formulas are from memory."
)
# [ISO19157], factors on the standard deviation of one axis, from memory; all but the last agree with
# the normal distribution, whose 99.8 % is 3.0902.
LINEAR = (
    (33, "LE50", 0.6745),
    (34, "LE68.3", 1.0),
    (35, "LE90", 1.6449),
    (36, "LE95", 1.960),
    (37, "LE99", 2.576),
    (38, "LE99.8", 3.0),
)
# [ISO19157], factors on sqrt((s_x² + s_y²) / 2), from memory, and the shares they stand for.
CIRCULAR = (
    (42, "CE39.4", 1.0, 0.394),
    (43, "CE50", 1.1774, 0.50),
    (44, "CE90", 2.1460, 0.90),
    (45, "CE95", 2.4477, 0.95),
    (46, "CE99.8", 3.5, 0.998),
)

OPTIONS = (Option("threshold_m", "Parameter e_max of measures 30 and 31", "m"),)


def judge(case: StandardCase, request: StandardRequest) -> tuple[Judgement, ...]:
    """Return the measures that can be had; the standard sets no limits.

    LE and CE take the root mean square about zero for the sigma of their axes: a bias is in them.
    Measures 41, 49 and 51 are left out: the formulas of the first two are not known here.
    """
    options = read_options(ID, request.options, OPTIONS)
    figures, residuals = case.statistics, case.residuals
    plan_m = residuals.used_horizontal_m
    sizes = (("horizontal", plan_lengths(plan_m)), ("vertical", np.abs(residuals.used_vertical_m)))
    return (
        *_biases((figures.east, figures.north, figures.up)),
        *(judgement for name, size_m in sizes for judgement in _sizes(name, size_m, options)),
        *_root_mean_squares(case),
        *_linear(figures.up),
        *_circular(plan_m),
        *_biased(case),
        *_ellipse(plan_m),
    )


def _rule(number: int, name: str, unit: str = "m", *, from_memory: bool = False) -> Rule:
    return Rule(ID, f"measure {number}", f"{name} (measure {number})", unit, from_memory=from_memory)


def _biases(parts: tuple[ComponentStatistics, ...]) -> Iterator[Judgement]:
    for part in parts:
        rule = _rule(128, f"bias of positions, {part.component}")
        yield rule.judged(
            part.mean_m, None, f"Signed mean {part.component}: {part.mean_m:+.3f} m.", count=part.count
        )


def _sizes(direction: str, size_m: FloatArray, options: dict[str, Any]) -> Iterator[Judgement]:
    count = len(size_m)
    mean_m = float(size_m.mean()) if count else float("nan")
    rule = _rule(28, f"mean value of positional uncertainties, {direction}", from_memory=True)
    yield rule.judged(
        mean_m, None, f"Mean size of the {direction} errors, without sign: {metres(mean_m)}.", count=count
    )
    if "threshold_m" in options:
        limit_m = options["threshold_m"]
        share = percent_beyond(size_m, limit_m)
        words = f"{counted(size_m, limit_m)} have a {direction} error above {metres(limit_m)}."
        for number, name, value, unit in (
            (30, "number of positional uncertainties above a given threshold", share * count / 100, "1"),
            (31, "rate of positional uncertainties above a given threshold", share, "%"),
        ):
            yield _rule(number, f"{name}, {direction}", unit).judged(value, None, words, count=count)


def _root_mean_squares(case: StandardCase) -> Iterator[Judgement]:
    figures = case.statistics
    for part in (figures.east, figures.north, figures.up):
        words = f"RMSE {part.component}: {metres(part.rmse_m)}."
        yield _rule(39, f"root mean square error, {part.component}").judged(
            part.rmse_m, None, words, count=part.count
        )
    part = figures.horizontal
    words = f"RMSEP: {metres(part.rmse_m)}, the root of the mean of dx² + dy²."
    yield _rule(47, "root mean square error of planimetry").judged(part.rmse_m, None, words, count=part.count)


def _linear(part: ComponentStatistics) -> Iterator[Judgement]:
    for number, name, factor in LINEAR:
        value_m = factor * part.rmse_m
        rule = _rule(number, f"{name}, vertical", from_memory=True)
        yield rule.judged(
            value_m, None, f"{name}: {metres(value_m)}, {factor:g} times RMSE_z.", count=part.count
        )


def _circular(plan_m: FloatArray) -> Iterator[Judgement]:
    count = len(plan_m)
    axes = principal_rms(plan_m) if count else (float("nan"), float("nan"))
    sigma_m = float(np.sqrt((axes[0] ** 2 + axes[1] ** 2) / 2))
    for number, name, factor, share in CIRCULAR:
        value_m = factor * sigma_m
        exact_m = circular_error(share, *axes) if count else float("nan")
        caveat = (
            f"For axes of {metres(axes[0])} and {metres(axes[1])} the circle that holds {100 * share:g} % "
            f"has a radius of {metres(exact_m, value_m)} by exact integration; the formula takes them for "
            "equal."
        )
        rule = _rule(number, f"{name}, horizontal", from_memory=True)
        yield rule.judged(value_m, None, f"{name}: {metres(value_m)}.", count=count, caveats=(caveat,))


def _biased(case: StandardCase) -> Iterator[Judgement]:
    """Yield measures 40 and 48, with the variance of the survey in that of the errors where it is known."""
    figures, residuals = case.statistics, case.residuals
    survey_m = survey_rmse(residuals, residuals.vertical.used, HEIGHT)
    spread_m, words = _with_survey(figures.up.std_m, survey_m)
    value_m = linear_error_90(figures.up.mean_m, spread_m) if spread_m > 0 else float("nan")
    rule = _rule(40, "absolute linear error at 90 % of biased vertical data", from_memory=True)
    sentence = f"LMAS: {metres(value_m)}."
    yield rule.judged(value_m, None, sentence, count=figures.up.count, caveats=(words,))
    survey_m = survey_rmse(residuals, residuals.horizontal.used, PLAN) / math.sqrt(2)
    axes_m = math.sqrt((figures.east.std_m**2 + figures.north.std_m**2) / 2)
    spread_m, words = _with_survey(axes_m, survey_m)
    length_m = math.hypot(figures.east.mean_m, figures.north.mean_m)
    value_m = circular_error_90(length_m, spread_m) if spread_m > 0 else float("nan")
    rule = _rule(48, "absolute circular error at 90 % of biased data", from_memory=True)
    sentence = f"CMAS: {metres(value_m)}."
    yield rule.judged(value_m, None, sentence, count=figures.east.count, caveats=(words,))


def _with_survey(spread_m: float, survey_m: float) -> tuple[float, str]:
    if math.isnan(survey_m):
        return spread_m, "The error of the survey is not in this figure: standard deviations are missing."
    return math.hypot(spread_m, survey_m), f"The error of the survey, {metres(survey_m)}, is in this figure."


def _ellipse(plan_m: FloatArray) -> Iterator[Judgement]:
    count = len(plan_m)
    if count < 2:
        return
    covariance = np.cov(plan_m.T)
    variances, axes = np.linalg.eigh(covariance)
    small_m, large_m = np.sqrt(np.clip(variances, 0.0, None))
    azimuth = float(np.degrees(np.arctan2(axes[0, 1], axes[1, 1])) % 180)
    rows = [f"{value:.3e}" for value in (covariance[0, 0], covariance[0, 1], covariance[1, 1])]
    words = f"Covariance matrix about the mean, m²: east {rows[0]}, east-north {rows[1]}, north {rows[2]}."
    yield _rule(32, "covariance matrix, east variance", "m²").judged(
        float(covariance[0, 0]), None, words, count=count
    )
    words = (
        f"Uncertainty ellipse about the mean, one sigma: semi-axes {metres(float(large_m))} and "
        f"{metres(float(small_m))}, the major one at {azimuth:.0f}° from north."
    )
    rule = _rule(50, "uncertainty ellipse, major semi-axis", from_memory=True)
    yield rule.judged(float(large_m), None, words, count=count)


STANDARD = Standard(
    id=ID,
    title="ISO 19157:2013, measures of positional accuracy",
    source=SOURCE,
    judge=judge,
    options=OPTIONS,
)
