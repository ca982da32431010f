"""A limit and what was found, on one scale: the numbers of a claim as a small drawing."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

# Units of the drawing; the scale begins at zero and ends beyond limit and bound.
WIDTH = 400.0
_AIR = 1.12
# A bound further off than so many limits runs out of the drawing.
_MOST_LIMITS = 3.0


@dataclass(frozen=True)
class Gauge:
    """Places along the scale, in units; `low` and `high` are the one-sided 95 % bounds."""

    quantity: str
    verdict: str
    limit: float
    value: float
    low: float
    high: float
    open_end: bool
    claim: Mapping[str, Any]


def gauges(claims: Mapping[str, Mapping[str, Any]]) -> list[Gauge]:
    """Return the drawings of the limits that were asked for and could be judged."""
    return [
        _gauge(name, item)
        for name, item in claims.items()
        if item["limit_m"] is not None and item["count"] and item["value_m"] is not None
    ]


def _gauge(name: str, item: Mapping[str, Any]) -> Gauge:
    limit, value = item["limit_m"], item["value_m"]
    high = value if item["upper95_m"] is None else item["upper95_m"]
    low = value if item["lower95_m"] is None else item["lower95_m"]
    end = _AIR * max(limit, value, min(high, _MOST_LIMITS * max(limit, value)))
    at = {key: min(WIDTH, WIDTH * number / end) for key, number in (("low", low), ("high", high))}
    return Gauge(
        name,
        item["verdict"],
        WIDTH * limit / end,
        WIDTH * value / end,
        at["low"],
        at["high"],
        high > end,
        item,
    )
