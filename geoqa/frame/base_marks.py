"""Known marks beside points that rest on a base whose position is known better by now."""

from dataclasses import replace

import numpy as np

from geoqa.frame.base_products import corrected_marks
from geoqa.frame.base_shift import ASSUMED, moves_points
from geoqa.frame.declare import Products
from geoqa.numerics.arrays import FloatArray
from geoqa.records.base import AppliedTo
from geoqa.records.points import Checkpoints


def published_on_base(published: Checkpoints, products: Products) -> Checkpoints:
    """Return published positions on the base that the points are compared on.

    Where points and products both rest on the assumed position of the base, neither is moved, and a
    published position, which rests on none, is moved the other way: measured minus known is then what
    it is after the correction.

    Parameters
    ----------
    published
        In the common frame.
    """
    resting = [item for item in products.base if item.points_use == ASSUMED and not moves_points(item)]
    if not resting or not len(published):
        return published
    base = resting[0]
    back = replace(
        base,
        assumed_m=base.precise_m,
        precise_m=base.assumed_m,
        products_use=ASSUMED,
        applied_to=AppliedTo.PRODUCTS,
    )
    return corrected_marks(published, replace(products, base=(back,)))


def base_sigma_m(products: Products) -> FloatArray:
    """Return the standard deviations of the base east, north, up, the largest of several; 0 where unknown."""
    known = [item.sigma_m for item in products.base if item.sigma_m is not None]
    largest: FloatArray = np.max([np.zeros(3), *known], axis=0)
    return largest
