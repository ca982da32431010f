"""Which ground the map picture shows, and which points lie on it."""

from dataclasses import dataclass

import numpy as np

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.assessment import Assessment
from geoqa.writers._exaggeration import LEAST_SIDE_M, Extent

# A point further off the product than this part of its larger side is named beside the map, not
# drawn: one point in a wrong zone would shrink the site to a dot.
_MARGIN = 0.5
# Air around what is drawn, as a part of the larger side.
_PADDING = 0.06


@dataclass(frozen=True, eq=False)
class Ground:
    """What the map shows.

    Attributes
    ----------
    site_m
        West, south, east, north around the product and the points that are drawn, metres.
    shown, beyond : array, shape (n,)
        Points that are drawn; points with a position too far off to be drawn.
    with_product
        False where no point lies near the product, so that the map shows the points alone.
    """

    site_m: Extent
    shown: BoolArray
    beyond: BoolArray
    with_product: bool

    @property
    def side_m(self) -> float:
        """Return the larger side of the site."""
        west, south, east, north = self.site_m
        return max(east - west, north - south)


def ground(assessment: Assessment) -> Ground:
    """Return the ground to show: the product with the points on and near it.

    Where the outline of the product is not known, or no point lies near it, the points alone.
    """
    plan = assessment.residuals.survey_m[:, :2]
    known: BoolArray = np.asarray(np.isfinite(plan).all(axis=1))
    area = assessment.mapped_area_m
    if not len(area):
        return Ground(_bounds(plan[known]), known, np.zeros(len(plan), dtype=bool), with_product=False)
    low, high = area.min(axis=0), area.max(axis=0)
    margin = _MARGIN * float((high - low).max())
    near = known & ((plan >= low - margin) & (plan <= high + margin)).all(axis=1)
    if known.any() and not near.any():
        return Ground(_bounds(plan[known]), known, np.zeros(len(plan), dtype=bool), with_product=False)
    return Ground(_bounds(np.vstack([area, plan[near]])), near, known & ~near, with_product=True)


def _bounds(plan: FloatArray) -> Extent:
    low, high = (plan.min(axis=0), plan.max(axis=0)) if len(plan) else (np.zeros(2), np.zeros(2))
    if not (high - low).any():
        low, high = low - LEAST_SIDE_M / 2, high + LEAST_SIDE_M / 2
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def fitted(site_m: Extent, drawn_m: FloatArray, aspect: float) -> Extent:
    """Return the extent of the map: all that is drawn, with air, in the shape of the frame.

    Parameters
    ----------
    drawn_m : array, shape (k, 2)
        Further places that must lie inside: tips of vectors, rims of ellipses.
    aspect
        Width of the frame over its height.
    """
    west, south, east, north = site_m
    places = np.vstack([[[west, south], [east, north]], drawn_m])
    low, high = places.min(axis=0), places.max(axis=0)
    side = (high - low) + 2 * _PADDING * float((high - low).max())
    width = max(side[0], side[1] * aspect)
    centre = (low + high) / 2
    half = np.array([width, width / aspect]) / 2
    return (*(float(value) for value in centre - half), *(float(value) for value in centre + half))  # type: ignore[return-value]
