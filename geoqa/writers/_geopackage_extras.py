"""What a GeoPackage holds beyond layers: headings of columns, styles, metadata.

References
----------
OGC 12-128r19, GeoPackage Encoding Standard 1.4, annexes F.8 (metadata) and F.9 (schema), tables as
printed there. `layer_styles` is no part of the standard: it is the table that GIS programs look
for when they open a layer.
"""

import sqlite3
from collections.abc import Mapping
from contextlib import closing
from enum import StrEnum
from pathlib import Path

from geoqa.records.assessment import Assessment
from geoqa.records.measurements import SurfaceStatus, TargetStatus
from geoqa.records.points import Cover, FixType, Role
from geoqa.records.tables import LAYERS, TABLES
from geoqa.writers._iso_metadata import MDQ, quality_xml
from geoqa.writers._iso_record import MDB, record_xml
from geoqa.writers._qml import qml
from geoqa.writers._sld import sld
from geoqa.writers._survey_points import tables_asked

# Columns of states, in whatever table, and the words that they may hold.
_WORDS: Mapping[str, type[StrEnum]] = {
    "role": Role,
    "fix": FixType,
    "cover": Cover,
    "target_status": TargetStatus,
    "surface_status": SurfaceStatus,
}
_SCHEMA_DEFINITION = "http://www.geopackage.org/spec121/#extension_schema"
_METADATA_DEFINITION = "http://www.geopackage.org/spec121/#extension_metadata"

_SCHEMA_TABLES = """
CREATE TABLE gpkg_data_columns (
  table_name TEXT NOT NULL,
  column_name TEXT NOT NULL,
  name TEXT,
  title TEXT,
  description TEXT,
  mime_type TEXT,
  constraint_name TEXT,
  CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
  CONSTRAINT gdc_tn UNIQUE (table_name, name)
);
CREATE TABLE gpkg_data_column_constraints (
  constraint_name TEXT NOT NULL,
  constraint_type TEXT NOT NULL,
  value TEXT,
  min NUMERIC,
  min_is_inclusive BOOLEAN,
  max NUMERIC,
  max_is_inclusive BOOLEAN,
  description TEXT,
  CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value)
);
"""
_METADATA_TABLES = """
CREATE TABLE gpkg_metadata (
  id INTEGER CONSTRAINT m_pk PRIMARY KEY ASC NOT NULL,
  md_scope TEXT NOT NULL DEFAULT 'dataset',
  md_standard_uri TEXT NOT NULL,
  mime_type TEXT NOT NULL DEFAULT 'text/xml',
  metadata TEXT NOT NULL DEFAULT ''
);
CREATE TABLE gpkg_metadata_reference (
  reference_scope TEXT NOT NULL,
  table_name TEXT,
  column_name TEXT,
  row_id_value INTEGER,
  timestamp DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  md_file_id INTEGER NOT NULL,
  md_parent_id INTEGER,
  CONSTRAINT crmr_mfi_fk FOREIGN KEY (md_file_id) REFERENCES gpkg_metadata(id),
  CONSTRAINT crmr_mpi_fk FOREIGN KEY (md_parent_id) REFERENCES gpkg_metadata(id)
);
"""
_STYLE_TABLE = """
CREATE TABLE layer_styles (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  f_table_catalog TEXT(256),
  f_table_schema TEXT(256),
  f_table_name TEXT(256),
  f_geometry_column TEXT(256),
  styleName TEXT(30),
  styleQML TEXT,
  styleSLD TEXT,
  useAsDefault BOOLEAN,
  description TEXT,
  owner TEXT(30),
  ui TEXT(30),
  update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now'))
);
"""


def add_extras(assessment: Assessment, path: Path, stamp: str) -> None:
    """Add headings, styles and metadata to a GeoPackage in one transaction.

    Parameters
    ----------
    stamp
        UTC time with milliseconds for every time column.
    """
    with closing(sqlite3.connect(path, isolation_level=None)) as database:
        database.execute("PRAGMA synchronous = OFF")
        database.execute("BEGIN IMMEDIATE")
        _add_headings(database, assessment)
        _add_domains(database)
        _add_styles(database, assessment, stamp)
        _add_metadata(database, assessment, stamp)
        database.execute("COMMIT")


def _create(database: sqlite3.Connection, statements: str) -> None:
    # `executescript` would commit the transaction first.
    for statement in filter(str.strip, statements.split(";")):
        database.execute(statement)


def _extension(database: sqlite3.Connection, name: str, definition: str, tables: tuple[str, ...]) -> None:
    rows = [(table, None, name, definition, "read-write") for table in tables]
    database.executemany("INSERT INTO gpkg_extensions VALUES (?, ?, ?, ?, ?)", rows)


def _add_headings(database: sqlite3.Connection, assessment: Assessment) -> None:
    _create(database, _SCHEMA_TABLES)
    tables = ("gpkg_data_columns", "gpkg_data_column_constraints")
    _extension(database, "gpkg_schema", _SCHEMA_DEFINITION, tables)
    rows = [
        (table.name, column.name, column.name, column.title, column.meaning, None, _domain(column.name))
        for table in tables_asked(assessment, TABLES)
        for column in table.columns
    ]
    database.executemany("INSERT INTO gpkg_data_columns VALUES (?, ?, ?, ?, ?, ?, ?)", rows)


def _domain(column: str) -> str | None:
    return f"{column}_words" if column in _WORDS else None


def _add_domains(database: sqlite3.Connection) -> None:
    """Name the words that a column of states may hold, so that a GIS offers no others."""
    rows = [(f"{column}_words", str(word)) for column, words in _WORDS.items() for word in words]
    database.executemany(
        "INSERT INTO gpkg_data_column_constraints (constraint_name, constraint_type, value) "
        "VALUES (?, 'enum', ?)",
        rows,
    )


def _add_styles(database: sqlite3.Connection, assessment: Assessment, stamp: str) -> None:
    _create(database, _STYLE_TABLE)
    database.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change) "
        "VALUES ('layer_styles', 'attributes', 'layer_styles', 'Styles of the layers.', ?)",
        (stamp,),
    )
    geometry_columns = dict(database.execute("SELECT table_name, column_name FROM gpkg_geometry_columns"))
    rows = [
        (
            table.name,
            geometry_columns[table.name],
            table.name,
            qml(assessment, table.name),
            sld(assessment, table.name).decode(),
            table.title,
            stamp,
        )
        for table in tables_asked(assessment, LAYERS)
    ]
    database.executemany(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, "
        "styleName, styleQML, styleSLD, useAsDefault, description, owner, update_time) "
        "VALUES ('', '', ?, ?, ?, ?, ?, 1, ?, '', ?)",
        rows,
    )


def _add_metadata(database: sqlite3.Connection, assessment: Assessment, stamp: str) -> None:
    documents = ((1, MDQ, quality_xml(assessment)), (2, MDB, record_xml(assessment)))
    _create(database, _METADATA_TABLES)
    _extension(database, "gpkg_metadata", _METADATA_DEFINITION, ("gpkg_metadata", "gpkg_metadata_reference"))
    for number, standard, document in documents:
        if document is not None:
            row = (number, standard, document)
            database.execute("INSERT INTO gpkg_metadata VALUES (?, 'dataset', ?, 'text/xml', ?)", row)
            database.execute(
                "INSERT INTO gpkg_metadata_reference VALUES ('geopackage', NULL, NULL, NULL, ?, ?, NULL)",
                (stamp, number),
            )
