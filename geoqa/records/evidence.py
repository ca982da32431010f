"""What the points can show, and what not: bias, reach, blind spots, outliers, fitness of the set."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

Direction = Literal["horizontal", "vertical"]


@dataclass(frozen=True)
class PlanBias:
    """The mean of the horizontal residuals, and whether it is more than chance.

    Attributes
    ----------
    length_m, azimuth_deg
        Of the mean vector; clockwise from grid north.
    t_squared
        Hotelling's T²; NaN for fewer than three points and where they scatter along one line.
    probability
        Of a T² as large without any bias.
    """

    length_m: float
    azimuth_deg: float
    t_squared: float
    probability: float


@dataclass(frozen=True)
class Reach:
    """What the points of one direction prove now, and what it takes to prove more.

    Attributes
    ----------
    proved_m
        The smallest limit on the RMSE that they prove: its 95 % upper bound; NaN for fewer than four
        points, which prove nothing.
    class_m, next_class_m
        The best usual class that they prove, and the next better one; None outside the list.
    more_points, more_points_for_limit
        How many further points prove the next class, or the limit asked for, with a chance of 80 %
        if the true RMSE is the one found; None where no number does, or nothing is left to prove.
    """

    proved_m: float
    class_m: float | None
    next_class_m: float | None
    more_points: int | None
    more_points_for_limit: int | None
    sentence: str


@dataclass(frozen=True)
class BlindSpot:
    """A systematic effect, and the smallest size of it that these points would have seen.

    Attributes
    ----------
    size
        Found with a chance of 80 % at a significance of 5 %, in `unit`; None where these points
        cannot tell the effect at any size.
    noise_m
        Noise of one residual that the size rests on; NaN where it is not known.
    """

    effect: str
    direction: Direction
    size: float | None
    unit: str
    noise_m: float
    count: int
    sentence: str


class OutlierBasis(StrEnum):
    """What the residuals of a set were measured by in the search for outliers."""

    SPREAD = "spread of the set"
    SIGMAS = "declared standard deviations"
    NONE = "none"


@dataclass(frozen=True)
class OutlierSearch:
    """The points of one direction that stand out; they stay in every figure.

    Attributes
    ----------
    threshold
        In units of the scale; a clean set of as many points has one beyond it in 5 % of the cases.
    scale_m
        The spread of the set; NaN where every point has its own.
    rmse_m, rmse_without_m
        With all points, and without those that stand out.
    """

    direction: Direction
    count: int
    basis: OutlierBasis
    threshold: float
    scale_m: float
    ids: tuple[str, ...]
    rmse_m: float
    rmse_without_m: float
    sentence: str


@dataclass(frozen=True)
class Influence:
    """The point on which the RMSE of a direction rests most.

    `share` is its part in the sum of squares, `rmse_without_m` the RMSE of all others.
    """

    direction: Direction
    id: str
    share: float
    rmse_m: float
    rmse_without_m: float
    sentence: str


class Grade(StrEnum):
    """Whether a set of points is fit in one respect."""

    GOOD = "in order"
    STATED = "stated"
    WEAK = "weak"
    UNKNOWN = "not known"


@dataclass(frozen=True)
class FitnessItem:
    """One respect in which a set of points is fit to prove something, or not.

    Attributes
    ----------
    direction
        None where it concerns both.
    value, demand, unit
        The figure and what it is held against; None where there is none.
    """

    topic: str
    direction: Direction | None
    value: float | None
    demand: float | None
    unit: str
    grade: Grade
    sentence: str


@dataclass(frozen=True)
class Place:
    """A place in the mapped area far from every point, metres in the common frame."""

    easting_m: float
    northing_m: float
    distance_m: float


@dataclass(frozen=True)
class PointEvidence:
    """What a set of points can show, and what not."""

    blind_spots: tuple[BlindSpot, ...] = ()
    outliers: tuple[OutlierSearch, ...] = ()
    influence: tuple[Influence, ...] = ()
    fitness: tuple[FitnessItem, ...] = ()
    next_places: tuple[Place, ...] = ()
