"""USGS Lidar Base Specification 2025 rev. A: quality levels of elevation products."""

import math

import numpy as np

from geoqa.accuracy.distribution import sparse_quadrants
from geoqa.accuracy.judging import Rule, met
from geoqa.accuracy.limits import centimetres, metres
from geoqa.accuracy.options import Option, read_options
from geoqa.accuracy.survey_error import HEIGHT, survey_rmse
from geoqa.numerics.arrays import BoolArray
from geoqa.records.results import Judgement, UseReason
from geoqa.standards import Standard, StandardCase, StandardRequest

ID = "usgs-lbs-2025"
SOURCE = (
    "U.S. Geological Survey, Lidar Base Specification 2025 rev. A, National Geospatial Program. Read: "
    "revision notes, glossary, tables of absolute and relative accuracy, checkpoint distribution. From "
    "memory: the formula that puts the survey error in quadrature."
)
# [USGS-LBS2025], absolute vertical accuracy: largest RMSE_V of non-vegetated ground, metres.
LIMITS_M = {"QL0": 0.05, "QL1": 0.10, "QL2": 0.10, "QL3": 0.20}
# [USGS-LBS2025], relative vertical accuracy: smooth surface, overlap; metres.
RELATIVE_M = {"QL0": (0.03, 0.04), "QL1": (0.06, 0.08), "QL2": (0.06, 0.08), "QL3": (0.12, 0.16)}
# [USGS-LBS2025], checkpoints: fewest for either kind of ground, least share in each quarter.
FEWEST_CHECKPOINTS, QUADRANT_SHARE = 30, 0.20

OPTIONS = (Option("level", "Quality level", choices=tuple(LIMITS_M)),)

_VEGETATED = "The specification wants the vegetated accuracy reported; it sets no limit for it."


def judge(case: StandardCase, request: StandardRequest) -> tuple[Judgement, ...]:
    """Return RMSE_V of non-vegetated ground against the level asked for, and that of vegetated ground.

    Without a level the best one that the figure reaches is named.
    """
    level = read_options(ID, request.options, OPTIONS).get("level")
    used = case.residuals.vertical.used
    rows = [reason is UseReason.VEGETATED for reason in case.residuals.vertical.reasons]
    judgements = [_non_vegetated(case, level, used)]
    if case.vegetated is not None and case.vegetated.up.count:
        judgements.append(_vegetated(case, np.array(rows, dtype=bool), case.vegetated.up.rmse_m))
    return tuple(judgements)


def _with_survey(case: StandardCase, rows: BoolArray, fit_m: float) -> tuple[float, str]:
    """Return fit and survey error in quadrature, and a sentence on what is in the figure."""
    survey_m = survey_rmse(case.residuals, rows, HEIGHT)
    if math.isnan(survey_m):
        return fit_m, (
            "The accuracy of the checkpoint survey is not in this figure, though the specification asks for "
            "it: not every point came with its standard deviation."
        )
    return math.hypot(fit_m, survey_m), (
        f"The accuracy of the checkpoint survey, {metres(survey_m)}, is in this figure in quadrature "
        f"(formula from memory); the fit alone is {metres(fit_m)}."
    )


def _non_vegetated(case: StandardCase, level: str | None, rows: BoolArray) -> Judgement:
    part = case.statistics.up
    value_m, survey = _with_survey(case, rows, part.rmse_m)
    limit_m = None if level is None else LIMITS_M[level]
    found = f"NVA: RMSE_V = {centimetres(value_m, limit_m)}"
    if level is None:
        reached = [name for name, largest_m in LIMITS_M.items() if met(value_m, largest_m)]
        sentence = f"{found}, which keeps the limit of {', '.join(reached) or 'no quality level'}."
    else:
        relation = "meets" if met(value_m, limit_m) else "does not meet"
        sentence = f"{found} {relation} the {centimetres(LIMITS_M[level])} of {level}."
    sparse = sparse_quadrants(case.residuals.survey_m[rows, :2], case.mapped_area_m, QUADRANT_SHARE)
    relative = None if level is None else _relative(level)
    caveats = tuple(caveat for caveat in (survey, sparse, relative) if caveat)
    rule = Rule(ID, "absolute vertical accuracy", "RMSE_V (NVA)", "m", FEWEST_CHECKPOINTS)
    return rule.judged(value_m, limit_m, sentence, count=part.count, caveats=caveats)


def _vegetated(case: StandardCase, rows: BoolArray, fit_m: float) -> Judgement:
    value_m, survey = _with_survey(case, rows, fit_m)
    rule = Rule(ID, "absolute vertical accuracy", "RMSE_V (VVA)", "m", FEWEST_CHECKPOINTS)
    sentence = f"VVA: RMSE_V = {centimetres(value_m)}. {_VEGETATED}"
    return rule.judged(value_m, None, sentence, count=int(rows.sum()), caveats=(survey,))


def _relative(level: str) -> str:
    smooth_m, overlap_m = RELATIVE_M[level]
    return (
        f"{level} also asks for {centimetres(smooth_m)} on smooth surfaces and {centimetres(overlap_m)} "
        "between overlapping swaths, which checkpoints cannot show."
    )


STANDARD = Standard(
    id=ID,
    title="USGS Lidar Base Specification 2025 rev. A",
    source=SOURCE,
    judge=judge,
    options=OPTIONS,
)
