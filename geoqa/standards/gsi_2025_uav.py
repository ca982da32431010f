"""Japan, Rules of Operation for Public Surveys 2025: point clouds from UAV photogrammetry."""

import math
from collections.abc import Iterator

import numpy as np

from geoqa.accuracy.judging import Rule, met
from geoqa.accuracy.limits import checkpoints, metres
from geoqa.accuracy.options import Option, read_options
from geoqa.accuracy.survey_error import HEIGHT, PLAN, survey_rmse
from geoqa.numerics.arrays import FloatArray
from geoqa.records.points import Role
from geoqa.records.results import Judgement
from geoqa.standards import Standard, StandardCase, StandardRequest

ID = "gsi-2025-uav"
SOURCE = (
    "Geospatial Information Authority of Japan, Rules of Operation for Public Surveys (sagyo kitei no "
    "junsoku), 2025. Read: articles 412, 413, 415, 416 and 429; the wording of the statements here is not "
    "the authority's."
)
# [GSI2025], article 412 and 429: classes, metres.
CLASSES_M = (0.05, 0.10, 0.20)
# [GSI2025], article 415: largest standard deviation of a checkpoint, plan and height, metres.
SURVEY_SIGMA_M = 0.1
# [GSI2025], article 413: checkpoints for each control point, rounded up.
CHECKPOINTS_PER_CONTROL = 0.5

OPTIONS = (Option("class_m", "Class of the point cloud", "m", choices=CLASSES_M),)

_HEIGHTS = (
    "The rule takes the height of the point cloud by inverse distance from the points within 15 cm; here it "
    "is read from the elevation raster between four cells."
)


def judge(case: StandardCase, request: StandardRequest) -> tuple[Judgement, ...]:
    """Return the largest difference of each component against the class, and the number of checkpoints.

    Every checkpoint keeps the class in every component; there is no statistic. Without a class the
    smallest one that all of them keep is named.
    """
    class_m = read_options(ID, request.options, OPTIONS).get("class_m")
    plan_m = case.residuals.used_horizontal_m
    survey = _survey(case)
    return (
        _component("X (north)", plan_m[:, 1], class_m, survey),
        _component("Y (east)", plan_m[:, 0], class_m, survey),
        _component("Z", case.residuals.used_vertical_m, class_m, (*survey, _HEIGHTS)),
        *_number(case),
    )


def _component(name: str, values_m: FloatArray, class_m: float | None, caveats: tuple[str, ...]) -> Judgement:
    rule = Rule(ID, "articles 412 and 429", f"largest difference in {name}")
    largest_m = float(np.abs(values_m).max()) if len(values_m) else float("nan")
    found = f"The largest of {len(values_m)} differences in {name} is {metres(largest_m, class_m)}"
    if class_m is None:
        kept = [metres(limit_m) for limit_m in CLASSES_M if met(largest_m, limit_m)]
        sentence = f"{found}; the smallest class that it keeps is {kept[0] if kept else 'none of the three'}."
    else:
        beyond = sum(not met(float(abs(value)), class_m) for value in values_m)
        relation = "all keep" if beyond == 0 else f"{beyond} do not keep"
        sentence = f"{found}; {relation} the class of {metres(class_m)}."
    return rule.judged(largest_m, class_m, sentence, count=len(values_m), caveats=caveats)


def _survey(case: StandardCase) -> tuple[str, ...]:
    """Return a caveat on the accuracy of the checkpoints where it is too low or not known."""
    rows = case.residuals.horizontal.used | case.residuals.vertical.used
    sigma_m = [survey_rmse(case.residuals, rows, columns) for columns in (PLAN, HEIGHT)]
    if any(math.isnan(value) for value in sigma_m):
        return (
            "The rule wants a standard deviation of the checkpoints within 0.1 m; it did not come with all.",
        )
    if max(sigma_m) > SURVEY_SIGMA_M:
        return (
            f"The standard deviation of the checkpoints, {metres(max(sigma_m))}, is above the 0.1 m allowed.",
        )
    return ()


def _number(case: StandardCase) -> Iterator[Judgement]:
    roles = case.residuals.groups.get("role", ())
    control = sum(role == Role.CONTROL for role in roles)
    count = int((case.residuals.horizontal.used & case.residuals.vertical.used).sum())
    rule = Rule(ID, "article 413", "missing checkpoints", "1")
    if not control or not count:
        return
    least = math.ceil(CHECKPOINTS_PER_CONTROL * control)
    sentence = (
        f"{checkpoints(count)} in plan and height for {control} control points; the rule asks for {least}."
    )
    yield rule.judged(float(max(0, least - count)), 0.0, sentence, count=count)


STANDARD = Standard(
    id=ID,
    title="Japan, Rules of Operation for Public Surveys 2025, UAV photogrammetric point clouds",
    source=SOURCE,
    judge=judge,
    options=OPTIONS,
)
