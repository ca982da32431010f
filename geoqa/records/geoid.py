"""A geoid model as a grid of separations: what its file says, and its nodes around the site."""

from dataclasses import dataclass
from pathlib import PurePath

import numpy as np
import pyproj

from geoqa.numerics.arrays import FloatArray, frozen


@dataclass(frozen=True, eq=False)
class GeoidGrid:
    """A grid of separations: the height of the geoid above the ellipsoid at nodes.

    Attributes
    ----------
    file
        File that the user named.
    path
        The same grid, or the part of it around the site, under a name that PROJ reads.
    crs
        Geographic CRS of the nodes, or None where the file names none.
    vertical
        Vertical CRS that the separations lead to, where the file names one.
    nodes : array, shape (rows, cols)
        Separations in metres around the site, from north to south and from west to east; NaN where
        the file holds no value.
    first_deg
        Longitude and latitude of the north-western of these nodes, in degrees.
    step_deg
        Distance from one node to the next, east and south, in degrees.
    area_deg
        West, south, east, north of all nodes of the file.
    notes
        Sentences for the user about how the file was understood.
    """

    file: str
    path: str
    crs: pyproj.CRS | None
    vertical: pyproj.CRS | None
    nodes: FloatArray
    first_deg: tuple[float, float]
    step_deg: tuple[float, float]
    area_deg: tuple[float, float, float, float]
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Make the array read-only."""
        object.__setattr__(self, "nodes", frozen(self.nodes))

    @property
    def name(self) -> str:
        """Return the name of the file, for messages."""
        return PurePath(self.file).name

    def row_col(self, lon_lat: FloatArray) -> FloatArray:
        """Return row and column of positions among the nodes, shape (n, 2); a node is a whole number.

        Longitudes are taken a whole turn further where that brings them to the nodes.
        """
        west, north = self.first_deg
        across = self.step_deg[0] * (self.nodes.shape[1] - 1)
        # Half of what lies off the nodes on each side, so that neither rim is split.
        start = west - (360.0 - across) / 2.0
        east = start + (lon_lat[:, 0] - start) % 360.0
        return np.column_stack([(north - lon_lat[:, 1]) / self.step_deg[1], (east - west) / self.step_deg[0]])
