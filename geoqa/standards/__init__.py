"""Published accuracy standards, one file each: `judge` says in their words what the points show.

A module in this folder defines `STANDARD`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from geoqa.accuracy.options import Option, read_options
from geoqa.numerics.arrays import FloatArray
from geoqa.records.points import Cover
from geoqa.records.results import AccuracyStatistics, Judgement, ResidualSet
from geoqa.records.settings import Requirement
from geoqa.registry import Registry


@dataclass(frozen=True)
class StandardCase:
    """What a standard may look at.

    Attributes
    ----------
    statistics
        Of the used points; vegetated points are not in them.
    vegetated
        Statistics of the vegetated points alone, or None where there are none.
    mapped_area_m : array, shape (k, 2)
        Outline of the product in the common frame; k = 0 where unknown.
    """

    residuals: ResidualSet
    statistics: AccuracyStatistics
    vegetated: AccuracyStatistics | None
    covers: tuple[Cover | None, ...]
    mapped_area_m: FloatArray


@dataclass(frozen=True)
class StandardRequest:
    """What was asked of the standard: limits in metres (None: none) and its own options.

    `horizontal_rmse_m` is radial; `axis_rmse_m` holds for east and for north, each by itself.
    """

    horizontal_rmse_m: float | None = None
    vertical_rmse_m: float | None = None
    options: Mapping[str, Any] = field(default_factory=dict)
    axis_rmse_m: float | None = None


@dataclass(frozen=True)
class Standard:
    """A published standard in one edition.

    Attributes
    ----------
    source
        Full reference, and what was read of it: the text, a quotation, or memory.
    judge
        From a case and a request to judgements.
    options
        What may stand beside the id in the settings; None: the standard checks them itself, late.
    """

    id: str
    title: str
    source: str
    judge: Callable[[StandardCase, StandardRequest], tuple[Judgement, ...]]
    options: tuple[Option, ...] | None = None


STANDARDS = Registry("geoqa.standards", "STANDARD", Standard)


def check_options(requirement: Requirement) -> None:
    """Raise an error, before anything is measured, for an unknown standard or a wrong option of one."""
    for choice in requirement.standards:
        standard = STANDARDS.get(choice.id)
        if standard.options is not None:
            read_options(standard.id, choice.options, standard.options)
