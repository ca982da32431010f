"""Trends through residuals: a shift, a plane, a similarity, and what they leave at points they were not "
"fitted to."""

from dataclasses import dataclass

import numpy as np

from geoqa.numerics.arrays import FloatArray


@dataclass(frozen=True, eq=False)
class Trend:
    """A trend fitted to residuals by least squares.

    Attributes
    ----------
    left : array, as the residuals
        Without the trend.
    left_out : array, as the residuals
        What each residual lacks of the trend through all others (leave one out); NaN where one point alone
        carries an amplitude.
    """

    left: FloatArray
    left_out: FloatArray

    def rmse_m(self) -> float:
        """Return the RMSE of what is left, radial for the plan."""
        return _rmse(self.left)

    def leave_one_out_rmse_m(self) -> float:
        """Return the RMSE at points that the trend was not fitted to; NaN where it cannot be had."""
        return _rmse(self.left_out)


def shift(delta_m: FloatArray) -> Trend:
    """Return the mean taken off, of plan residuals (n, 2) or heights (n,)."""
    n = len(delta_m)
    left = delta_m - delta_m.mean(axis=0)
    return Trend(left, left * n / (n - 1) if n > 1 else np.full_like(left, np.nan))


def plane(position_m: FloatArray, up_m: FloatArray) -> Trend:
    """Return a plane over easting and northing, shape (n, 2), taken off heights, shape (n,)."""
    return fitted(np.column_stack([np.ones(len(up_m)), _centred(position_m)]), up_m)


def similarity(position_m: FloatArray, plan_m: FloatArray) -> Trend:
    """Return shift, turn and scale taken off plan residuals, shape (n, 2).

    Leaving a point out leaves out both of its components.
    """
    east, north = _centred(position_m).T
    n = len(plan_m)
    design = np.zeros((n, 2, 4))
    design[:, 0, 0] = design[:, 1, 1] = 1.0
    design[:, 0, 2], design[:, 1, 2] = east, north
    design[:, 0, 3], design[:, 1, 3] = -north, east
    columns = design.reshape(2 * n, 4)
    inverse = np.linalg.pinv(columns.T @ columns)
    left = plan_m - (columns @ (inverse @ (columns.T @ plan_m.ravel()))).reshape(n, 2)
    leverage = design @ inverse @ design.transpose(0, 2, 1)
    remaining = np.eye(2) - leverage
    singular = np.abs(np.linalg.det(remaining)) < 1e-9
    remaining[singular] = np.eye(2)
    left_out = np.asarray(np.linalg.solve(remaining, left[:, :, None])[:, :, 0], dtype=np.float64)
    left_out[singular] = np.nan
    return Trend(left, left_out)


def fitted(columns: FloatArray, values: FloatArray) -> Trend:
    """Return any columns, shape (n, p), taken off values, shape (n,).

    References
    ----------
    [Allen1974]_: the residual of a point left out is its residual over one minus its leverage.
    """
    inverse = np.linalg.pinv(columns.T @ columns)
    left = values - columns @ (inverse @ (columns.T @ values))
    leverage = np.einsum("ij,jk,ik->i", columns, inverse, columns)
    alone = 1 - leverage < 1e-9
    left_out = np.where(alone, np.nan, left / np.where(alone, 1.0, 1 - leverage))
    return Trend(left, left_out)


def _centred(position_m: FloatArray) -> FloatArray:
    centred: FloatArray = position_m - position_m.mean(axis=0)
    size = float(np.abs(centred).max()) if len(centred) else 0.0
    return centred / size if size > 0 else centred


def _rmse(values: FloatArray) -> float:
    squares = values**2 if values.ndim == 1 else (values**2).sum(axis=1)
    return float(np.sqrt(squares.mean())) if len(squares) and np.isfinite(squares).all() else float("nan")
