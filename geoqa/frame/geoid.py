"""Separations of a geoid grid that the user gave: interpolated by PROJ, the nodes looked at before."""

import numpy as np
import pyproj
from pyproj.exceptions import ProjError

from geoqa.errors import FrameError
from geoqa.frame.datums import datum_name, is_indefinite, is_member, same_datum
from geoqa.frame.heights import HeightSystem, of_vertical, same_height_datum
from geoqa.numerics.arrays import BoolArray, FloatArray, IntArray
from geoqa.numerics.bilinear import bilinear, lower_cells
from geoqa.records.geoid import GeoidGrid
from geoqa.records.points import SurveyPoints

# The sign is written out: +1 with a separation of zero height gives the separation itself.
_PIPELINE = (
    "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad "
    "+step +proj=vgridshift +grids={path} +multiplier=1 "
    "+step +proj=unitconvert +xy_in=rad +xy_out=deg"
)
# A position on the rim may miss it by the rounding of degrees.
_ON_RIM = 1e-9
# PROJ holds nodes in single precision: 4 µm at the largest separation.
_ALIKE_M = 1e-4


def separations_m(
    grid: GeoidGrid, survey: SurveyPoints, lon_lat: FloatArray, wanted: BoolArray
) -> FloatArray:
    """Return the height of the geoid above the ellipsoid, shape (n,), metres; NaN where not wanted.

    Parameters
    ----------
    lon_lat : array, shape (n, 2)
        Degrees, one row a point of the survey.
    wanted : array of bool, shape (n,)
        False for points without a height.

    Raises
    ------
    FrameError
        When a point lies outside the grid or beside a node without a value. PROJ would leave out such a
        node and take the mean of the others.
    """
    rows = np.flatnonzero(wanted)
    found = np.full(len(lon_lat), np.nan)
    if not len(rows):
        return found
    by_nodes = between_nodes_m(grid, survey, lon_lat, rows)
    transformer = pyproj.Transformer.from_pipeline(_PIPELINE.format(path=grid.path))
    longitude, latitude = lon_lat[rows].T
    try:
        by_proj = np.asarray(
            transformer.transform(longitude, latitude, np.zeros(len(rows)), errcheck=True)[2]
        )
    except ProjError:
        by_proj = np.full(len(rows), np.nan)
    if not np.abs(by_proj - by_nodes).max() <= _ALIKE_M:
        message = (
            f"{grid.name}: PROJ and GDAL do not read the same separations from this file. Convert it "
            "(`gdal_translate -of GTX`), and name the new one with geoid.grid."
        )
        raise FrameError(message)
    found[rows] = by_proj
    return found


def between_nodes_m(grid: GeoidGrid, survey: SurveyPoints, lon_lat: FloatArray, rows: IntArray) -> FloatArray:
    """Return the separations of some points, bilinear between the four nodes around each, metres.

    Raises
    ------
    FrameError
        When a point lies outside the nodes or one of its four holds no value.
    """
    last = np.array(grid.nodes.shape) - 1
    places = grid.row_col(lon_lat[rows])
    outside = ~((places >= -_ON_RIM) & (places <= last + _ON_RIM)).all(axis=1)
    if outside.any():
        west, south, east, north = grid.area_deg
        message = (
            f"{_who(survey, rows[outside])} outside the geoid grid {grid.name}, which reaches from "
            f"{west:g}° to {east:g}° in longitude and from {south:g}° to {north:g}° in latitude. Name a grid "
            "that covers the site with geoid.grid."
        )
        raise FrameError(message)
    cells, shares = lower_cells(np.clip(places, 0, last) + 0.5, grid.nodes.shape)
    row, col = cells.T
    corners = np.column_stack([grid.nodes[row + i, col + j] for i in (0, 1) for j in (0, 1)])
    holes = ~np.isfinite(corners).all(axis=1)
    if holes.any():
        message = (
            f"{_who(survey, rows[holes])} beside a node without a value in the geoid grid {grid.name}. Name "
            "a grid that covers the site with geoid.grid, or take the point out."
        )
        raise FrameError(message)
    return bilinear(corners, shares)


def _who(survey: SurveyPoints, rows: IntArray) -> str:
    first = int(rows[0])
    others = f" (and {len(rows) - 1} more)" if len(rows) > 1 else ""
    return f"{survey.origin(first)}: point “{survey.ids[first]}”{others} lies"


def fitting_grid(grid: GeoidGrid, gravity_related: HeightSystem) -> None:
    """Raise `FrameError` where the file says that its separations lead to other heights than these."""
    if grid.vertical is None:
        return
    named = of_vertical(grid.vertical, grid.name)
    if not same_height_datum(named, gravity_related):
        message = (
            f"The geoid grid {grid.name} leads to heights in {named.title} by its own words, and the heights "
            f"are stated to be in {gravity_related.title}. Name the grid of that height system with "
            "geoid.grid, or mend points.height_system or elevation.height_system."
        )
        raise FrameError(message)


def names_datum_of(grid: GeoidGrid, datum: pyproj.CRS) -> bool:
    """Return whether the file says that its separations count from the ellipsoid of this very datum."""
    if grid.crs is None or is_indefinite(grid.crs):
        return False
    return same_datum(grid.crs, datum) or (is_member(grid.crs, datum) and not is_indefinite(datum))


def another_datum(grid: GeoidGrid, datum: pyproj.CRS) -> str | None:
    """Return a sentence where the file says that its separations count from that of another datum."""
    if grid.crs is None or is_indefinite(grid.crs) or names_datum_of(grid, datum):
        return None
    return (
        f"The separations of {grid.name} count from the ellipsoid of {datum_name(grid.crs)} by its own "
        f"words, and are applied to heights in {datum_name(datum)}: where the two differ in height, so do "
        "the results."
    )
