"""Colours, shapes and classes shared by the map picture and the styles of the layers.

Red stands for a product that lies too high (residual above zero), blue for one too low. Every
colour has a shape beside it, so that a grey print and a colour-blind reader lose nothing: a triangle
pointing up is too high, one pointing down too low, a circle lies within the inner limit; the darker
the fill, the larger the residual. Hollow symbols do not count.
"""

from enum import StrEnum
from typing import NamedTuple

import numpy as np

from geoqa.numerics.arrays import FloatArray, IntArray
from geoqa.records.assessment import Assessment
from geoqa.records.results import UseReason
from geoqa.writers._exaggeration import nearest_round

# ColorBrewer 2.0 (C. Brewer, Penn State), scheme RdBu, 5 classes, from blue to red.
BLUE, PALE_BLUE, PALE, PALE_RED, RED = "#0571b0", "#92c5de", "#f7f7f7", "#f4a582", "#ca0020"
RIM = "#000000"
VECTOR = "#000000"
ELLIPSE = "#000000"
FOUND = "#e69f00"
AREA = "#000000"
# Okabe and Ito 2008, colour universal design: blue against vermilion stays apart for all readers.
MET, NOT_MET, OPEN = "#0072b2", "#d55e00", "#767676"
# Inner limit where there is no requirement and no residual to choose it from.
DEFAULT_INNER_M = 0.05
FINEST_OUTER_M = 0.002


class Shape(StrEnum):
    """The mark that says the same as the colour."""

    HIGH = "triangle up"
    WITHIN = "circle"
    LOW = "triangle down"


class HeightClass(NamedTuple):
    """A class of vertical residuals.

    The limits belong to the class nearer to zero, so that a residual that just keeps a limit is
    shown as keeping it.
    """

    lower_m: float
    upper_m: float
    colour: str
    label: str

    @property
    def shape(self) -> Shape:
        """Return the mark of the class."""
        if self.lower_m >= 0:
            return Shape.HIGH
        return Shape.LOW if self.upper_m <= 0 else Shape.WITHIN


# One letter says why a hollow point does not count, where there is room for one only.
REASON_LETTERS = {
    UseReason.ROLE_CONTROL: "c",
    UseReason.ROLE_MARK: "k",
    UseReason.ROLE_UNUSED: "u",
    UseReason.FLOAT_FIX: "f",
    UseReason.AUTONOMOUS_FIX: "f",
    UseReason.OCCUPATIONS_DISAGREE: "e",
    UseReason.NO_ORTHOMOSAIC: "–",
    UseReason.NO_ELEVATION: "–",
    UseReason.HEIGHT_ONLY: "h",
    UseReason.PLAN_ONLY: "p",
    UseReason.OUTSIDE: "o",
    UseReason.NO_MARK: "n",
    UseReason.NOT_FOUND: "n",
    UseReason.SUSPECT: "s",
    UseReason.AMBIGUOUS: "a",
    UseReason.NO_DATA: "d",
    UseReason.SLOPE: "l",
    UseReason.RELIEF: "r",
    UseReason.NO_SLOPE: "l",
    UseReason.VEGETATED: "v",
}


def height_classes(assessment: Assessment) -> tuple[HeightClass, ...]:
    """Return five classes of vertical residuals, from too low to too high, symmetric about zero.

    The outer classes begin at the vertical limit, of whatever kind, and the inner class ends at half
    of it. Without a limit the outer classes begin at the round number (1, 2 or 5 × 10^k) nearest to
    the 90 % quantile of the measured residuals.
    """
    inner, outer = _class_limits(assessment)
    near, far = _plain(inner), _plain(outer)
    return (
        HeightClass(-np.inf, -outer, BLUE, f"below −{far} m"),
        HeightClass(-outer, -inner, PALE_BLUE, f"−{far} to −{near} m"),
        HeightClass(-inner, inner, PALE, f"−{near} to +{near} m"),
        HeightClass(inner, outer, PALE_RED, f"+{near} to +{far} m"),
        HeightClass(outer, np.inf, RED, f"above +{far} m"),
    )


def height_class_of(up_m: FloatArray, classes: tuple[HeightClass, ...]) -> IntArray:
    """Return the index of the class of each vertical residual; -1 where it is NaN."""
    uppers = np.array([item.upper_m for item in classes[:-1]])
    below = np.asarray(up_m)[:, None]
    # A limit belongs to the class nearer to zero: from below it opens the next, from above it closes its own.
    passed = np.where(uppers < 0, below >= uppers, below > uppers)
    found: IntArray = np.where(np.isfinite(below[:, 0]), passed.sum(axis=1), -1).astype(np.int64)
    return found


def _class_limits(assessment: Assessment) -> tuple[float, float]:
    asked = assessment.settings.requirement
    outer = asked.vertical_rmse_m or asked.vertical_p95_m or asked.vertical_max_m
    if outer is None:
        up = np.abs(assessment.residuals.delta_m[:, 2])
        up = up[np.isfinite(up)]
        if not len(up):
            return DEFAULT_INNER_M, 2 * DEFAULT_INNER_M
        outer = nearest_round(max(float(np.quantile(up, 0.9)), FINEST_OUTER_M))
    return outer / 2, outer


def _plain(metres: float) -> str:
    return f"{metres:.4f}".rstrip("0").rstrip(".")
