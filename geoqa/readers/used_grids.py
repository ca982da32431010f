"""Geoid grids that PROJ found by itself, looked at where the points lie."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from geoqa.frame.geoid import between_nodes_m
from geoqa.frame.grids import area_around
from geoqa.numerics.arrays import FloatArray
from geoqa.readers.geoid_grid import is_geoid, read_geoid
from geoqa.readers.provenance import found_by_proj
from geoqa.records.points import CoordinateStep, SurveyPoints


def refuse_holes(survey: SurveyPoints, steps: Sequence[CoordinateStep], lon_lat: FloatArray) -> None:
    """Raise `FrameError` where a point lies beside a node without a value in a geoid grid of PROJ.

    PROJ leaves out such a node and takes the mean of the others. Grids in several pieces are left to PROJ.

    Parameters
    ----------
    lon_lat : array, shape (n, 2)
        Degrees, one row a point of the survey.
    """
    rows = np.flatnonzero(np.isfinite(survey.coordinates[:, 2]))
    named = [grid for step in steps if "height system" in step.title for grid in step.grids]
    for name in dict.fromkeys(named if len(rows) else ()):
        path = found_by_proj(name)
        if Path(path).is_file() and is_geoid(path):
            grid = read_geoid(path, area_around(lon_lat[rows]))
            between_nodes_m(grid, survey, lon_lat, rows)
