"""Small invented sets of points for the tests of accuracy and standards."""

from collections.abc import Sequence

import numpy as np

from geoqa.records.measurements import (
    SurfaceSamples,
    SurfaceStatus,
    TargetFix,
    TargetFixes,
    TargetStatus,
)
from geoqa.records.points import Checkpoints, Role
from geoqa.records.results import ResidualSet, Use, UseReason
from geoqa.records.settings import Limits

NAN = float("nan")


def checkpoints(position_m, **columns):
    """Return checkpoints at these places, shape (n, 3); columns override role, fix, cover and so on."""
    count = len(position_m)
    nothing = (None,) * count
    return Checkpoints(
        ids=tuple(f"P{row + 1}" for row in range(count)),
        roles=columns.get("roles", (Role.CHECK,) * count),
        fixes=columns.get("fixes", nothing),
        covers=columns.get("covers", nothing),
        sessions=columns.get("sessions", nothing),
        targets=columns.get("targets", nothing),
        position_m=position_m,
        sigma_m=columns.get("sigma_m", np.full((count, 3), NAN)),
        survey=(),
        survey_index=np.zeros((count, 2)),
        file_steps=(),
    )


def target_fixes(statuses: Sequence[TargetStatus], position_m, covariance_m2=None, given_height_m=None):
    """Return target centres at these places, shape (n, 2)."""
    count = len(statuses)
    return TargetFixes(
        fixes=tuple(TargetFix(status) for status in statuses),
        position_m=position_m,
        covariance_m2=np.full((count, 2, 2), NAN) if covariance_m2 is None else covariance_m2,
        given_height_m=np.full(count, NAN) if given_height_m is None else given_height_m,
    )


def surface_samples(statuses: Sequence[SurfaceStatus], height_m, slope_percent=0.0, relief_m=0.0):
    """Return heights with a slope towards the east."""
    count = len(statuses)
    rise = np.broadcast_to(np.asarray(slope_percent) / 100, count)
    return SurfaceSamples(
        statuses=tuple(statuses),
        reasons=(None,) * count,
        height_m=height_m,
        gradient=np.column_stack([rise, 0 * rise]),
        roughness_m=np.zeros(count),
        relief_m=np.broadcast_to(relief_m, count),
    )


def residual_set(plan_m=None, up_m=None, *, sigma_m=None, located_m=None, not_vertical=None, **more):
    """Return residuals of points that all count where they have a number.

    Parameters
    ----------
    plan_m, up_m
        Shapes (n, 2) and (n,); one may be left out.
    sigma_m, located_m
        Standard deviations of the survey and of the target location, one row for all points.
    not_vertical
        Reason of each point for not counting in height.
    more
        `survey_m`, shape (n, 3), and `groups`.
    """
    count = len(up_m) if plan_m is None else len(plan_m)
    plan = np.full((count, 2), NAN) if plan_m is None else np.asarray(plan_m, dtype=float)
    up = np.full(count, NAN) if up_m is None else np.asarray(up_m, dtype=float)
    delta = np.column_stack([plan, up])
    survey = more.get("survey_m", np.zeros((count, 3)))
    vertical = [None if np.isfinite(value) else UseReason.NO_ELEVATION for value in up]
    vertical = vertical if not_vertical is None else not_vertical
    horizontal = [None if np.isfinite(row).all() else UseReason.NO_ORTHOMOSAIC for row in plan]
    located = (NAN, NAN) if located_m is None else located_m
    return ResidualSet(
        ids=tuple(f"P{row + 1}" for row in range(count)),
        survey_m=survey,
        product_m=survey + delta,
        delta_m=delta,
        sigma_survey_m=np.tile((NAN, NAN, NAN) if sigma_m is None else sigma_m, (count, 1)),
        sigma_product_m=np.tile((*located, NAN), (count, 1)),
        horizontal=Use([reason is None for reason in horizontal], tuple(horizontal)),
        vertical=Use([reason is None for reason in vertical], tuple(vertical)),
        groups=more.get("groups", {}),
    )


def measured(product_m, survey_m, **columns) -> tuple[Checkpoints, TargetFixes, SurfaceSamples, Limits]:
    """Return what `form_residuals` takes, for points that are all found and sampled on flat ground."""
    product, survey = np.asarray(product_m, dtype=float), np.asarray(survey_m, dtype=float)
    count = len(product)
    return (
        checkpoints(survey, **columns),
        target_fixes([TargetStatus.FOUND] * count, product[:, :2]),
        surface_samples([SurfaceStatus.SAMPLED] * count, product[:, 2]),
        Limits(),
    )
