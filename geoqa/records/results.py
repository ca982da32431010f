"""What follows from the measurements: residuals, statistics, claims, judgements, findings."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import Literal

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray, frozen
from geoqa.records.evidence import PlanBias, Reach

Interval = tuple[float, float]


class UseReason(StrEnum):
    """Why a point does not count for a direction, decided from evidence other than the residual."""

    ROLE_CONTROL = "control point"
    ROLE_MARK = "known mark"
    ROLE_UNUSED = "set unused"
    FLOAT_FIX = "float fix"
    AUTONOMOUS_FIX = "autonomous fix"
    OCCUPATIONS_DISAGREE = "occupations disagree"
    NO_ORTHOMOSAIC = "no orthomosaic"
    NO_ELEVATION = "no elevation raster"
    HEIGHT_ONLY = "height-only point"
    PLAN_ONLY = "plan-only point"
    OUTSIDE = "outside the raster"
    NO_MARK = "no mark given"
    NOT_FOUND = "target not found"
    SUSPECT = "suspect target"
    AMBIGUOUS = "ambiguous target"
    NO_DATA = "no data in the raster"
    SLOPE = "slope above the limit"
    RELIEF = "relief above the limit"
    NO_SLOPE = "slope not measurable"
    VEGETATED = "vegetated"


@dataclass(frozen=True, eq=False)
class Use:
    """Whether each point counts for one direction, and if not, why; a used point has no reason."""

    used: BoolArray
    reasons: tuple[UseReason | None, ...]

    def __post_init__(self) -> None:
        """Make the array read-only."""
        object.__setattr__(self, "used", frozen(self.used, bool))


@dataclass(frozen=True, eq=False)
class ResidualSet:
    """Residuals product minus survey, one row a point, east, north, up in metres.

    Attributes
    ----------
    survey_m, product_m : array, shape (n, 3)
        Positions in the common frame; NaN where not measured.
    delta_m : array, shape (n, 3)
        Product minus survey; NaN where either is missing.
    sigma_survey_m, sigma_product_m : array, shape (n, 3)
        Standard deviations, NaN where unknown.
    horizontal, vertical
        Use for either direction.
    groups
        Grouping name ("cover", "session", "role") → the group of each point, or None.
    """

    ids: tuple[str, ...]
    survey_m: FloatArray
    product_m: FloatArray
    delta_m: FloatArray
    sigma_survey_m: FloatArray
    sigma_product_m: FloatArray
    horizontal: Use
    vertical: Use
    groups: Mapping[str, tuple[str | None, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        for name in ("survey_m", "product_m", "delta_m", "sigma_survey_m", "sigma_product_m"):
            object.__setattr__(self, name, frozen(getattr(self, name)))
        object.__setattr__(self, "groups", MappingProxyType(dict(self.groups)))

    def __len__(self) -> int:
        """Return the number of points."""
        return len(self.ids)

    @property
    def used_horizontal_m(self) -> FloatArray:
        """Return east and north residuals of the points used for the plan, shape (k, 2)."""
        return np.asarray(self.delta_m[self.horizontal.used, :2])

    @property
    def used_vertical_m(self) -> FloatArray:
        """Return up residuals of the points used for the height, shape (k,)."""
        return np.asarray(self.delta_m[self.vertical.used, 2])


@dataclass(frozen=True)
class ComponentStatistics:
    """Statistics of one component of the residuals; NaN where a figure has no meaning.

    `component` is east, north, up or horizontal. What has a sign is not filled for `horizontal`,
    whose sizes are lengths of vectors.

    Attributes
    ----------
    std_m
        Divides by n − 1; NaN for one point.
    rmse_m
        Divides by n and keeps the mean.
    rmse_interval_m
        Two-sided 95 % interval of the true RMSE.
    rmse_upper95_m, rmse_lower95_m
        One-sided 95 % bounds, for `freedom` degrees of freedom.
    mean_interval_m
        Two-sided 95 % interval of the true mean, by Student's t.
    quantile683_m, quantile95_m
        Of the sizes, linear between ranks, rank P(n − 1) + 1.
    error50_m, error90_m, error95_m
        What holds this share of normal errors of this RMSE: LE of an axis, CE of the plan.
    error95_bounds_m
        One-sided 95 % bounds of the true error95_m, lower and upper.
    """

    component: Literal["east", "north", "up", "horizontal"]
    count: int
    rmse_m: float
    rmse_interval_m: Interval
    rmse_upper95_m: float
    rmse_lower95_m: float
    max_abs_m: float
    mean_m: float = float("nan")
    std_m: float = float("nan")
    median_m: float = float("nan")
    nmad_m: float = float("nan")
    freedom: float = float("nan")
    mean_interval_m: Interval = (float("nan"), float("nan"))
    skewness: float = float("nan")
    quantile683_m: float = float("nan")
    quantile95_m: float = float("nan")
    error50_m: float = float("nan")
    error90_m: float = float("nan")
    error95_m: float = float("nan")
    error95_bounds_m: Interval = (float("nan"), float("nan"))


@dataclass(frozen=True)
class AccuracyStatistics:
    """The four components of one set of points, and the mean of the plan as a vector."""

    east: ComponentStatistics
    north: ComponentStatistics
    up: ComponentStatistics
    horizontal: ComponentStatistics
    plan_bias: PlanBias | None = None

    @property
    def components(self) -> tuple[ComponentStatistics, ...]:
        """Return east, north, up, horizontal, in this order."""
        return (self.east, self.north, self.up, self.horizontal)


class ClaimVerdict(StrEnum):
    """What the points prove about a limit."""

    PROVED = "proved"
    NOT_CONTRADICTED = "not contradicted"
    FAILED = "failed"
    UNDECIDABLE = "undecidable"
    NOT_ASKED = "not asked"


@dataclass(frozen=True)
class Claim:
    """One limit, held against the evidence.

    `quantity` is "horizontal RMSE", "east RMSE", "vertical 95 % quantile", "vertical maximum" and so
    on; `arithmetic` how its bound came about, `reach` what else these points prove.
    """

    direction: Literal["horizontal", "vertical"]
    quantity: str
    limit_m: float | None
    value_m: float
    upper95_m: float
    lower95_m: float
    count: int
    verdict: ClaimVerdict
    sentence: str
    arithmetic: str = ""
    reach: Reach | None = None


@dataclass(frozen=True)
class Verdict:
    """The answer to "can I deliver?", in two directions and one sentence."""

    horizontal: ClaimVerdict
    vertical: ClaimVerdict
    sentence: str


@dataclass(frozen=True)
class AccuracyFigure:
    """One RMSE with its 95 % interval, and what it is relative to; None where it cannot be had."""

    rmse_m: float | None
    interval_m: Interval | None
    relative_to: str


@dataclass(frozen=True)
class ThreeNumbers:
    """Fit to the checkpoints, the product alone, and absolute; each horizontal and vertical."""

    fit: tuple[AccuracyFigure, AccuracyFigure]
    product_alone: tuple[AccuracyFigure, AccuracyFigure]
    absolute: tuple[AccuracyFigure, AccuracyFigure]


class JudgementVerdict(StrEnum):
    """What a standard says of a quantity."""

    MET = "met"
    NOT_MET = "not met"
    NOT_ASSESSED = "not assessed"


@dataclass(frozen=True)
class Judgement:
    """What one clause of a standard says of these residuals.

    Attributes
    ----------
    standard
        Id of the standard.
    source
        Reference of the clause, and "as quoted in …" where the standard itself was not read.
    value, limit, unit
        The figure compared, unrounded; None where there is none.
    sentence
        The statement in the words of the standard.
    caveats
        What limits the statement: too few points, values from memory.
    """

    standard: str
    clause: str
    quantity: str
    value: float | None
    unit: str
    limit: float | None
    verdict: JudgementVerdict
    sentence: str
    count: int
    count_required: int | None = None
    caveats: tuple[str, ...] = ()


class FindingVerdict(StrEnum):
    """Whether a cause is at work."""

    PRESENT = "present"
    ABSENT = "absent"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True)
class Quantity:
    """A named number with its unit and standard deviation (None where unknown)."""

    name: str
    value: float
    unit: str
    sigma: float | None = None


@dataclass(frozen=True)
class Finding:
    """A possible cause of what is systematic in the residuals."""

    diagnosis: str
    verdict: FindingVerdict
    evidence: str
    advice: str
    rank: int | None = None
    quantities: tuple[Quantity, ...] = ()
    not_separable_from: tuple[str, ...] = ()
    predicted_rmse_m: Mapping[str, float] = field(default_factory=dict)
    point_ids: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Make the mapping read-only."""
        object.__setattr__(self, "predicted_rmse_m", MappingProxyType(dict(self.predicted_rmse_m)))
