"""What all points share: errors of the base and of the frame, which no number of points makes smaller."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from geoqa.numerics.arrays import FloatArray
from geoqa.records.base import BaseCorrection
from geoqa.records.points import Checkpoints, CoordinateStep

INDEPENDENT = "independent"
BASE_STEP = "base correction"


@dataclass(frozen=True, eq=False)
class CommonError:
    """The uncertainty that the residuals do not show, for the plan and for the height.

    Attributes
    ----------
    known
        False where nothing says how well the base is known: then there is no absolute accuracy.
    variances_m2
        Of the plan (east and north added) and of the height.
    relative_to
        What absolute accuracy is relative to, or why it is not stated.
    """

    known: bool
    variances_m2: tuple[float, float]
    relative_to: str


NO_BASE = CommonError(
    known=False,
    variances_m2=(0.0, 0.0),
    relative_to=(
        "the reference frame: not stated, because the uncertainty of the base position and of the frame is "
        "not known; all other figures are relative to the survey"
    ),
)


def common_error(corrections: Sequence[BaseCorrection], checkpoints: Checkpoints) -> CommonError:
    """Return what survey and products share, from the bases and the steps of the points.

    The uncertainty of the base counts where rover and products had the same one; that of a base which the
    products were made without is in the residuals already. That of operations between frames and of
    geoids counts always.
    """
    if not corrections:
        return NO_BASE
    shared = [item for item in corrections if item.products_use != INDEPENDENT]
    if any(item.covariance_m2 is None for item in shared):
        return CommonError(
            known=False,
            variances_m2=(0.0, 0.0),
            relative_to=(
                "the reference frame: not stated, because nothing says how well the precise position of the "
                "base is known (base.precise.sigma_m); all other figures are relative to the survey"
            ),
        )
    operation = _operations_m2(checkpoints)
    base = np.max([_variances_m2(item) for item in shared], axis=0) if shared else np.zeros(2)
    plan, height = (base + operation).tolist()
    return CommonError(known=True, variances_m2=(plan, height), relative_to=_words(shared, operation))


def _variances_m2(correction: BaseCorrection) -> tuple[float, float]:
    covariance = correction.covariance_m2
    if covariance is None:
        return float("nan"), float("nan")
    east, north, up = np.diagonal(covariance).tolist()
    moved = correction.operation_accuracy_m**2
    return east + north + moved, up + moved


def _operations_m2(checkpoints: Checkpoints) -> FloatArray:
    """Return the variances of the operations on the points, plan and height; those of the worst file."""
    files = [_of_steps(steps) for steps in checkpoints.file_steps]
    worst: FloatArray = np.max([np.zeros(2), *files], axis=0)
    return worst


def _of_steps(steps: Sequence[CoordinateStep]) -> FloatArray:
    total = np.zeros(2)
    for step in steps:
        if step.accuracy_m is not None and step.title != BASE_STEP:
            change = np.abs(np.nan_to_num(step.change_m))
            total += step.accuracy_m**2 * np.array([change[:, :2].any(), change[:, 2].any()])
    return total


def _words(shared: Sequence[BaseCorrection], operation_m2: FloatArray) -> str:
    return ", ".join(_parts(shared, operation_m2))


def _parts(shared: Sequence[BaseCorrection], operation_m2: FloatArray) -> Iterator[str]:
    if shared:
        yield "the reference frame, as the precise position of the base realises it"
        yield "with the uncertainty of that position, which survey and products share"
    else:
        yield "the reference frame"
        yield (
            "since survey and products rest on different bases, the errors of both positions are in the "
            "residuals already"
        )
    accuracy = float(np.sqrt(operation_m2.max()))
    if accuracy > 0:
        yield f"and with that of the operations between frames ({accuracy:g} m)"
    if any(item.products_use == "assumed" for item in shared):
        yield "for products that have been moved by the base correction, which they lack as delivered"


def sigma_of_mean(correction: BaseCorrection, point_sigma_m: FloatArray) -> FloatArray | None:
    """Return the standard deviations east, north, up of the mean of points, shape (3,), or None.

    σ² = σ_base² + Σσ_point²/n²: the base is in every point alike, so its part does not shrink with n.

    Parameters
    ----------
    point_sigma_m : array, shape (n, 3)
        Of the points themselves, from the base. NaN where unknown: then there is no figure for that axis.

    Returns
    -------
    array, shape (3,), or None
        None where the uncertainty of the base is unknown or there is no point.

    Examples
    --------
    >>> import pyproj
    >>> base = BaseCorrection(None, pyproj.CRS("EPSG:9989"), 2026.0, np.zeros(3), np.zeros(3), np.zeros(3),
    ...                       np.diag([0.03**2] * 3), 0.0, "assumed", "assumed", "")
    >>> sigma_of_mean(base, np.full((4, 3), 0.08)).round(3).tolist()
    [0.05, 0.05, 0.05]
    """
    if correction.covariance_m2 is None or not len(point_sigma_m):
        return None
    own = (point_sigma_m**2).sum(axis=0) / len(point_sigma_m) ** 2
    sigma: FloatArray = np.sqrt(np.diagonal(correction.covariance_m2) + own)
    return sigma
