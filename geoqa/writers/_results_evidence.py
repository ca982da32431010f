"""The members of results.json that say what the points can show."""

from typing import Any

from geoqa.records.evidence import (
    BlindSpot,
    FitnessItem,
    Influence,
    OutlierSearch,
    PlanBias,
    PointEvidence,
    Reach,
)
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


def members(evidence: PointEvidence) -> Member:
    """Return the members of the document that hold what the points can show."""
    return {
        "blind_spots": [_blind_spot(item) for item in evidence.blind_spots],
        "outliers": [_outliers(item) for item in evidence.outliers],
        "influence": [_influence(item) for item in evidence.influence],
        "fitness": [_fitness(item) for item in evidence.fitness],
        "next_points": [
            {"position_m": [place.easting_m, place.northing_m], "distance_m": place.distance_m}
            for place in evidence.next_places
        ],
    }


def _blind_spot(item: BlindSpot) -> Member:
    return dict(vars(item))


def _outliers(item: OutlierSearch) -> Member:
    return {**vars(item), "basis": item.basis.value, "ids": list(item.ids)}


def _influence(item: Influence) -> Member:
    return dict(vars(item))


def _fitness(item: FitnessItem) -> Member:
    return {**vars(item), "grade": item.grade.value}
