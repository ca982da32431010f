"""Points whose position is a geometry, by the same rules for every format that GDAL reads."""

import warnings
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pyproj

from geoqa.errors import InputError
from geoqa.numerics.arrays import FloatArray, IntArray
from geoqa.readers.points import PointsRequest
from geoqa.readers.points._cells import TextTable, brief, numbers
from geoqa.readers.points._columns import ColumnPlan, plan_columns
from geoqa.readers.points._header import GEOGRAPHIC
from geoqa.readers.points._survey import Coordinates, heights_of, survey_points
from geoqa.records.points import SurveyPoints
from geoqa.units import LinearUnit, unit_of_length

# Columns beside a geometry are often rounded to the millimetre.
_TOLERANCE_M = 0.001
# On a meridian about as long: 1e-8 of a degree of 111 km.
_TOLERANCE_DEG = 1e-8

_POINT, _MULTIPOINT = 0, 4  # geometry types as shapely numbers them


@dataclass(frozen=True, eq=False)
class Layer:
    """A layer as GDAL reads it: its CRS, one shapely geometry a feature, and its columns."""

    source: str
    crs: pyproj.CRS | None
    shapes: Any
    header: tuple[str, ...]
    columns: tuple[Any, ...]


def read_layer(path: Path, layer: str, **options: str) -> Layer:
    """Return a layer of a vector file, opened with these options of its GDAL driver.

    Raises
    ------
    InputError
        Where GDAL cannot read it.
    """
    import pyogrio
    import shapely
    from pyogrio.errors import CRSError, DataLayerError, DataSourceError, FeatureError, FieldError

    broken = (CRSError, DataLayerError, DataSourceError, FeatureError, FieldError, UnicodeDecodeError)
    try:
        with warnings.catch_warnings():
            # A fourth ordinate (M) of a point is not asked for.
            warnings.filterwarnings("ignore", message="Measured")
            meta, _, geometries, values = pyogrio.raw.read(
                path, layer=layer, datetime_as_string=True, **options
            )
        crs = None if meta["crs"] is None else pyproj.CRS.from_user_input(meta["crs"])
    except (*broken, pyproj.exceptions.CRSError) as reason:
        raise InputError(unreadable(path, reason)) from None
    header = tuple(str(name) for name in meta["fields"])
    return Layer(path.name, crs, shapely.from_wkb(geometries), header, tuple(values))


def unreadable(path: Path, reason: Exception) -> str:
    """Return the sentence for a file that GDAL does not open."""
    return f"{path.name}: the vector file cannot be read ({brief(str(reason), 160)}). Export it again."


def layer_points(layer: Layer, request: PointsRequest) -> SurveyPoints:
    """Return the points of a layer that holds nothing else; `lines` number its features from 1."""
    numbers_ = np.arange(1, len(layer.shapes) + 1)
    values = coordinates_of_shapes(layer.shapes, numbers_, layer.source)
    table = TextTable(
        source=layer.source,
        row_word="feature",
        header=layer.header,
        columns=tuple(as_text(column) for column in layer.columns),
        lines=numbers_,
    )
    return geometry_points(values, layer.crs, table, request)


def geometry_points(
    values: FloatArray,
    crs: pyproj.CRS | None,
    table: TextTable,
    request: PointsRequest,
    notes: tuple[str, ...] = (),
) -> SurveyPoints:
    """Return points from their coordinates (n, 3) and the columns beside them, all else as in a table."""
    if request.layout is not None:
        message = (
            f"{table.source}: a vector file has no layout, found “{request.layout}”. Leave the layout out."
        )
        raise InputError(message)
    plan = plan_columns(table.header, request.columns, where=table.source, position=False)
    geometry = _stated(values, crs, table.source)
    plan = _without_repeated(table, plan, geometry)
    found = _with_heights(table, plan, geometry, chosen="height" in request.columns)
    return survey_points(table, plan, found, notes)


def as_text(values: Any) -> tuple[str, ...]:
    """Return a column as text; a missing value is empty, a whole number has no decimals."""
    if values.dtype.kind == "f":
        return tuple("" if np.isnan(value) else repr(value).removesuffix(".0") for value in values.tolist())
    return tuple("" if value is None else str(value).strip() for value in values.tolist())


def coordinates_of_shapes(given: Any, features: IntArray, name: str) -> FloatArray:
    """Return the coordinates of points, shape (n, 3), NaN where there is no height.

    Raises
    ------
    InputError
        Where there are none, or at the first feature, by its number, that is no point.
    """
    import shapely

    if not len(given):
        message = f"{name}: the layer holds no points. Export it again."
        raise InputError(message)
    shapes = given.copy()
    single = (shapely.get_type_id(shapes) == _MULTIPOINT) & (shapely.get_num_geometries(shapes) == 1)
    shapes[single] = shapely.get_geometry(shapes[single], 0)
    wrong = np.flatnonzero((shapely.get_type_id(shapes) != _POINT) | shapely.is_empty(shapes))
    if wrong.size:
        shape = shapes[wrong[0]]
        found = "no geometry" if shape is None or shape.is_empty else f"a {shape.geom_type}"
        message = (
            f"{name}, feature {features[wrong[0]]}: expected a point, found {found}. Take the feature out."
        )
        raise InputError(message)
    coordinates: FloatArray = shapely.get_coordinates(shapes, include_z=True)
    infinite = np.flatnonzero(np.isinf(coordinates).any(axis=1))
    if infinite.size:
        message = (
            f"{name}, feature {features[infinite[0]]}: a coordinate is not finite. Correct it or take it out."
        )
        raise InputError(message)
    return coordinates


def _stated(values: FloatArray, crs: pyproj.CRS | None, name: str) -> Coordinates:
    """Return the coordinates with the units that the CRS gives them."""
    if crs is None:
        return Coordinates(values, geographic=False, unit=None, height_unit=None)
    if crs.is_geocentric or len(crs.axis_info) < 2:
        message = f"{name}: its CRS {crs.name} is neither projected nor geographic. Convert the points."
        raise InputError(message)
    horizontal, vertical = crs.axis_info[0], crs.axis_info[2:]
    if crs.is_geographic and horizontal.unit_name != "degree":
        message = f"{name}: its CRS counts in {horizontal.unit_name}. Convert the points to degrees."
        raise InputError(message)
    if any(axis.direction.lower() == "down" for axis in vertical):
        message = f"{name}: its CRS {crs.name} gives depths. Convert them to heights."
        raise InputError(message)
    return Coordinates(
        values,
        geographic=crs.is_geographic,
        unit=None if crs.is_geographic else _unit(horizontal, name),
        height_unit=_unit(vertical[0], name) if vertical else None,
        crs=crs,
    )


def _unit(axis: Any, name: str) -> LinearUnit:
    unit = unit_of_length(axis.unit_conversion_factor)
    if unit is None:
        message = (
            f"{name}: its CRS counts in {axis.unit_name}, which is none of {', '.join(LinearUnit)}. "
            f"Convert the points."
        )
        raise InputError(message)
    return unit


def _without_repeated(table: TextTable, plan: ColumnPlan, geometry: Coordinates) -> ColumnPlan:
    """Return the plan without columns that repeat the geometry, or raise where they contradict it.

    Latitude and longitude beside a projected geometry say the same in another way and stay as
    further columns.
    """
    columns, others = dict(plan.columns), dict(plan.others)
    unit = plan.unit or geometry.unit or LinearUnit.METRE
    for field, axis in (("easting", 0), ("northing", 1), ("longitude", 0), ("latitude", 1)):
        if field not in columns:
            continue
        column = columns.pop(field)
        if field in GEOGRAPHIC and not geometry.geographic:
            others[table.header[column]] = column
        elif field in GEOGRAPHIC:
            _refuse_other(table, column, geometry.values[:, axis], (1.0, 1.0), _TOLERANCE_DEG)
        elif geometry.geographic:
            message = (
                f"{table.source}: the geometry is in longitude and latitude, but the column "
                f"“{table.header[column]}” holds the {field}. Leave only what is to be used."
            )
            raise InputError(message)
        else:
            metres = ((geometry.unit or unit).metres, unit.metres)
            _refuse_other(table, column, geometry.values[:, axis], metres, _TOLERANCE_M)
    return replace(plan, columns=columns, others=others)


def _refuse_other(
    table: TextTable, column: int, values: FloatArray, scales: tuple[float, float], tolerance: float
) -> None:
    """Raise `InputError` where geometry and column, each times its scale, differ; empty cells do not."""
    difference = np.abs(values * scales[0] - numbers(table, column) * scales[1])
    wrong = np.flatnonzero(difference > tolerance)
    if wrong.size:
        row = int(wrong[0])
        message = (
            f"{table.where(row, column)}: “{brief(table.columns[column][row])}” differs from the geometry, "
            f"{values[row]:.12g}. Leave only what is to be used."
        )
        raise InputError(message)


def _with_heights(table: TextTable, plan: ColumnPlan, geometry: Coordinates, *, chosen: bool) -> Coordinates:
    """Return the coordinates with the column of heights, if there is one, in place of the geometry's.

    Where both are there and differ, the user must have `chosen` the column.
    """
    column = plan.columns.get("height")
    unit = geometry.unit or plan.unit
    if column is None:
        return replace(geometry, unit=unit)
    heights = heights_of(table, plan)
    if not chosen:
        own = geometry.height_unit or plan.height_unit or LinearUnit.METRE
        metres = (own.metres, (plan.height_unit or own).metres)
        _refuse_other(table, column, geometry.values[:, 2], metres, _TOLERANCE_M)
        # Where the column is empty, the geometry has the height.
        heights = np.where(np.isnan(heights), geometry.values[:, 2] * metres[0] / metres[1], heights)
    values = np.column_stack([geometry.values[:, :2], heights])
    return replace(geometry, values=values, unit=unit, height_unit=plan.height_unit)
