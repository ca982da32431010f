"""What the points can show beyond their RMSE: biases, outliers, blind spots, fitness of the set."""

from dataclasses import dataclass
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
        The smallest limit on the RMSE that they prove: its 95 % upper bound.
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
