"""What to do next, and cures that were tried dry."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import Literal

from geoqa.records.results import AccuracyStatistics


class Action(StrEnum):
    """What to do next."""

    DELIVER = "deliver"
    CORRECT = "correct at the source and run again"
    REMEASURE = "measure these points again"
    REPROCESS = "process again"
    REFLY = "fly this part again"
    MORE_POINTS = "take more points"


@dataclass(frozen=True)
class Removable:
    """What of RMSE² a trend would remove, at points that it was not fitted to.

    Attributes
    ----------
    direction
        "horizontal" or "vertical".
    trend
        "shift", "plane", "similarity"; "nothing" for what stays whatever of these is taken off.
    share
        Of RMSE², 0 to 1; NaN where there are too few points.
    rmse_m
        After the trend is taken off, by leave-one-out.
    """

    direction: Literal["horizontal", "vertical"]
    trend: str
    share: float
    rmse_m: float


@dataclass(frozen=True)
class Decision:
    """The next step in words, before any evidence.

    `point_ids` are the points that it is about; empty for the product as a whole. `diagnosis` is the id of
    the cause that it acts on; None where it acts on none.
    """

    action: Action
    sentence: str
    point_ids: tuple[str, ...] = ()
    removable: tuple[Removable, ...] = ()
    diagnosis: str | None = None


@dataclass(frozen=True)
class Trial:
    """A cure tried on the residuals, with nothing touched: an exploration, never a result.

    Attributes
    ----------
    cure
        As asked for, or the id of the finding that it was taken from.
    origin
        "command line" or "finding".
    makes_control
        True where the cure is fitted to the checkpoints, which then no longer test it.
    before, after
        Of the points that count.
    leave_one_out_rmse_m
        "horizontal", "vertical": RMSE at points that the cure was not fitted to; only where it is fitted.
    """

    cure: str
    origin: Literal["command line", "finding"]
    sentence: str
    makes_control: bool
    before: AccuracyStatistics
    after: AccuracyStatistics
    leave_one_out_rmse_m: Mapping[str, float] = field(default_factory=dict)
    point_ids: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Make the mapping read-only."""
        loo = MappingProxyType(dict(self.leave_one_out_rmse_m))
        object.__setattr__(self, "leave_one_out_rmse_m", loo)
