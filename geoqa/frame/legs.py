"""One transformer of an operation, with the units of height at its ends."""

import re
from dataclasses import dataclass

import numpy as np
import pyproj
from pyproj.exceptions import ProjError
from pyproj.transformer import Transformer

from geoqa.frame.operation_names import operation_name
from geoqa.numerics.arrays import FloatArray

# Methods of PROJ that change what heights count from; a ballpark operation has none of them.
_HEIGHT_STEP = re.compile(r"\bproj=(vgridshift|vertoffset|geogoffset|gridshift|tinshift|defmodel)\b")


@dataclass(frozen=True, eq=False)
class Leg:
    """One transformer, from longitude, latitude, height to the same.

    Attributes
    ----------
    unit_before_m, unit_after_m
        Metres in one unit of height of the CRS at either end.
    """

    transformer: Transformer
    unit_before_m: float = 1.0
    unit_after_m: float = 1.0

    @property
    def name(self) -> str:
        """Return the steps that change something, with codes and grids."""
        return operation_name(self.transformer)

    @property
    def accuracy_m(self) -> float:
        """Return the accuracy as published; negative where there is none."""
        return float(self.transformer.accuracy)

    @property
    def changes_heights(self) -> bool:
        """Return whether it contains a step between surfaces that heights count from."""
        return bool(_HEIGHT_STEP.search(str(self.transformer.definition)))

    @property
    def grids(self) -> tuple[str, ...]:
        """Return the files that PROJ reads for it, by their paths where PROJ tells them."""
        steps = self.transformer.operations or ()
        return tuple(grid.full_name or grid.short_name for step in steps for grid in step.grids)

    def apply(self, coordinates: FloatArray, epoch: float | None) -> FloatArray:
        """Return longitude, latitude, height at the other end, shape (n, 3); NaN where they cannot be had.

        Parameters
        ----------
        coordinates : array, shape (n, 3)
            Degrees and metres.
        epoch
            Coordinate epoch, decimal year, or None.
        """
        try:
            moved = self._applied(coordinates, epoch, errcheck=True)
        except ProjError:
            # PROJ stops at the first failure without naming it; the rows that fail are marked instead.
            moved = self._applied(coordinates, epoch, errcheck=False)
        moved[~np.isfinite(moved).all(axis=1)] = np.nan
        return moved

    def _applied(self, coordinates: FloatArray, epoch: float | None, *, errcheck: bool) -> FloatArray:
        lon, lat, height = coordinates.T
        height = height / self.unit_before_m
        if epoch is None:
            lon, lat, height = self.transformer.transform(lon, lat, height, errcheck=errcheck)
        else:
            year = np.full(len(coordinates), epoch)
            lon, lat, height, _ = self.transformer.transform(lon, lat, height, year, errcheck=errcheck)
        return np.column_stack([lon, lat, np.asarray(height) * self.unit_after_m])


def height_unit_m(crs: pyproj.CRS) -> float:
    """Return metres in the unit of height of a compound CRS; 1 for any other."""
    return float(crs.axis_info[-1].unit_conversion_factor) if crs.is_compound else 1.0
