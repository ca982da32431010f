"""Points of any vector file that GDAL reads: GeoPackage, GeoJSON, Shapefile and others."""

import warnings
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pyproj

from geoqa.errors import InputError
from geoqa.numerics.arrays import FloatArray
from geoqa.readers.points import PointReader, PointsRequest
from geoqa.readers.points._cells import TextTable, numbers
from geoqa.readers.points._columns import ColumnPlan, plan_columns
from geoqa.readers.points._files import usable_file
from geoqa.readers.points._header import GEOGRAPHIC
from geoqa.readers.points._survey import Coordinates, heights_of, survey_points
from geoqa.records.points import SurveyPoints
from geoqa.units import LinearUnit, unit_of_length

_SUFFIXES = (
    *(".geojson", ".json", ".geojsonl", ".gpkg", ".shp", ".fgb", ".gml", ".kml", ".gpx"),
    *(".sqlite", ".mif", ".tab", ".dxf"),
)

# Columns beside a geometry are often rounded to the millimetre.
_TOLERANCE_M = 0.001
# On a meridian about as long: 1e-8 of a degree of 111 km.
_TOLERANCE_DEG = 1e-8

_POINT, _MULTIPOINT = 0, 4  # geometry types as shapely numbers them


def can_read(path: Path) -> bool:
    """Return whether the file is named as a vector file."""
    return path.suffix.lower() in _SUFFIXES


def read(path: Path, request: PointsRequest) -> SurveyPoints:
    """Return the points of the one layer that holds points; `lines` number its features from 1.

    Easting and northing, or longitude and latitude in this order, come from the geometry, as does
    the height where there is no column of heights. All else comes from the columns, by the same
    names as in a table of text.

    Raises
    ------
    InputError
        Where the file cannot be read, holds no points or several layers of them, or where
        geometry and columns contradict each other.

    References
    ----------
    RFC 7946, The GeoJSON Format, section 4: WGS 84 longitude and latitude in degrees.
    """
    if request.layout is not None:
        message = f"{path.name}: a vector file has no layout, found “{request.layout}”. Leave the layout out."
        raise InputError(message)
    crs, values, table = _content(usable_file(path))
    plan = plan_columns(table.header, request.columns, where=path.name, position=False)
    geometry = _stated(values, crs, path.name)
    plan = _without_repeated(table, plan, geometry)
    found = _with_heights(table, plan, geometry, chosen="height" in request.columns)
    return survey_points(table, plan, found)


def _content(path: Path) -> tuple[pyproj.CRS | None, FloatArray, TextTable]:
    """Return CRS, coordinates (n, 3) and columns of the layer of points."""
    import pyogrio
    from pyogrio.errors import CRSError, DataLayerError, DataSourceError, FeatureError

    try:
        with warnings.catch_warnings():
            # A fourth ordinate (M) of a point is not asked for.
            warnings.filterwarnings("ignore", message="Measured")
            layer = _layer(path)
            meta, _, geometries, values = pyogrio.raw.read(path, layer=layer, datetime_as_string=True)
        crs = None if meta["crs"] is None else pyproj.CRS.from_user_input(meta["crs"])
    except (CRSError, DataLayerError, DataSourceError, FeatureError, pyproj.exceptions.CRSError) as reason:
        message = f"{path.name}: the vector file cannot be read ({reason}). Export it again."
        raise InputError(message) from None
    table = TextTable(
        source=path.name,
        row_word="feature",
        header=tuple(str(name) for name in meta["fields"]),
        columns=tuple(_cells(column) for column in values),
        lines=np.arange(1, len(geometries) + 1),
    )
    return crs, _coordinates(geometries, path.name), table


def _layer(path: Path) -> str:
    """Return the name of the one layer that holds points."""
    import pyogrio

    kinds = {str(name): kind for name, kind in pyogrio.list_layers(path) if kind is not None}
    fitting = [name for name, kind in kinds.items() if "Point" in kind or kind == "Unknown"]
    if len(fitting) > 1:
        fitting = [name for name in fitting if pyogrio.read_info(path, layer=name)["features"] != 0]
    if len(fitting) == 1:
        return fitting[0]
    found = ", ".join(f"“{name}” ({kind})" for name, kind in kinds.items()) or "none with a geometry"
    many = "several layers" if fitting else "no layer"
    message = f"{path.name}: {many} of points, found {found}. Save the points as the only layer of a file."
    raise InputError(message)


def _cells(values: Any) -> tuple[str, ...]:
    """Return a column as text; a missing value is empty, a whole number has no decimals."""
    if values.dtype.kind == "f":
        return tuple("" if np.isnan(value) else repr(value).removesuffix(".0") for value in values.tolist())
    return tuple("" if value is None else str(value).strip() for value in values.tolist())


def _coordinates(geometries: Any, name: str) -> FloatArray:
    """Return the coordinates of points, shape (n, 3), NaN where there is no height."""
    import shapely

    if not len(geometries):
        message = f"{name}: the layer holds no points. Export it again."
        raise InputError(message)
    shapes = shapely.from_wkb(geometries)
    single = (shapely.get_type_id(shapes) == _MULTIPOINT) & (shapely.get_num_geometries(shapes) == 1)
    shapes[single] = shapely.get_geometry(shapes[single], 0)
    wrong = np.flatnonzero((shapely.get_type_id(shapes) != _POINT) | shapely.is_empty(shapes))
    if wrong.size:
        shape = shapes[wrong[0]]
        found = "no geometry" if shape is None or shape.is_empty else f"a {shape.geom_type}"
        message = f"{name}, feature {wrong[0] + 1}: expected a point, found {found}. Take the feature out."
        raise InputError(message)
    coordinates: FloatArray = shapely.get_coordinates(shapes, include_z=True)
    infinite = np.flatnonzero(np.isinf(coordinates).any(axis=1))
    if infinite.size:
        message = f"{name}, feature {infinite[0] + 1}: a coordinate is not finite. Correct it or take it out."
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
            f"{table.where(row, column)}: “{table.columns[column][row]}” differs from the geometry, "
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
    if not chosen:
        own = geometry.height_unit or plan.height_unit or LinearUnit.METRE
        metres = (own.metres, (plan.height_unit or own).metres)
        _refuse_other(table, column, geometry.values[:, 2], metres, _TOLERANCE_M)
    values = np.column_stack([geometry.values[:, :2], heights_of(table, plan)])
    return replace(geometry, values=values, unit=unit, height_unit=plan.height_unit)


READER = PointReader(
    id="vector-file",
    title="Vector file with points (GeoPackage, GeoJSON, Shapefile and others that GDAL reads)",
    suffixes=_SUFFIXES,
    example=(
        '{"type": "FeatureCollection", "features": [\n'
        '{"type": "Feature", "properties": {"id": "CP01", "cover": "hard", "description": "invented"}, '
        '"geometry": {"type": "Point", "coordinates": [11.02150314, 48.85120417, 431.24]}},\n'
        '{"type": "Feature", "properties": {"id": "CP02", "cover": "bare", "description": "invented"}, '
        '"geometry": {"type": "Point", "coordinates": [11.02391802, 48.85094536, 430.87]}},\n'
        '{"type": "Feature", "properties": {"id": "CP03", "cover": "bare", "description": "invented"}, '
        '"geometry": {"type": "Point", "coordinates": [11.02277519, 48.85231128, 432.06]}}\n'
        "]}\n"
    ),
    can_read=can_read,
    read=read,
)
