"""Bring points into the common frame: units, datum, projection, the height of the target."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import TypeVar

import numpy as np
import pyproj

from geoqa.errors import FrameError
from geoqa.frame.axes import crs_name, equal_crs, plan_unit
from geoqa.frame.datum_change import change_datum, epochs_apart
from geoqa.frame.datums import geographic, same_datum
from geoqa.frame.declare import Products
from geoqa.frame.declare_points import StatedPoints, stated_points
from geoqa.frame.projection import from_geographic, to_geographic
from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.records.points import Checkpoints, CoordinateStep, SurveyPoints
from geoqa.records.settings import Limits, Points
from geoqa.units import LinearUnit

T = TypeVar("T")


def to_frame(
    surveys: Sequence[SurveyPoints], declared: Sequence[Points], products: Products, limits: Limits
) -> Checkpoints:
    """Return the points of all files in the common frame.

    Parameters
    ----------
    surveys, declared
        Files as read and their tables in the settings, in the same order.

    Raises
    ------
    FrameError
        When something cannot be done exactly: the sentence says what, and what to do.
    """
    brought = [
        _bring(survey, table, products, limits) for survey, table in zip(surveys, declared, strict=True)
    ]
    numbers = [(file, row) for file, survey in enumerate(surveys) for row in range(len(survey))]
    return Checkpoints(
        ids=_joined(survey.ids for survey in surveys),
        roles=_joined(survey.roles for survey in surveys),
        fixes=_joined(survey.fixes for survey in surveys),
        covers=_joined(survey.covers for survey in surveys),
        sessions=_joined(survey.sessions for survey in surveys),
        targets=_joined(survey.targets for survey in surveys),
        position_m=np.concatenate([np.empty((0, 3)), *(item.position_m for item in brought)]),
        sigma_m=np.concatenate([np.empty((0, 3)), *(survey.sigma_m for survey in surveys)]),
        survey=tuple(surveys),
        survey_index=np.array(numbers, dtype=int).reshape(-1, 2),
        file_steps=tuple(item.steps for item in brought),
        assumptions=tuple(dict.fromkeys(_joined(item.assumptions for item in brought))),
        messages=tuple(dict.fromkeys(_joined(item.messages for item in brought))),
    )


def marks_to_frame(
    survey: SurveyPoints, products: Products, declared: Sequence[Points], limits: Limits | None = None
) -> Checkpoints:
    """Return positions picked by hand in the common frame.

    They are in the CRS of the orthomosaic, or where there is none in what the first table of points
    declares; a CRS and units that the file itself carries hold.
    """
    table = Points(path=survey.source)
    if products.orthomosaic is None:
        table = declared[0].model_copy(update={"path": survey.source})
    return to_frame([survey], [table], products, limits or Limits())


@dataclass(frozen=True, eq=False)
class _Brought:
    position_m: FloatArray
    steps: tuple[CoordinateStep, ...]
    assumptions: tuple[str, ...]
    messages: tuple[str, ...]


def _bring(survey: SurveyPoints, table: Points, products: Products, limits: Limits) -> _Brought:
    """Return the points of one file in the common frame, with what was done to them."""
    _refuse_rows(survey, np.isfinite(survey.coordinates[:, :2]), "has no position")
    stated = stated_points(survey, table, products)
    if stated.unit is None:
        on_earth = np.abs(survey.coordinates[:, :2]) <= (360.0, 90.0)
        _refuse_rows(survey, on_earth, "has no longitude and latitude in degrees")
    messages = epochs_apart(stated, products)
    plan = survey.coordinates[:, :2] * _ratio(stated.unit, plan_unit(stated.crs, stated.source))
    height_m = survey.coordinates[:, 2] * stated.height_unit.metres
    steps = list(_unit_step(stated))
    one_datum = same_datum(stated.datum, products.datum)
    if len(survey) and not (one_datum and equal_crs(stated.crs, products.frame.crs)):
        for crs in (stated.crs, products.frame.crs):
            geographic(crs, survey.source)  # refuses a local grid
        lon_lat = to_geographic(plan, stated.crs)
        _refuse_rows(survey, np.isfinite(lon_lat), f"lies outside what {crs_name(stated.crs)} can hold")
        if not one_datum:
            changed = change_datum(stated, products, limits, lon_lat, height_m)
            lon_lat, height_m = changed.lon_lat, changed.height_m
            steps.append(changed.step)
            messages += changed.messages
        plan = from_geographic(lon_lat, products.frame.crs)
        _refuse_rows(survey, np.isfinite(plan), f"lies outside what {products.frame.name} can hold")
        steps.extend(_projection_step(stated, products))
    steps.extend(_target_step(survey))
    plan_m = plan * products.frame.unit.metres
    position = np.column_stack([plan_m, height_m - survey.target_height_m])
    return _Brought(position, tuple(steps), stated.assumptions, messages)


def _refuse_rows(survey: SurveyPoints, right: BoolArray, found: str) -> None:
    """Raise `FrameError` that names the first row of which a number is not right, shape (n, 2)."""
    wrong = np.flatnonzero(~right.all(axis=1))
    if len(wrong):
        row = int(wrong[0])
        first, second = survey.coordinates[row, :2]
        others = f" ({len(wrong) - 1} more are like it)" if len(wrong) > 1 else ""
        message = (
            f"{survey.origin(row)}: point “{survey.ids[row]}” at {first:g}, {second:g} {found}{others}. "
            "Mend the line, or the CRS, unit and columns under [points]."
        )
        raise FrameError(message)


def _ratio(unit: LinearUnit | None, unit_of_crs: LinearUnit | None) -> float:
    if unit is None or unit_of_crs is None or unit is unit_of_crs:
        return 1.0
    return unit.metres / unit_of_crs.metres


def _unit_step(stated: StatedPoints) -> Iterable[CoordinateStep]:
    metre = LinearUnit.METRE
    changed = []
    if stated.unit not in (None, metre):
        changed.append(f"easting and northing from {stated.unit}")
    if stated.has_heights and stated.height_unit is not metre:
        changed.append(f"heights from {stated.height_unit}")
    if changed:
        operation = f"{', '.join(changed)}, to {metre}"
        yield CoordinateStep("unit", operation, None, np.full((len(stated.survey), 3), np.nan))


def _projection_step(stated: StatedPoints, products: Products) -> Iterable[CoordinateStep]:
    source, target = stated.crs, products.frame.crs
    if equal_crs(source, target):
        return
    names = [f"inverse of {_conversion(source)}"] if source.is_projected else []
    names.append(_conversion(target))
    operation = f"{crs_name(source)} to {crs_name(target)}: {', '.join(names)}"
    yield CoordinateStep("projection change", operation, None, np.full((len(stated.survey), 3), np.nan))


def _conversion(crs: pyproj.CRS) -> str:
    operation = crs.coordinate_operation
    if operation is None:
        return str(crs.name)
    return str(operation.method_name if operation.name in ("unnamed", "unknown") else operation.name)


def _target_step(survey: SurveyPoints) -> Iterable[CoordinateStep]:
    if survey.target_height_m.any():
        change = np.zeros((len(survey), 3))
        change[:, 2] = -survey.target_height_m
        yield CoordinateStep("height of the target", "height of the target above the ground", None, change)


def _joined(columns: Iterable[Sequence[T]]) -> tuple[T, ...]:
    return tuple(chain.from_iterable(columns))
