"""Cases for the tests of standards, from the small sets of the accuracy tests."""

import numpy as np

from geoqa.accuracy.statistics import summarise, summarise_by
from geoqa.records.results import ResidualSet
from geoqa.standards import StandardCase


def standard_case(residuals: ResidualSet, mapped_area_m=None) -> StandardCase:
    """Return what a standard looks at, built as a check builds it."""
    covers = residuals.groups.get("cover", (None,) * len(residuals))
    return StandardCase(
        residuals=residuals,
        statistics=summarise(residuals),
        vegetated=summarise_by(residuals)["cover"].get("vegetated"),
        covers=covers,
        mapped_area_m=np.empty((0, 2)) if mapped_area_m is None else mapped_area_m,
    )


def zero_mean(count, east_m, north_m=None):
    """Return plan residuals without bias and with these RMSEs, uncorrelated for a multiple of 4."""
    first = np.resize([1.0, -1.0], count)
    if north_m is None:
        return east_m * first
    return np.column_stack([east_m * first, north_m * np.resize([1.0, 1.0, -1.0, -1.0], count)])
