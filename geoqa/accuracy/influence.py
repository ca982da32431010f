"""How much each point weighs in the RMSE, by leaving it out."""

import numpy as np

from geoqa.accuracy.judging import plan_lengths
from geoqa.accuracy.limits import metres
from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.evidence import Direction, Influence
from geoqa.records.results import ResidualSet

# One point of n carries 1/n of the sum of squares on average; above this it decides the RMSE.
DECISIVE_SHARE = 0.5


def shares(sizes_m: FloatArray) -> FloatArray:
    """Return the part of each point in the sum of squares; NaN where all are zero.

    Examples
    --------
    >>> shares(np.array([0.01, -0.01, 0.02, 0.02])).tolist()
    [0.1, 0.1, 0.4, 0.4]
    """
    squares = np.asarray(sizes_m, dtype=float) ** 2
    total = squares.sum()
    return np.asarray(squares / total) if total > 0 else np.full(len(squares), np.nan)


def rmse_without(sizes_m: FloatArray) -> FloatArray:
    """Return for each point the RMSE of all others; NaN for a single point.

    Examples
    --------
    >>> rmse_without(np.array([0.03, 0.05])).round(4).tolist()
    [0.05, 0.03]
    """
    squares = np.asarray(sizes_m, dtype=float) ** 2
    if len(squares) < 2:
        return np.full(len(squares), np.nan)
    return np.asarray(np.sqrt(np.clip(squares.sum() - squares, 0.0, None) / (len(squares) - 1)))


def used_sizes(residuals: ResidualSet) -> tuple[tuple[Direction, BoolArray, FloatArray], ...]:
    """Return direction, rows and sizes of the residuals that count, for either direction."""
    return (
        ("horizontal", residuals.horizontal.used, plan_lengths(residuals.used_horizontal_m)),
        ("vertical", residuals.vertical.used, np.abs(residuals.used_vertical_m)),
    )


def point_shares(residuals: ResidualSet) -> tuple[FloatArray, FloatArray]:
    """Return the shares of all points in either direction, shape (n,); NaN for those that do not count."""
    found = []
    for _, rows, sizes_m in used_sizes(residuals):
        column = np.full(len(residuals), np.nan)
        column[rows] = shares(sizes_m)
        found.append(column)
    return found[0], found[1]


def most_influential(residuals: ResidualSet) -> tuple[Influence, ...]:
    """Return for either direction the point that weighs most; none for fewer than two points."""
    found = []
    for direction, rows, sizes_m in used_sizes(residuals):
        if len(sizes_m) > 1 and sizes_m.any():
            place = int(np.argmax(sizes_m))
            name = residuals.ids[int(np.flatnonzero(rows)[place])]
            found.append(_influence(direction, name, sizes_m, place))
    return tuple(found)


def _influence(direction: Direction, name: str, sizes_m: FloatArray, place: int) -> Influence:
    share, without_m = float(shares(sizes_m)[place]), float(rmse_without(sizes_m)[place])
    rmse_m = float(np.sqrt(np.mean(sizes_m**2)))
    sentence = (
        f"{name} carries {100 * share:.0f} % of the {direction} sum of squares; without it the RMSE of "
        f"{metres(rmse_m)} would be {metres(without_m)}."
    )
    if share >= DECISIVE_SHARE:
        sentence += " The RMSE tells of this point more than of the product: look at it first."
    return Influence(direction, name, share, rmse_m, without_m, sentence)
