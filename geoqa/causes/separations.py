"""What the line knows of the height of the geoid above the ellipsoid at the points."""

import math

import numpy as np

from geoqa.numerics.arrays import FloatArray
from geoqa.records.points import Checkpoints
from geoqa.records.settings import Settings

_COLUMN = "separation"
_STEP = "geoid"
_TO_GEOID = "height minus separation"
# Beyond this many points the history of each is not read again.
_MOST = 5000


def separations_of(checkpoints: Checkpoints, settings: Settings) -> FloatArray:
    """Return the separation at each point, shape (n,), NaN where nothing says it.

    It comes from the column of the points, else from `geoid.separation_m`, else from what a change of the
    height system did to the point.
    """
    values = np.full(len(checkpoints), np.nan)
    if checkpoints.has_attribute(_COLUMN):
        values = np.array([_number(checkpoints.attribute(_COLUMN, row)) for row in range(len(checkpoints))])
    stated = settings.geoid.separation_m if settings.geoid is not None else None
    if stated is not None:
        values = np.where(np.isfinite(values), values, stated)
    if np.isfinite(values).all() or len(checkpoints) > _MOST:
        return values
    changed = [_by_step(checkpoints, row) for row in range(len(checkpoints))]
    return np.where(np.isfinite(values), values, changed)


def _by_step(checkpoints: Checkpoints, row: int) -> float:
    """Return what a change from heights above the ellipsoid took off, or the reverse put on."""
    for step, change in checkpoints.steps(row):
        if step.title == _STEP:
            return -float(change[2]) if _TO_GEOID in step.operation else float(change[2])
    return math.nan


def _number(text: str | None) -> float:
    try:
        return float(text.replace(",", ".").replace("−", "-")) if text is not None else math.nan
    except ValueError:
        return math.nan
