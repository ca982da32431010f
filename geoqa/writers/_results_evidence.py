"""The members of results.json that say what the points can show."""

from typing import Any

from geoqa.records.evidence import PlanBias, Reach
from geoqa.records.results import Claim, ComponentStatistics

Member = dict[str, Any]


def component(part: ComponentStatistics) -> Member:
    """Return interval of the mean, quantiles, LE or CE; what has a sign is left out for the plan."""
    horizontal = part.component == "horizontal"
    signed = {"mean_interval_m": list(part.mean_interval_m), "skewness": part.skewness}
    kind = "ce" if horizontal else "le"
    return {
        **({} if horizontal else signed),
        "freedom": part.freedom,
        "quantile683_m": part.quantile683_m,
        "quantile95_m": part.quantile95_m,
        f"{kind}50_m": part.error50_m,
        f"{kind}90_m": part.error90_m,
        f"{kind}95_m": part.error95_m,
    }


def plan_bias(bias: PlanBias | None) -> Member | None:
    """Return the mean vector of the plan and Hotelling's test."""
    return None if bias is None else dict(vars(bias))


def claim(item: Claim) -> Member:
    """Return how the bound came about and what else these points prove."""
    return {
        "arithmetic": item.arithmetic,
        "provable": None if item.reach is None else _reach(item.reach),
    }


def _reach(reach: Reach) -> Member:
    return {
        "limit_m": reach.proved_m,
        "class_m": reach.class_m,
        "next_class_m": reach.next_class_m,
        "more_points": reach.more_points,
        "more_points_for_limit": reach.more_points_for_limit,
        "sentence": reach.sentence,
    }
