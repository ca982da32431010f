"""ASPRS Accuracy Standards for Large-Scale Maps, 1990."""

from dataclasses import dataclass

import numpy as np

from geoqa.accuracy.judging import Rule, met
from geoqa.accuracy.limits import metres, within_limit
from geoqa.accuracy.options import Option, read_options
from geoqa.numerics.arrays import FloatArray
from geoqa.records.results import ComponentStatistics, Judgement
from geoqa.standards import Standard, StandardCase, StandardRequest

ID = "asprs-1990"
SOURCE = (
    "American Society for Photogrammetry and Remote Sensing, ASPRS Accuracy Standards for Large-Scale Maps, "
    "approved March 1990. Not read: limits, counts and wording are from memory."
)
# [ASPRS1990], from memory: limiting RMSE of either axis on a class 1 map, metres of paper.
LIMITING_RMSE_M = 0.25e-3
# [ASPRS1990], from memory: limiting RMSE_z of class 1, in contour intervals.
CONTOUR_SHARES = {"well-defined": 1 / 3, "spot": 1 / 6}
# [ASPRS1990], from memory: fewest check points; a blunder is larger than this many limiting RMSEs.
FEWEST_CHECKPOINTS, BLUNDER_FACTOR = 20, 3
# [ASPRS1990], from memory: the statement on the map.
_CONFORMS = (
    "This map was checked and found to conform to the ASPRS standard for Class {map_class} map accuracy"
)

OPTIONS = (
    Option("scale", "Scale number of the map, 500 for 1:500", required=True),
    Option("class", "Map class; class 2 has twice the limits, class 3 three times", choices=(1, 2, 3)),
    Option("contour_interval_m", "Contour interval; without it heights are not judged", "m"),
    Option("heights", "What the heights are", choices=tuple(CONTOUR_SHARES)),
)


@dataclass(frozen=True)
class _Axis:
    name: str
    part: ComponentStatistics
    values_m: FloatArray
    limit_m: float


def judge(case: StandardCase, request: StandardRequest) -> tuple[Judgement, ...]:
    """Return RMSE_x, RMSE_y and, with a contour interval, RMSE_z against the limits of the class."""
    options = read_options(ID, request.options, OPTIONS)
    map_class = int(options.get("class", 1))
    limit_m = LIMITING_RMSE_M * options["scale"] * map_class
    plan_m = case.residuals.used_horizontal_m
    axes = [
        _Axis("x", case.statistics.east, plan_m[:, 0], limit_m),
        _Axis("y", case.statistics.north, plan_m[:, 1], limit_m),
    ]
    if "contour_interval_m" in options:
        share = CONTOUR_SHARES[options.get("heights", "well-defined")]
        limit_m = options["contour_interval_m"] * share * map_class
        axes.append(_Axis("z", case.statistics.up, case.residuals.used_vertical_m, limit_m))
    return tuple(_judged(axis, map_class) for axis in axes)


def _judged(axis: _Axis, map_class: int) -> Judgement:
    rule = Rule(ID, "limiting RMSE", f"RMSE_{axis.name}", "m", FEWEST_CHECKPOINTS, from_memory=True)
    value_m, limit_m = axis.part.rmse_m, axis.limit_m
    found = f"RMSE_{axis.name} = {metres(value_m, limit_m)}, limiting RMSE {metres(limit_m)}"
    if met(value_m, limit_m):
        sentence = f"{_CONFORMS.format(map_class=map_class)}: {found}."
    else:
        sentence = f"The map does not conform to Class {map_class}: {found}."
    return rule.judged(value_m, limit_m, sentence, count=axis.part.count, caveats=_blunders(axis))


def _blunders(axis: _Axis) -> tuple[str, ...]:
    largest = BLUNDER_FACTOR * axis.limit_m
    count = int(np.count_nonzero([not within_limit(abs(value), largest) for value in axis.values_m]))
    if not count:
        return ()
    return (
        f"{count} of them exceed {metres(largest)}, {BLUNDER_FACTOR} times the limiting RMSE, which the "
        "standard takes for blunders to be corrected; they are in the figure.",
    )


STANDARD = Standard(
    id=ID,
    title="ASPRS Accuracy Standards for Large-Scale Maps, 1990",
    source=SOURCE,
    judge=judge,
    options=OPTIONS,
)
