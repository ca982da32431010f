"""Whether checkpoints are independent of the product, and whether the result is too good to be true."""

import math
from collections.abc import Iterator, Mapping

import numpy as np
from scipy.special import fdtri

from geoqa.accuracy.limits import metres
from geoqa.accuracy.spread import nearest_distances
from geoqa.accuracy.survey_error import HEIGHT, PLAN, mean_variance
from geoqa.numerics.arrays import BoolArray
from geoqa.records.evidence import Direction, FitnessItem, Grade
from geoqa.records.points import Role
from geoqa.records.results import AccuracyStatistics, ComponentStatistics, ResidualSet

# Two points closer than this are one mark measured twice (judgement: targets are wider).
SAME_MARK_M = 0.10
MOST_NAMED = 8
_NO_CONTROL = (
    "Independence is not shown: no control points were named. Give the points that steered the processing "
    "the role “control” to have them compared."
)


def independence(
    residuals: ResidualSet, statistics: AccuracyStatistics, by_role: Mapping[str, AccuracyStatistics]
) -> Iterator[FitnessItem]:
    """Yield how checkpoints compare with control points and with the accuracy of the survey."""
    yield from _better_than_the_survey(residuals, statistics)
    control = by_role.get(Role.CONTROL)
    roles = np.array(residuals.groups.get("role", (None,) * len(residuals)), dtype=object)
    if not (roles == Role.CONTROL).any():
        yield FitnessItem("control points", None, None, None, "1", Grade.UNKNOWN, _NO_CONTROL)
        return
    yield _same_places(residuals, roles == Role.CONTROL)
    if control is not None:
        yield from _against_control(statistics, control)


def _parts(statistics: AccuracyStatistics) -> tuple[tuple[Direction, ComponentStatistics], ...]:
    return ("horizontal", statistics.horizontal), ("vertical", statistics.up)


def _better_than_the_survey(residuals: ResidualSet, statistics: AccuracyStatistics) -> Iterator[FitnessItem]:
    plan, height = residuals.horizontal.used, residuals.vertical.used
    location_m2 = mean_variance(residuals.sigma_product_m[plan, PLAN])
    variances = (
        mean_variance(residuals.sigma_survey_m[plan, PLAN]) + (0 if np.isnan(location_m2) else location_m2),
        mean_variance(residuals.sigma_survey_m[height, HEIGHT]),
    )
    for (direction, part), variance_m2 in zip(_parts(statistics), variances, strict=True):
        if part.count == 0:
            continue
        sigma_m, topic = math.sqrt(variance_m2), "better than the survey"
        if math.isnan(sigma_m):
            sentence = (
                f"Whether the {direction} result is better than the survey could show is not known: standard "
                "deviations are missing."
            )
            yield FitnessItem(topic, direction, None, None, "m", Grade.UNKNOWN, sentence)
            continue
        doubtful = part.rmse_upper95_m < sigma_m
        yield FitnessItem(
            topic, direction, part.rmse_upper95_m, sigma_m, "m",
            Grade.WEAK if doubtful else Grade.GOOD,
            _survey_words(direction, part, sigma_m, doubtful=doubtful),
        )  # fmt: skip


def _survey_words(direction: Direction, part: ComponentStatistics, sigma_m: float, *, doubtful: bool) -> str:
    found = f"The {direction} RMSE of {metres(part.rmse_m)}"
    scale = f"the stated standard deviations of survey and target location ({metres(sigma_m)})"
    if not doubtful:
        return f"{found} is not smaller than {scale} allow."
    return (
        f"{found} is better than {scale} could show, even at its 95 % upper bound of "
        f"{metres(part.rmse_upper95_m)}: "
        "the points were probably used as control, or the standard deviations are too large."
    )


def _same_places(residuals: ResidualSet, control: BoolArray) -> FitnessItem:
    """Return whether a checkpoint stands on a control point."""
    check = (residuals.horizontal.used | residuals.vertical.used) & ~control
    topic, plan_m = "checkpoints on control points", residuals.survey_m[:, :2]
    if not check.any():
        sentence = "No checkpoint counts beside the control points."
        return FitnessItem(topic, None, None, None, "m", Grade.UNKNOWN, sentence)
    rows, distances = nearest_distances(plan_m[check], plan_m[control])
    same = rows[distances < SAME_MARK_M]
    nearest_m = float(distances.min())
    if not len(same):
        sentence = f"No checkpoint stands on a control point; the nearest two are {nearest_m:.1f} m apart."
        return FitnessItem(topic, None, nearest_m, SAME_MARK_M, "m", Grade.GOOD, sentence)
    names = [residuals.ids[row] for row in np.flatnonzero(check)[same][:MOST_NAMED]]
    more = " …" if len(same) > MOST_NAMED else ""
    sentence = (
        f"{len(same)} checkpoint{'s stand' if len(same) > 1 else ' stands'} on a control point: "
        f"{', '.join(names)}{more}. What steered the product proves nothing about it."
    )
    return FitnessItem(topic, None, nearest_m, SAME_MARK_M, "m", Grade.WEAK, sentence)


def _against_control(statistics: AccuracyStatistics, control: AccuracyStatistics) -> Iterator[FitnessItem]:
    for (direction, check), (_, steering) in zip(_parts(statistics), _parts(control), strict=True):
        if check.count and steering.count and check.rmse_m > 0 and steering.rmse_m > 0:
            yield _ratio(direction, check, steering)


def _ratio(direction: Direction, check: ComponentStatistics, steering: ComponentStatistics) -> FitnessItem:
    """Return the ratio of both RMSEs, held against the F distribution at 5 %, either side alone."""
    ratio = check.rmse_m / steering.rmse_m
    larger = math.sqrt(fdtri(check.freedom, steering.freedom, 0.95))
    smaller = math.sqrt(fdtri(check.freedom, steering.freedom, 0.05))
    found = (
        f"The {direction} RMSE of the checkpoints is {ratio:.2f} times that of {steering.count} control "
        f"point{'' if steering.count == 1 else 's'}"
    )
    if ratio > larger:
        words = "more than chance allows: the product fits its control better than the ground between"
    elif ratio < smaller:
        words = "less than chance allows: odd for points that did not steer the product"
    else:
        words = "which chance allows"
    grade = Grade.WEAK if ratio < smaller else Grade.GOOD
    return FitnessItem(
        "checkpoints against control", direction, ratio, larger, "1", grade, f"{found}, {words}."
    )
