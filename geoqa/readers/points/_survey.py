"""Survey points from a table: the same rules for every format."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pyproj

from geoqa.errors import InputError
from geoqa.numerics.arrays import FloatArray
from geoqa.readers.points._angles import angles
from geoqa.readers.points._cells import (
    TextTable,
    numbers,
    refuse_mixed_decimals,
    texts,
    words,
)
from geoqa.readers.points._columns import ColumnPlan
from geoqa.readers.points._header import ATTRIBUTES, GEOGRAPHIC, LENGTHS, PROJECTED
from geoqa.readers.points._ids import ids_of
from geoqa.records.points import Cover, FixType, Role, SurveyPoints
from geoqa.units import LinearUnit

_NUMBERS = (*PROJECTED, *GEOGRAPHIC, "height", *LENGTHS)


@dataclass(frozen=True, eq=False)
class Coordinates:
    """Coordinates of the points of a file, as it gives them.

    Attributes
    ----------
    values : array, shape (n, 3)
        Easting or longitude, northing or latitude, height; NaN where there is no height.
    ellipsoidal
        True where the format itself says that heights count from the ellipsoid.
    """

    values: FloatArray
    geographic: bool
    unit: LinearUnit | None
    height_unit: LinearUnit | None
    crs: pyproj.CRS | None = None
    ellipsoidal: bool = False


def survey_points(
    table: TextTable, plan: ColumnPlan, found: Coordinates, notes: tuple[str, ...] = ()
) -> SurveyPoints:
    """Return the points of a table, each checked; `notes` are sentences for the user about the file.

    Raises
    ------
    InputError
        At the first cell that cannot be what its column says.
    """
    column = plan.columns.get
    ids, named = ids_of(table, plan)
    roles = words(table, column("role"), Role)
    targets = texts(table, column("target"))
    return SurveyPoints(
        ids=ids,
        coordinates=_in_range(table, found),
        geographic=found.geographic,
        roles=tuple([role or Role.CHECK for role in roles]),
        fixes=words(table, column("fix"), FixType),
        covers=words(table, column("cover"), Cover),
        sessions=texts(table, column("session")),
        # Target kinds are named in lower case.
        targets=tuple([None if target is None else target.lower() for target in targets]),
        sigma_m=np.column_stack([_sigma_m(table, plan, name) for name in ("sd_east", "sd_north", "sd_up")]),
        target_height_m=_target_height_m(table, plan),
        source=table.source,
        lines=table.lines,
        unit=found.unit,
        height_unit=found.height_unit,
        crs=found.crs,
        ellipsoidal=found.ellipsoidal,
        attributes=_attributes(table, plan),
        notes=(*notes, *named),
    )


def coordinates_of(table: TextTable, plan: ColumnPlan) -> Coordinates:
    """Return the coordinates that stand in the columns of a table."""
    number_columns = [column for field, column in plan.columns.items() if field in _NUMBERS]
    refuse_mixed_decimals(table, number_columns)
    geographic = "latitude" in plan.columns
    if geographic:
        columns = [
            angles(table, plan.columns[field], field, plan.angle_forms[field])
            for field in ("longitude", "latitude")
        ]
    else:
        columns = [numbers(table, plan.columns[field], required=True) for field in PROJECTED]
    return Coordinates(
        values=np.column_stack([*columns, heights_of(table, plan)]),
        geographic=geographic,
        unit=plan.unit,
        height_unit=plan.height_unit,
    )


def heights_of(table: TextTable, plan: ColumnPlan) -> FloatArray:
    """Return the column of heights, shape (n,); NaN where a point has none."""
    return _optional(table, plan, "height")


def _optional(table: TextTable, plan: ColumnPlan, field: str) -> FloatArray:
    if field in plan.columns:
        return numbers(table, plan.columns[field])
    return np.full(len(table.lines), np.nan)


def _in_range(table: TextTable, found: Coordinates) -> FloatArray:
    if not found.geographic:
        return found.values
    # Longitudes are counted from -180 to 180 or from 0 to 360, west or east.
    for name, column, limit in (("latitude", 1, 90.0), ("longitude", 0, 360.0)):
        values = found.values[:, column]
        beyond = np.flatnonzero(np.abs(values) > limit)
        if beyond.size:
            row = int(beyond[0])
            message = (
                f"{table.source}, {table.row_word} {int(table.lines[row])}: the {name} {values[row]:.10g} "
                f"lies outside ±{limit:g} degrees. Are latitude and longitude swapped, or are these easting "
                f"and northing?"
            )
            raise InputError(message)
    return found.values


def _sigma_m(table: TextTable, plan: ColumnPlan, field: str) -> FloatArray:
    values = _optional(table, plan, field)
    wrong = np.flatnonzero(values <= 0)
    if wrong.size:
        row, column = int(wrong[0]), plan.columns[field]
        message = (
            f"{table.where(row, column)}: a standard deviation of {values[row]:g} is not above zero. "
            f"Leave the cell empty where none is known."
        )
        raise InputError(message)
    return values * plan.metres.get(field, 1.0)


def _target_height_m(table: TextTable, plan: ColumnPlan) -> FloatArray:
    values = _optional(table, plan, "target_height") * plan.metres.get("target_height", 1.0)
    return np.where(np.isnan(values), 0.0, values)


def _attributes(table: TextTable, plan: ColumnPlan) -> Mapping[str, tuple[str | None, ...]]:
    ours = {field: plan.columns[field] for field in ATTRIBUTES if field in plan.columns}
    return {name: texts(table, column) for name, column in (ours | dict(plan.others)).items()}
