"""Points of any vector file that GDAL reads: GeoPackage, GeoJSON, Shapefile and others."""

from pathlib import Path

from geoqa.errors import InputError
from geoqa.readers.points import PointReader, PointsRequest
from geoqa.readers.points._files import usable_file
from geoqa.readers.points._geometry import layer_points, read_layer, unreadable
from geoqa.records.points import SurveyPoints

_SUFFIXES = (
    *(".geojson", ".json", ".geojsonl", ".gpkg", ".shp", ".fgb", ".gml", ".kml", ".gpx"),
    *(".sqlite", ".mif", ".tab"),
)


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
    usable_file(path)
    return layer_points(read_layer(path, _layer(path)), request)


def _layer(path: Path) -> str:
    """Return the name of the one layer that holds points."""
    import pyogrio
    from pyogrio.errors import DataSourceError

    try:
        kinds = {str(name): kind for name, kind in pyogrio.list_layers(path) if kind is not None}
    except DataSourceError as reason:
        raise InputError(unreadable(path, reason)) from None
    fitting = [name for name, kind in kinds.items() if "Point" in kind or kind == "Unknown"]
    if len(fitting) > 1:
        fitting = [name for name in fitting if pyogrio.read_info(path, layer=name)["features"] != 0]
    if len(fitting) == 1:
        return fitting[0]
    found = ", ".join(f"“{name}” ({kind})" for name, kind in kinds.items()) or "none with a geometry"
    many = "several layers" if fitting else "no layer"
    message = f"{path.name}: {many} of points, found {found}. Save the points as the only layer of a file."
    raise InputError(message)


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
