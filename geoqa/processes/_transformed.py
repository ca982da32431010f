"""A table of points read, brought into a frame, and written again."""

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from geoqa.errors import FrameError, InputError
from geoqa.frame.axes import crs_title, plan_unit
from geoqa.frame.bring import Given, bring
from geoqa.frame.datums import SAME_AS_PRODUCTS
from geoqa.frame.projection import to_geographic
from geoqa.frame.target_frame import TargetFrame, target_products
from geoqa.numerics.arrays import FloatArray
from geoqa.prepare import separations
from geoqa.readers.points import PointsRequest, read_points
from geoqa.readers.provenance import fingerprint, found_by_proj
from geoqa.readers.used_grids import refuse_holes
from geoqa.records.base import BaseCorrection
from geoqa.records.points import CoordinateStep, SurveyPoints
from geoqa.records.settings import Points, Settings
from geoqa.writers._point_table import point_table, write_table
from geoqa.writers.results_json import finite


def transformed(
    settings: Settings, target: TargetFrame, file: Path, *, base: tuple[BaseCorrection, ...] = ()
) -> Mapping[str, Any]:
    """Write the points of the settings in the target frame, and return what was done.

    Heights stay those that were measured: a target height is kept beside them. Points that rest on a
    `base` move with it first.
    """
    (table,) = settings.points
    survey = read_points(settings.file(table.path), PointsRequest(table.layout, table.columns))
    _refuse_nameless(survey, table)
    products = replace(target_products(target), base=base)
    as_measured = replace(survey, target_height_m=np.zeros(len(survey)))
    try:
        with separations(settings, (as_measured,), products) as geoid:
            brought = bring(as_measured, table, products, Given(settings.limits, geoid))
    except FrameError as reason:
        raise FrameError(_of_target(str(reason))) from None
    crs = products.frame.crs
    refuse_holes(survey, brought.steps, to_geographic(brought.plan, crs))
    coordinates = np.column_stack([brought.plan, brought.height_m / products.height_unit.metres])
    unit = plan_unit(crs, "target_crs")
    write_table(file, point_table(survey, coordinates, unit=unit, height_unit=products.height_unit))
    grids = dict.fromkeys(grid for step in brought.steps for grid in step.grids)
    return {
        "file": str(file),
        "crs": crs_title(crs),
        "height_system": brought.heights.title,
        "count": len(survey),
        "steps": [_step(step) for step in brought.steps],
        "assumptions": [_of_target(sentence) for sentence in brought.assumptions],
        "messages": [_of_target(sentence) for sentence in brought.messages],
        "grids": [_grid(name) for name in grids],
    }


def _of_target(sentence: str) -> str:
    """Return a sentence about points and products as one about points and what they are brought into."""
    keyed = re.sub(r"\b(orthomosaic|elevation)\.(?=frame|epoch|height_system)", "target_", sentence)
    # “same as products” is a value of a setting.
    return re.sub(r"(?<!same as )\bproducts\b", "target", keyed)


def _refuse_nameless(survey: SurveyPoints, table: Points) -> None:
    if survey.crs is None and table.crs == SAME_AS_PRODUCTS:
        message = (
            f"{survey.source}: nothing states the CRS of the points. Name it with --points-crs, such as "
            "EPSG:9990."
        )
        raise InputError(message)


def _step(step: CoordinateStep) -> dict[str, Any]:
    known = np.isfinite(step.change_m).all(axis=1)
    median: FloatArray | None = np.median(step.change_m[known], axis=0) if known.any() else None
    return {
        "title": step.title,
        "operation": step.operation,
        "accuracy_m": step.accuracy_m,
        "grids": list(step.grids),
        "median_change_m": None if median is None else finite(median.tolist()),
    }


def _grid(name: str) -> dict[str, Any]:
    found = fingerprint(found_by_proj(name), "grid")
    return {"path": found.path, "sha256": found.sha256, "size_bytes": found.size_bytes}
