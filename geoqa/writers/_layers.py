"""The layers of an assessment as columns and geometries, all features at once."""

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.assessment import Assessment
from geoqa.writers._columns import Columns, Values, checkpoint_columns, target_columns, use_columns
from geoqa.writers._evidence_rows import next_points, support_features
from geoqa.writers._exaggeration import exaggeration
from geoqa.writers._survey_points import survey_points
from geoqa.writers._untested import hull

Geometries = NDArray[np.object_]

PROBABILITY = 0.95
# Chi-square with two degrees of freedom: the ellipse of probability p is sqrt(-2 ln(1 - p)) standard ones.
ELLIPSE_FACTOR = float(np.sqrt(-2 * np.log(1 - PROBABILITY)))
_RING = np.linspace(0.0, 2 * np.pi, 37)


def layer(assessment: Assessment, name: str) -> tuple[Columns, Geometries]:
    """Return columns and geometries of one layer, in the unit of the CRS; one entry a feature."""
    columns, geometries = _LAYERS[name](assessment)
    return columns, np.asarray(geometries, dtype=object)


def _checkpoints(assessment: Assessment) -> tuple[Columns, Any]:
    position = assessment.residuals.survey_m / assessment.frame.unit.metres
    return checkpoint_columns(assessment), shapely.points(position)


def _residual_vectors(assessment: Assessment) -> tuple[Columns, Any]:
    rows = _measured(assessment)
    factor = exaggeration(assessment)
    delta = assessment.residuals.delta_m[rows]
    start = assessment.residuals.survey_m[rows, :2]
    ends = np.stack([start, start + factor * delta[:, :2]], axis=1)
    columns: Columns = {
        "id": _chosen(assessment.residuals.ids, rows),
        "residual_east_m": delta[:, 0],
        "residual_north_m": delta[:, 1],
        "residual_horizontal_m": np.hypot(delta[:, 0], delta[:, 1]),
        "azimuth_deg": np.degrees(np.arctan2(delta[:, 0], delta[:, 1])) % 360,
        "exaggeration": np.full(len(delta), factor),
        **_horizontal_use(assessment, rows),
    }
    return columns, shapely.linestrings(ends / assessment.frame.unit.metres)


def _error_ellipses(assessment: Assessment) -> tuple[Columns, Any]:
    covariance, basis = _covariance(assessment)
    variances, axes = np.linalg.eigh(covariance)
    rows = _measured(assessment) & (variances[:, 0] > 0)
    semi, axes = ELLIPSE_FACTOR * np.sqrt(variances[rows]), axes[rows]
    factor = exaggeration(assessment)
    head = assessment.residuals.survey_m[rows, :2] + factor * assessment.residuals.delta_m[rows, :2]
    ring = np.stack([semi[:, :1] * np.sin(_RING), semi[:, 1:] * np.cos(_RING)], axis=-1)
    outline = head[:, None] + factor * np.einsum("kij,krj->kri", axes, ring)
    # The last corner must be the first one to the last bit.
    outline[:, -1] = outline[:, 0]
    columns: Columns = {
        "id": _chosen(assessment.residuals.ids, rows),
        "probability": np.full(len(semi), PROBABILITY),
        "semi_major_m": semi[:, 1],
        "semi_minor_m": semi[:, 0],
        "azimuth_deg": np.degrees(np.arctan2(axes[:, 0, 1], axes[:, 1, 1])) % 180,
        "basis": _chosen(basis, rows),
        "exaggeration": np.full(len(semi), factor),
        **_horizontal_use(assessment, rows),
    }
    return columns, shapely.polygons(outline / assessment.frame.unit.metres)


def _covariance(assessment: Assessment) -> tuple[FloatArray, Values]:
    """Return the sum of the covariances that are known, (n, 2, 2), and which ones they are."""
    sigma = assessment.residuals.sigma_survey_m[:, :2]
    survey = np.zeros((len(sigma), 2, 2))
    survey[:, [0, 1], [0, 1]] = sigma**2
    target = assessment.fixes.covariance_m2
    surveyed = np.asarray(np.isfinite(survey).all(axis=(1, 2)))
    located = np.asarray(np.isfinite(target).all(axis=(1, 2)))
    total: FloatArray = np.where(surveyed[:, None, None], survey, 0.0)
    total = total + np.where(located[:, None, None], target, 0.0)
    names = np.array(["nothing", "target only", "survey only", "survey and target"], dtype=object)
    return total, names[2 * surveyed + located]


def _found_targets(assessment: Assessment) -> tuple[Columns, Any]:
    position = assessment.fixes.position_m
    rows = np.asarray(np.isfinite(position).all(axis=1))
    columns: Columns = {
        "id": _chosen(assessment.residuals.ids, rows),
        **{name: _chosen(values, rows) for name, values in target_columns(assessment).items()},
        "easting_m": position[rows, 0],
        "northing_m": position[rows, 1],
        **_horizontal_use(assessment, rows),
    }
    return columns, shapely.points(position[rows] / assessment.frame.unit.metres)


def _tested_area(assessment: Assessment) -> tuple[Columns, Any]:
    residuals, unit_m = assessment.residuals, assessment.frame.unit.metres
    found = []
    for direction, use in (("horizontal", residuals.horizontal), ("vertical", residuals.vertical)):
        tested = hull(residuals.survey_m[use.used, :2] / unit_m)
        if tested is not None:
            found.append((direction, int(use.used.sum()), tested.area * unit_m**2, tested))
    names = ("direction", "point_count", "area_m2")
    columns: Columns = {name: [row[place] for row in found] for place, name in enumerate(names)}
    return columns, [row[-1] for row in found]


_LAYERS: Mapping[str, Callable[[Assessment], tuple[Columns, Any]]] = {
    "checkpoints": _checkpoints,
    "residual_vectors": _residual_vectors,
    "error_ellipses": _error_ellipses,
    "found_targets": _found_targets,
    "tested_area": _tested_area,
    "support": support_features,
    "next_points": next_points,
    "survey_points": survey_points,
}


def _measured(assessment: Assessment) -> BoolArray:
    return np.asarray(np.isfinite(assessment.residuals.delta_m[:, :2]).all(axis=1))


def _horizontal_use(assessment: Assessment, rows: BoolArray) -> Columns:
    use = use_columns(assessment)
    return {name: _chosen(use[name], rows) for name in ("horizontal_used", "horizontal_reason")}


def _chosen(values: Values, rows: BoolArray) -> Values:
    if isinstance(values, np.ndarray):
        return np.asarray(values[rows])
    return [value for value, kept in zip(values, rows.tolist(), strict=True) if kept]
