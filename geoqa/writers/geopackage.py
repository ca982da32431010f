"""The layers and tables of an assessment in one GeoPackage, with styles, headings and ISO metadata.

References
----------
OGC 12-128r19, GeoPackage Encoding Standard 1.4; the file keeps to version 1.2 of it, which it also names.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoqa.records.assessment import Assessment
from geoqa.records.columns import ColumnType, Table
from geoqa.records.tables import BY_NAME, TABLES
from geoqa.writers import Writer

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

FILE = Path("accuracy.gpkg")
# Nothing in the file needs a later one, and GDAL 3.6, still in use, warns of 1.4 each time it opens a file.
_VERSION = "1.2"


def write(assessment: Assessment, folder: Path) -> tuple[Path, ...]:
    """Write `accuracy.gpkg`; equal input gives equal bytes, whatever the time of day."""
    from geoqa.writers._geopackage_extras import add_extras
    from geoqa.writers._survey_points import tables_asked

    stamp = gdal_time(assessment.provenance.created)
    path = folder / FILE
    # GDAL adds layers to a file that is there.
    path.unlink(missing_ok=True)
    with _gdal_options(stamp):
        for table in tables_asked(assessment, TABLES):
            _write_table(assessment, table, path)
    add_extras(assessment, path, stamp)
    return (FILE,)


def to_geodataframe(assessment: Assessment, name: str) -> "gpd.GeoDataFrame | pd.DataFrame":
    """Return one layer or table as written to the GeoPackage.

    Parameters
    ----------
    name
        Name of a layer or table of `geoqa.records.tables`; `KeyError` for any other.

    Returns
    -------
    GeoDataFrame
        In the horizontal CRS of the products and its unit; a plain DataFrame for a table without
        geometry. Missing values are NaN or None.
    """
    import geopandas as gpd
    import pandas as pd

    from geoqa.writers._attributes import table as rows_of
    from geoqa.writers._layers import layer

    table = BY_NAME[name]
    if table.geometry is None:
        return pd.DataFrame(_series(table, rows_of(assessment, name)))
    columns, geometries = layer(assessment, name)
    return gpd.GeoDataFrame(_series(table, columns), geometry=geometries, crs=assessment.frame.crs)


def gdal_time(created: str) -> str:
    """Return an ISO 8601 time as GeoPackage asks for: UTC with milliseconds.

    Examples
    --------
    >>> gdal_time("2026-01-02T03:04:05Z")
    '2026-01-02T03:04:05.000Z'
    """
    moment = datetime.fromisoformat(created)
    moment = moment.replace(tzinfo=moment.tzinfo or UTC).astimezone(UTC)
    return f"{moment:%Y-%m-%dT%H:%M:%S}.{moment.microsecond // 1000:03d}Z"


def _series(table: Table, columns: dict[str, Any]) -> "dict[str, pd.Series[Any]]":
    import pandas as pd

    dtypes = {
        ColumnType.TEXT: "object",
        ColumnType.REAL: "float64",
        ColumnType.INTEGER: "Int64",
        ColumnType.BOOLEAN: "bool",
    }
    return {
        column.name: pd.Series(columns[column.name], dtype=dtypes[column.type]) for column in table.columns
    }


def _write_table(assessment: Assessment, table: Table, path: Path) -> None:
    from pyogrio import write_dataframe

    write_dataframe(
        to_geodataframe(assessment, table.name),
        path,
        layer=table.name,
        driver="GPKG",
        geometry_type=table.geometry,
        dataset_options={"VERSION": _VERSION},
        layer_options={"IDENTIFIER": table.title, "DESCRIPTION": table.meaning},
    )


@contextmanager
def _gdal_options(stamp: str) -> Iterator[None]:
    """Let GDAL write this time instead of the clock's; what was set before is restored."""
    from pyogrio import get_gdal_config_option, set_gdal_config_options

    wanted = {
        "OGR_CURRENT_DATE": stamp,
        # Waiting for the disk after each table costs most of the time, and a file that is not yet
        # moved into place need not outlive a power failure.
        "OGR_SQLITE_SYNCHRONOUS": "OFF",
    }
    before = {name: get_gdal_config_option(name) for name in wanted}
    set_gdal_config_options(wanted)
    try:
        yield
    finally:
        set_gdal_config_options(before)


WRITER = Writer(
    id="geopackage",
    title="Layers and tables in a GeoPackage",
    media_type="application/geopackage+sqlite3",
    write=write,
)
