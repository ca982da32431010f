"""What the report shows of the bases, as rows of words ready to be written."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from geoqa.writers._numbers import MISSING, metres


@dataclass(frozen=True)
class BaseRow:
    """The correction of one base: how long, how well known, applied to what."""

    name: str
    east: str
    north: str
    up: str
    length: str
    sigma: str
    sigma_of_mean: str
    rests: str
    applied_to: str
    source: str


def base_rows(bases: Sequence[Mapping[str, Any]]) -> list[BaseRow]:
    """Return one row a base of the document of results."""
    return [
        BaseRow(
            name="the base" if item["session"] is None else f"session {item['session']}",
            **dict(zip(("east", "north", "up"), _signed(item["shift_m"]), strict=True)),
            length=metres(item["distance_m"]),
            sigma=_three(item["sigma_m"]),
            sigma_of_mean=_three(item["sigma_of_mean_m"]),
            rests=f"points {item['points_use']}, products {item['products_use']}",
            applied_to=item["applied_to"],
            source=item["source"],
        )
        for item in bases
    ]


def _signed(values: Sequence[float]) -> list[str]:
    return [metres(value, signed=True) for value in values]


def _three(values: Sequence[float] | None) -> str:
    return MISSING if values is None else ", ".join(metres(value) for value in values)
