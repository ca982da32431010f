"""ASPRS Positional Accuracy Standards for Digital Geospatial Data, Edition 1."""

import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from geoqa.accuracy.bias import significance
from geoqa.accuracy.distribution import area_km2
from geoqa.accuracy.judging import Rule, met
from geoqa.accuracy.limits import centimetres, metres, within_limit
from geoqa.accuracy.options import Option, read_options
from geoqa.accuracy.survey_error import HEIGHT, PLAN, survey_rmse
from geoqa.numerics.quantiles import absolute_quantile
from geoqa.records.results import ComponentStatistics, Judgement, UseReason
from geoqa.standards import Standard, StandardCase, StandardRequest

ID = "asprs-2014"
EDITION = "ASPRS Positional Accuracy Standards for Digital Geospatial Data (2014)"
SOURCE = (
    "American Society for Photogrammetry and Remote Sensing, Positional Accuracy Standards for Digital "
    "Geospatial Data, Edition 1, Version 1.0 (November 2014), Photogrammetric Engineering & Remote Sensing "
    "81(3), A1-A26. Not read: limits, factors, counts and wording are from memory; that the checkpoints are "
    "to be three times as accurate is quoted in a public course page."
)
# [ASPRS2014], from memory: factors of the 95 % confidence level.
FACTOR_RADIAL, FACTOR_VERTICAL = 1.7308, 1.9600
# [ASPRS2014], from memory: the vegetated 95th percentile may be this many times the class.
VEGETATED_FACTOR, VEGETATED_PERCENTILE = 3.0, 95
# [ASPRS2014], from memory: mean errors above this share of the RMSE are to be looked into.
MEAN_ERROR_SHARE = 0.25
# [ASPRS2014], quoted: the checkpoints are at least this many times as accurate as the product.
SURVEY_TIMES_BETTER = 3
# [ASPRS2014], table C.1, from memory: area up to, km²; horizontal; non-vegetated; vegetated checkpoints.
CHECKPOINTS = (
    (500, 20, 20, 5),
    (750, 25, 20, 10),
    (1000, 30, 25, 15),
    (1250, 35, 30, 20),
    (1500, 40, 35, 25),
    (1750, 45, 40, 30),
    (2000, 50, 45, 35),
    (2250, 55, 50, 40),
    (2500, 60, 55, 45),
)
# [ASPRS2014], reporting, from memory.
_TESTED = f"This data set was tested to meet {EDITION} for a {{limit}} {{symbol}} {{what}} Accuracy Class. "
_MISSED = (
    f"This data set was tested by {EDITION} and does not meet a {{limit}} {{symbol}} {{what}} "
    "Accuracy Class. "
)
_STATED = f"This data set was tested by {EDITION}. "

OPTIONS = (
    Option("horizontal_class_m", "Horizontal class: largest RMSE_x and RMSE_y", "m"),
    Option("vertical_class_m", "Vertical class: largest RMSE_z", "m"),
)


def judge(case: StandardCase, request: StandardRequest) -> tuple[Judgement, ...]:
    """Return RMSE_x, RMSE_y, RMSE_z, the figures at 95 %, the vegetated percentile and the mean errors.

    The horizontal class holds for either axis. Without the option it is a limit of the requirement
    for each axis, or a radial one divided by √2, which a caveat says; the vertical class is the
    vertical limit.
    """
    options = read_options(ID, request.options, OPTIONS)
    plan_m, derived = _horizontal_class(options, request)
    height_m = options.get("vertical_class_m", request.vertical_rmse_m)
    return (
        *_horizontal(case, plan_m, derived),
        *_vertical(case, height_m),
        *_mean_errors(case, plan_m, height_m),
    )


def checkpoints_required(area: float) -> tuple[int, int, int]:
    """Return how many horizontal, non-vegetated and vegetated checkpoints an area in km² takes.

    Areas beyond the table take its last row: the rule for them is not known here.

    Examples
    --------
    >>> checkpoints_required(0.09), checkpoints_required(501.0)
    ((20, 20, 5), (25, 20, 10))
    """
    row = next((row for row in CHECKPOINTS if area <= row[0]), CHECKPOINTS[-1])
    return row[1:]


def _horizontal_class(
    options: dict[str, Any], request: StandardRequest
) -> tuple[float | None, tuple[str, ...]]:
    given_m = options.get("horizontal_class_m", request.axis_rmse_m)
    if given_m is not None or request.horizontal_rmse_m is None:
        return given_m, ()
    limit_m = request.horizontal_rmse_m / math.sqrt(2)
    caveat = (
        f"Edition 1 classes each axis: the class of {metres(limit_m)} is the radial limit of "
        f"{metres(request.horizontal_rmse_m)} divided by √2."
    )
    return limit_m, (caveat,)


def _horizontal(case: StandardCase, limit_m: float | None, derived: tuple[str, ...]) -> Iterator[Judgement]:
    figures = case.statistics
    required = checkpoints_required(area_km2(case.mapped_area_m))[0]
    both = f"RMSE_x = {centimetres(figures.east.rmse_m)} and RMSE_y = {centimetres(figures.north.rmse_m)}"
    circle_m = FACTOR_RADIAL * figures.horizontal.rmse_m
    found = (
        f"Actual positional accuracy was found to be {both} which equates to Positional Horizontal Accuracy "
        f"= +/- {centimetres(circle_m)} at 95% confidence level."
    )
    missed = not (met(figures.east.rmse_m, limit_m) and met(figures.north.rmse_m, limit_m))
    sentence = _opening(limit_m, "RMSE_x / RMSE_y", "Horizontal", missed=missed) + found
    caveats = (*derived, *_survey(case, case.residuals.horizontal.used, PLAN, limit_m))
    for axis, part in (("x", figures.east), ("y", figures.north)):
        rule = Rule(ID, "horizontal accuracy", f"RMSE_{axis}", "m", required, from_memory=True)
        yield rule.judged(part.rmse_m, limit_m, sentence, count=part.count, caveats=caveats)
    rule = Rule(ID, "accuracy at 95 %", "horizontal accuracy at 95 %", "m", required, from_memory=True)
    yield rule.judged(circle_m, None, found, count=figures.horizontal.count)


def _vertical(case: StandardCase, limit_m: float | None) -> Iterator[Judgement]:
    required = checkpoints_required(area_km2(case.mapped_area_m))
    part = case.statistics.up
    at_95_m = FACTOR_VERTICAL * part.rmse_m
    found = (
        f"Actual NVA accuracy was found to be RMSE_z = {centimetres(part.rmse_m, limit_m)}, equating to +/- "
        f"{centimetres(at_95_m)} at 95% confidence level."
    )
    sentence = _opening(limit_m, "RMSE_z", "Vertical", missed=not met(part.rmse_m, limit_m)) + found
    rule = Rule(ID, "vertical accuracy", "RMSE_z (NVA)", "m", required[1], from_memory=True)
    caveats = _survey(case, case.residuals.vertical.used, HEIGHT, limit_m)
    yield rule.judged(part.rmse_m, limit_m, sentence, count=part.count, caveats=caveats)
    rule = Rule(ID, "accuracy at 95 %", "vertical accuracy at 95 % (NVA)", "m", required[1], from_memory=True)
    yield rule.judged(at_95_m, None, found, count=part.count)
    rows = [reason is UseReason.VEGETATED for reason in case.residuals.vertical.reasons]
    values_m = case.residuals.delta_m[np.array(rows, dtype=bool), 2]
    values_m = values_m[np.isfinite(values_m)]
    if len(values_m):
        percentile_m = absolute_quantile(values_m, VEGETATED_PERCENTILE / 100)
        largest_m = None if limit_m is None else VEGETATED_FACTOR * limit_m
        words = (
            f"Actual VVA accuracy was found to be +/- {centimetres(percentile_m, largest_m)} at the 95th "
            "percentile."
        )
        rule = Rule(ID, "vertical accuracy", "95th percentile (VVA)", "m", required[2], from_memory=True)
        yield rule.judged(percentile_m, largest_m, words, count=len(values_m))


def _opening(limit_m: float | None, symbol: str, what: str, *, missed: bool) -> str:
    if limit_m is None:
        return _STATED
    return (_MISSED if missed else _TESTED).format(limit=centimetres(limit_m), symbol=symbol, what=what)


def _survey(case: StandardCase, rows: Any, columns: slice, limit_m: float | None) -> tuple[str, ...]:
    """Return a caveat where the survey is not as accurate as asked for, or not known to be."""
    radial = math.sqrt(2) if columns == PLAN else 1.0
    survey_m = survey_rmse(case.residuals, rows, columns) / radial
    if limit_m is None:
        return ()
    if math.isnan(survey_m):
        return (
            "Whether the checkpoints are three times as accurate is not known: standard deviations are "
            "missing.",
        )
    if within_limit(SURVEY_TIMES_BETTER * survey_m, limit_m):
        return ()
    return (
        f"The checkpoints are to be {SURVEY_TIMES_BETTER} times as accurate as the class of "
        f"{metres(limit_m)}; their standard deviation is {metres(survey_m)} per axis.",
    )


def _mean_errors(case: StandardCase, plan_m: float | None, height_m: float | None) -> Iterator[Judgement]:
    figures = case.statistics
    for part, target_m in ((figures.east, plan_m), (figures.north, plan_m), (figures.up, height_m)):
        if part.count:
            yield _mean_error(part, target_m)


def _mean_error(part: ComponentStatistics, target_m: float | None) -> Judgement:
    limit_m = None if target_m is None else MEAN_ERROR_SHARE * target_m
    rule = Rule(ID, "mean error", f"mean error {part.component}", from_memory=True)
    against = "" if limit_m is None else f", against {metres(limit_m)}, a quarter of the class"
    sentence = f"The mean error {part.component} is {part.mean_m:+.3f} m{against}."
    chance = significance(part)
    caveats = () if chance is None else (chance,)
    return rule.judged(abs(part.mean_m), limit_m, sentence, count=part.count, caveats=caveats)


STANDARD = Standard(
    id=ID,
    title="ASPRS Positional Accuracy Standards for Digital Geospatial Data, Edition 1 (2014)",
    source=SOURCE,
    judge=judge,
    options=OPTIONS,
)
