"""The columns of the checkpoints, all points at once; CSV and GeoJSON hold the same ones."""

from collections.abc import Iterable, Iterator, Sequence
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoqa.numerics.arrays import FloatArray, IntArray
from geoqa.records.assessment import Assessment
from geoqa.records.columns import Column, ColumnType
from geoqa.records.points import Checkpoints, CoordinateStep
from geoqa.records.survey import SurveyQuality
from geoqa.records.tables import CHECKPOINTS
from geoqa.writers._evidence_rows import influence_columns

Values = Sequence[Any] | NDArray[Any]
Columns = dict[str, Values]

# Lengths to the micrometre: shorter to read than the floats of results.json, and sharper than any survey.
TEXT_DECIMALS = 6
# Points written at a time: enough to be quick, few enough to need little memory.
CHUNK = 4096


def checkpoint_columns(assessment: Assessment) -> Columns:
    """Return the columns of `geoqa.records.tables.CHECKPOINTS`, NaN and None where nothing is known."""
    return {
        **_surveyed(assessment.checkpoints),
        **_positions(assessment),
        **_survey_quality(assessment.survey_quality),
        **influence_columns(assessment),
        **use_columns(assessment),
        **target_columns(assessment),
        **_surface(assessment),
        **_frame(assessment),
    }


def rounded_chunks(assessment: Assessment) -> Iterator[Columns]:
    """Yield the same columns in the order of the list, some thousand points at a time, rounded for text."""
    columns = checkpoint_columns(assessment)
    for start in range(0, len(assessment.checkpoints), CHUNK):
        rows = slice(start, start + CHUNK)
        yield {column.name: _rounded(columns[column.name][rows], column) for column in CHECKPOINTS.columns}


def _rounded(values: Values, column: Column) -> Values:
    if column.type is not ColumnType.REAL:
        return values
    # Adding zero turns -0.0 into 0.0.
    return np.round(np.asarray(values, dtype=float), TEXT_DECIMALS) + 0.0


def or_none(values: FloatArray) -> list[Any]:
    """Return an array as nested lists with None for NaN and infinity.

    Examples
    --------
    >>> or_none(np.array([[0.5, np.nan]]))
    [[0.5, None]]
    """
    missing = ~np.isfinite(values)
    listed = values.astype(object)
    listed[missing] = None
    return list(listed.tolist())


def use_columns(assessment: Assessment) -> Columns:
    """Return use and reason of either direction."""
    horizontal, vertical = assessment.residuals.horizontal, assessment.residuals.vertical
    return {
        "horizontal_used": horizontal.used,
        "horizontal_reason": plain(horizontal.reasons),
        "vertical_used": vertical.used,
        "vertical_reason": plain(vertical.reasons),
    }


def target_columns(assessment: Assessment) -> Columns:
    """Return what was found in the orthomosaic, in pixels."""
    fixes = assessment.fixes.fixes
    covariance = np.array([fix.covariance_px2 for fix in fixes], dtype=float).reshape(-1, 2, 2)
    sigma = np.sqrt(covariance[:, [0, 1], [0, 1]])
    with np.errstate(divide="ignore", invalid="ignore"):
        correlation = covariance[:, 0, 1] / (sigma[:, 0] * sigma[:, 1])
    return {
        "target_status": plain([fix.status for fix in fixes]),
        "target_kind": [fix.kind for fix in fixes],
        "target_row_px": np.array([fix.row for fix in fixes], dtype=float),
        "target_col_px": np.array([fix.col for fix in fixes], dtype=float),
        "target_sigma_row_px": sigma[:, 0],
        "target_sigma_col_px": sigma[:, 1],
        "target_correlation": correlation,
        "target_score": np.array([fix.score for fix in fixes], dtype=float),
        "target_flags": [joined(fix.flags) for fix in fixes],
        "target_reason": [fix.reason for fix in fixes],
    }


def slope_deg(assessment: Assessment) -> FloatArray:
    """Return the steepest slope of the fitted plane as an angle, NaN where there is none."""
    angle: FloatArray = np.degrees(np.arctan(assessment.samples.slope_percent / 100))
    return angle


def slope_effect_m(assessment: Assessment) -> FloatArray:
    """Return how much the fitted plane rises over the horizontal residual, shape (n,), NaN if unknown."""
    rise: FloatArray = (assessment.samples.gradient * assessment.residuals.delta_m[:, :2]).sum(axis=1)
    return rise


def plain(values: Sequence[StrEnum | None]) -> list[str | None]:
    """Return the words of an enumeration as text."""
    words = {value: None if value is None else value.value for value in set(values)}
    return [words[value] for value in values]


def joined(texts: Iterable[str]) -> str | None:
    """Return texts joined by “; ”, None where there are none."""
    return "; ".join(texts) or None


def _surveyed(points: Checkpoints) -> Columns:
    row = _flat_rows(points)
    texts = ("time", "occupation", "antenna_height", "separation", "description")
    return {
        "id": points.ids,
        "source_file": [points.survey[file].source for file in points.survey_index[:, 0].tolist()],
        "source_line": _gathered((part.lines.tolist() for part in points.survey), row),
        "role": plain(points.roles),
        "fix": plain(points.fixes),
        "cover": plain(points.covers),
        "session": points.sessions,
        "target": points.targets,
        **{
            name: _gathered((part.attributes.get(name, (None,) * len(part)) for part in points.survey), row)
            for name in texts
        },
    }


def _positions(assessment: Assessment) -> Columns:
    residuals = assessment.residuals
    delta = residuals.delta_m
    return {
        **_split("survey_{}_m", ("easting", "northing", "height"), residuals.survey_m),
        **_split("product_{}_m", ("easting", "northing", "height"), residuals.product_m),
        **_split("residual_{}_m", ("east", "north", "up"), delta),
        "residual_horizontal_m": np.hypot(delta[:, 0], delta[:, 1]),
        **_split("sigma_survey_{}_m", ("east", "north", "up"), residuals.sigma_survey_m),
        **_split("sigma_product_{}_m", ("east", "north", "up"), residuals.sigma_product_m),
    }


def _survey_quality(quality: SurveyQuality) -> Columns:
    return {
        "occupations": quality.occupations,
        "shots": quality.shots,
        **_split("repeat_{}_m", ("east", "north", "up"), quality.spread_m),
        **_split("sigma_reported_{}_m", ("east", "north", "up"), quality.sigma_reported_m),
        "survey_flags": _joined_once(quality.flags),
        "survey_reasons": [joined(quality.reasons.get(row, ())) for row in range(len(quality))],
    }


def _joined_once(values: Sequence[tuple[StrEnum, ...]]) -> list[str | None]:
    texts = {value: joined(value) for value in set(values)}
    return [texts[value] for value in values]


def _split(pattern: str, names: tuple[str, ...], values: FloatArray) -> Columns:
    return {pattern.format(name): values[:, column] for column, name in enumerate(names)}


def _surface(assessment: Assessment) -> Columns:
    samples = assessment.samples
    return {
        "surface_status": plain(samples.statuses),
        "surface_reason": samples.reasons,
        "surface_slope_percent": samples.slope_percent,
        "surface_slope_deg": slope_deg(assessment),
        "surface_roughness_m": samples.roughness_m,
        "surface_relief_m": samples.relief_m,
        "surface_slope_effect_m": slope_effect_m(assessment),
    }


def _frame(assessment: Assessment) -> Columns:
    n = len(assessment.checkpoints)
    epoch = assessment.frame.epoch
    return {
        "height_system": [assessment.frame.height_system] * n,
        "epoch_year": np.full(n, np.nan if epoch is None else epoch),
        "steps": _steps(assessment.checkpoints),
    }


def _steps(points: Checkpoints) -> Values:
    texts: list[list[str | None]] = []
    for part, steps in zip(points.survey, points.file_steps, strict=True):
        described = [_described(step, len(part)) for step in steps]
        nothing: list[str | None] = [None] * len(part)
        texts.append([joined(row) for row in zip(*described, strict=True)] if described else nothing)
    return _gathered(texts, _flat_rows(points))


def _described(step: CoordinateStep, count: int) -> list[str]:
    """Return for each point of a file the step and what it changed there, in words."""
    accuracy = "" if step.accuracy_m is None else f"accuracy {step.accuracy_m:g} m"
    head = f"{step.title}: {step.operation}"
    # Adding zero turns -0.0 into 0.0.
    changes = np.round(step.change_m, 4) + 0.0
    alike = count > 0 and np.array_equal(changes, np.repeat(changes[:1], count, axis=0), equal_nan=True)
    texts = [_with_change(head, row, accuracy) for row in (changes[:1] if alike else changes).tolist()]
    return texts * count if alike else texts


def _with_change(head: str, change: list[float], accuracy: str) -> str:
    known = [(axis, value) for axis, value in zip("ENU", change, strict=True) if np.isfinite(value)]
    inside = [*(f"{axis} {value:+.4f} m" for axis, value in known), *([accuracy] if accuracy else [])]
    return f"{head} ({', '.join(inside)})" if inside else head


def _flat_rows(points: Checkpoints) -> IntArray:
    """Return for each point its row in all files put one after another."""
    starts = np.cumsum([0, *(len(part) for part in points.survey)])
    rows: IntArray = starts[points.survey_index[:, 0]] + points.survey_index[:, 1]
    return rows


def _gathered(parts: Iterable[Sequence[Any]], rows: IntArray) -> list[Any]:
    whole = [value for part in parts for value in part]
    return [whole[row] for row in rows.tolist()]
