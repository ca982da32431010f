"""Residuals of all points, product minus survey: the only place where their sign is chosen."""

import numpy as np

from geoqa.accuracy.use import HORIZONTAL_RULES, VERTICAL_RULES, decide, gather, surface_statuses
from geoqa.errors import MeasurementError
from geoqa.numerics.arrays import FloatArray
from geoqa.records.measurements import SurfaceSamples, SurfaceStatus, TargetFixes, TargetStatus
from geoqa.records.points import Checkpoints
from geoqa.records.results import ResidualSet, Use
from geoqa.records.settings import Limits

WITH_POSITION = (TargetStatus.FOUND, TargetStatus.SUSPECT, TargetStatus.MARKED)


def form_residuals(
    checkpoints: Checkpoints, fixes: TargetFixes, samples: SurfaceSamples, limits: Limits
) -> ResidualSet:
    """Return the residuals product minus survey, and which of them count.

    The product's position is the target centre (east, north) and the height of the surface at the
    surveyed place, or the height that came with a mark where no raster was read.

    Parameters
    ----------
    checkpoints, fixes, samples
        One row a point, in the same order. An ambiguous target gives no position.
    limits
        Slope, relief and use of float fixes.

    Raises
    ------
    MeasurementError
        When a point counts as measured and carries no number.
    """
    product_m = np.column_stack([_centres(fixes), _heights(samples, fixes)])
    delta_m = product_m - checkpoints.position_m
    evidence = gather(checkpoints, fixes, samples, limits)
    horizontal, vertical = decide(evidence, HORIZONTAL_RULES), decide(evidence, VERTICAL_RULES)
    _refuse_missing(checkpoints, horizontal, delta_m[:, :2], "plan")
    _refuse_missing(checkpoints, vertical, delta_m[:, 2:], "height")
    variance_m2 = np.diagonal(fixes.covariance_m2, axis1=1, axis2=2)
    return ResidualSet(
        ids=checkpoints.ids,
        survey_m=checkpoints.position_m,
        product_m=product_m,
        delta_m=delta_m,
        sigma_survey_m=checkpoints.sigma_m,
        sigma_product_m=np.column_stack([np.sqrt(variance_m2), np.full(len(checkpoints), np.nan)]),
        horizontal=horizontal,
        vertical=vertical,
        groups={
            "cover": _text(checkpoints.covers),
            "session": checkpoints.sessions,
            "role": _text(checkpoints.roles),
        },
    )


def _centres(fixes: TargetFixes) -> FloatArray:
    measured = np.array([fix.status in WITH_POSITION for fix in fixes.fixes], dtype=bool)
    return np.where(measured[:, None], fixes.position_m, np.nan)


def _heights(samples: SurfaceSamples, fixes: TargetFixes) -> FloatArray:
    statuses = surface_statuses(samples, fixes)
    given_m = np.where(np.isfinite(samples.height_m), samples.height_m, fixes.given_height_m)
    height_m = np.where(statuses == SurfaceStatus.SAMPLED, samples.height_m, np.nan)
    return np.where(statuses == SurfaceStatus.GIVEN, given_m, height_m)


def _text(values: tuple[str | None, ...]) -> tuple[str | None, ...]:
    return tuple(None if value is None else str(value) for value in values)


def _refuse_missing(checkpoints: Checkpoints, use: Use, delta_m: FloatArray, direction: str) -> None:
    missing = np.flatnonzero(use.used & ~np.isfinite(delta_m).all(axis=1))
    if len(missing):
        names = ", ".join(checkpoints.ids[row] for row in missing[:5])
        message = (
            f"{checkpoints.origin(int(missing[0]))}: {len(missing)} point(s) count as measured in the "
            f"{direction} and carry no number there ({names}). Set their role to “unused” to go on "
            "without them."
        )
        raise MeasurementError(message)
