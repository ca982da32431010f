"""Where the points of all files lie on the Earth, before anything else is known of them."""

from collections.abc import Sequence

import numpy as np
from pyproj.transformer import AreaOfInterest

from geoqa.frame.bring import Given, places_of
from geoqa.frame.declare import Products
from geoqa.frame.grids import area_around
from geoqa.numerics.arrays import FloatArray
from geoqa.records.points import SurveyPoints
from geoqa.records.settings import Points


def area_of_points(
    surveys: Sequence[SurveyPoints], declared: Sequence[Points], products: Products, given: Given
) -> AreaOfInterest | None:
    """Return the area of the points in degrees, or None where there are none.

    Raises
    ------
    FrameError
        When a file is in a local grid, which says of no place where it is.
    """
    found: list[FloatArray] = [
        places_of(survey, table, products, given)
        for survey, table in zip(surveys, declared, strict=True)
        if len(survey)
    ]
    if not found:
        return None
    return area_around(np.concatenate(found))
