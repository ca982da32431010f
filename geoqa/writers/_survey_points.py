"""The layer `survey_points` of the USGS delivery: surveyed numbers as the file has them."""

from typing import Any

import numpy as np
import shapely

from geoqa.numerics.arrays import FloatArray
from geoqa.records.assessment import Assessment
from geoqa.records.columns import Table
from geoqa.records.points import Role
from geoqa.records.results import UseReason
from geoqa.records.settings import Points
from geoqa.records.usgs_table import SURVEY_POINTS
from geoqa.writers._columns import Columns

NVA, VVA, CONTROL = "NVA", "VVA", "control"
_SAME = "same as products"


def survey_points(assessment: Assessment) -> tuple[Columns, Any]:
    """Return columns and geometries: checkpoints that count for the height, vegetated ones, control points.

    The specification forbids checkpoints that the assessment did not use.
    """
    rows, kinds = _chosen(assessment)
    residuals, unit_m = assessment.residuals, assessment.frame.unit.metres
    files = [int(assessment.checkpoints.survey_index[row, 0]) for row in rows]
    place = residuals.survey_m[rows] / np.array([unit_m, unit_m, 1.0])
    source = _source(assessment, rows)
    columns: Columns = {
        "unique_identifier": [residuals.ids[row] for row in rows],
        "point_type": kinds,
        "comment": [assessment.checkpoints.attribute("description", row) for row in rows],
        "collection_date": [assessment.checkpoints.attribute("time", row) for row in rows],
        "source_geoid": [_geoid(assessment, file) for file in files],
        **_of_files(assessment, files),
        "source_easting": source[:, 0],
        "source_northing": source[:, 1],
        "source_elevation": source[:, 2],
        "project_id": [assessment.title] * len(rows),
    }
    return columns, shapely.points(place) if len(place) else np.array([], dtype=object)


def _chosen(assessment: Assessment) -> tuple[list[int], list[str]]:
    use, roles = assessment.residuals.vertical, assessment.checkpoints.roles
    rows, kinds = [], []
    for row, role in enumerate(roles):
        kind = NVA if use.used[row] else VVA if use.reasons[row] is UseReason.VEGETATED else None
        kind = CONTROL if role is Role.CONTROL else kind
        if kind is not None and np.isfinite(assessment.residuals.survey_m[row]).all():
            rows.append(row)
            kinds.append(kind)
    return rows, kinds


def _source(assessment: Assessment, rows: list[int]) -> FloatArray:
    survey = assessment.checkpoints
    numbers = [survey.survey[file].coordinates[row] for file, row in survey.survey_index[rows].tolist()]
    return np.array(numbers, dtype=float).reshape(-1, 3)


def _of_files(assessment: Assessment, files: list[int]) -> Columns:
    told = {file: _file(assessment, file) for file in set(files)}
    names = ("horizontal_epsg", "horizontal_unit", "vertical_epsg", "vertical_unit")
    return {f"source_{name}": [told[file][place] for file in files] for place, name in enumerate(names)}


def _file(assessment: Assessment, file: int) -> tuple[str | None, str, str | None, str]:
    survey, frame = assessment.checkpoints.survey[file], assessment.frame
    tables = assessment.settings.points
    table: Points = tables[file] if file < len(tables) else tables[-1]
    crs = survey.crs if table.crs == _SAME else None
    known = (crs or frame.crs).to_authority(min_confidence=100)
    horizontal = _epsg(":".join(known) if known else None) if table.crs == _SAME else _epsg(table.crs)
    height = frame.height_system if table.height_system == _SAME else table.height_system
    unit = table.unit or survey.unit or frame.unit
    height_unit = table.height_unit or table.unit or survey.height_unit or survey.unit or frame.unit
    return horizontal, "degree" if survey.geographic else unit.value, _epsg(height), height_unit.value


def _epsg(code: str | None) -> str | None:
    """Return the number of an EPSG code; of a compound code that of its first part; None for any other."""
    if code is None or not code.startswith("EPSG:"):
        return None
    return code.removeprefix("EPSG:").split("+")[0]


def _geoid(assessment: Assessment, file: int) -> str | None:
    grids = [grid for step in assessment.checkpoints.file_steps[file] for grid in step.grids]
    named = assessment.settings.geoid
    return "; ".join(dict.fromkeys(grids)) or (None if named is None else named.grid)


def tables_asked(assessment: Assessment, always: tuple[Table, ...]) -> tuple[Table, ...]:
    """Return the tables to write: those that are always written, and this layer where it was asked for."""
    return (*always, SURVEY_POINTS) if assessment.settings.deliver.survey_points else always
