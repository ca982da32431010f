"""Robust accuracy measures for elevation models after Höhle and Höhle, 2009."""

from collections.abc import Iterator

import numpy as np

from geoqa.accuracy.judging import Rule
from geoqa.accuracy.limits import metres
from geoqa.accuracy.options import read_options
from geoqa.accuracy.statistics import normalised_deviation
from geoqa.numerics.arrays import FloatArray
from geoqa.numerics.quantiles import Interval, absolute_quantile, order_interval
from geoqa.records.results import Judgement
from geoqa.standards import Standard, StandardCase, StandardRequest

ID = "hoehle-2009"
SOURCE = (
    "J. Höhle and M. Höhle, Accuracy assessment of digital elevation models by means of robust statistical "
    "methods, ISPRS Journal of Photogrammetry and Remote Sensing 64 (2009), 398-406. Definitions from "
    "memory, in agreement with secondary texts."
)
# [Hoehle2009], from memory: what the table of the usual measures leaves out, in RMSEs.
OUTLIER_RMSE = 3.0
_INTERVAL = (
    "The interval is that of order statistics. The paper draws it by the bootstrap; no random numbers are "
    "drawn here, so that equal input gives equal results."
)
_QUANTILE = (
    "The quantile is linear between ranks, rank P(n − 1) + 1; of few points it lies between the two largest."
)


def judge(case: StandardCase, request: StandardRequest) -> tuple[Judgement, ...]:
    """Return median, NMAD and two quantiles of the absolute height errors; nothing is judged."""
    read_options(ID, request.options, ())
    return tuple(_measures(case.residuals.used_vertical_m))


def _measures(values_m: FloatArray) -> Iterator[Judgement]:
    sizes_m = np.abs(values_m)
    median_m = float(np.median(values_m)) if len(values_m) else float("nan")
    yield _stated("median of the height errors", values_m, median_m, (_bounded(values_m, 0.5), _INTERVAL))
    nmad_m = normalised_deviation(values_m)
    yield _stated(
        "NMAD of the height errors", values_m, nmad_m, ("1.4826 times the median deviation from the median.",)
    )
    for percent in (68.3, 95.0):
        value_m = absolute_quantile(values_m, percent / 100)
        caveats = (_bounded(sizes_m, percent / 100), _INTERVAL, _QUANTILE)
        yield _stated(f"{percent:g} % quantile of the absolute height errors", values_m, value_m, caveats)
    yield _outliers(values_m)


def _stated(quantity: str, values_m: FloatArray, value_m: float, caveats: tuple[str, ...]) -> Judgement:
    rule = Rule(ID, "table of robust measures", quantity, from_memory=True)
    sentence = f"The {quantity} is {metres(value_m)}; the paper sets no limit."
    return rule.judged(value_m, None, sentence, count=len(values_m), caveats=caveats)


def _bounded(values_m: FloatArray, probability: float) -> str:
    low_m, high_m = _ends(order_interval(values_m, probability))
    return f"95 % interval from {low_m} to {high_m}."


def _ends(interval: Interval) -> tuple[str, str]:
    low_m, high_m = (
        "an end that so few points cannot bound" if np.isnan(end) else metres(end) for end in interval
    )
    return low_m, high_m


def _outliers(values_m: FloatArray) -> Judgement:
    rule = Rule(ID, "table of the usual measures", "height errors beyond 3 RMSE", "1", from_memory=True)
    rmse_m = float(np.sqrt(np.mean(values_m**2))) if len(values_m) else float("nan")
    beyond = np.abs(values_m) > OUTLIER_RMSE * rmse_m
    rest = values_m[~beyond]
    limit = metres(OUTLIER_RMSE * rmse_m)
    sentence = f"{int(beyond.sum())} of {len(values_m)} height errors are larger than 3 RMSE, {limit}"
    if len(rest) > 1 and beyond.any():
        spread_m = float(rest.std(ddof=1))
        sentence += (
            f"; without them the mean is {rest.mean():+.3f} m and the standard deviation {metres(spread_m)}"
        )
    few = (
        "Up to 9 points none can exceed 3 RMSE, because the largest is in the RMSE."
        if len(values_m) <= 9
        else ""
    )
    return rule.judged(
        float(beyond.sum()), None, f"{sentence}.", count=len(values_m), caveats=(few,) if few else ()
    )


STANDARD = Standard(
    id=ID,
    title="Robust accuracy measures for elevation models (Höhle and Höhle, 2009)",
    source=SOURCE,
    judge=judge,
    options=(),
)
