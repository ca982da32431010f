"""The layer of survey points as the U.S. Geological Survey wants it delivered.

References
----------
[USGS-SPD2022]_, *Survey Point Delivery*: a GeoPackage with Z, in the CRS of the data, with the checkpoints
that the vertical accuracy was assessed with and optionally the control points, and at least these 13 fields.
"""

from geoqa.records.columns import Column, ColumnType, Table

_TEXTS = {
    "unique_identifier": "Name of the point.",
    "point_type": "NVA or VVA (non-vegetated or vegetated checkpoint), or control.",
    "comment": "Description, as in the file.",
    "collection_date": "Time of the survey, as in the file.",
    "source_geoid": "Geoid grid that the heights were brought over with.",
    "source_horizontal_epsg": "EPSG code of the CRS that the point was surveyed in.",
    "source_horizontal_unit": "Unit of source_easting and source_northing.",
    "source_vertical_epsg": "EPSG code of the vertical CRS of the surveyed height.",
    "source_vertical_unit": "Unit of source_elevation.",
}
_NUMBERS = {
    "source_easting": "Easting (or longitude) as in the file.",
    "source_northing": "Northing (or latitude) as in the file.",
    "source_elevation": "Height as in the file.",
}

SURVEY_POINTS = Table(
    "survey_points",
    "Survey points",
    "Point Z",
    "The checkpoints that the vertical accuracy was assessed with, and the control points, in the 13 fields "
    "of the USGS survey point delivery.",
    (
        *(Column(name, ColumnType.TEXT, None, meaning) for name, meaning in _TEXTS.items()),
        *(Column(name, ColumnType.REAL, None, meaning) for name, meaning in _NUMBERS.items()),
        Column("project_id", ColumnType.TEXT, None, "Title of the settings."),
    ),
)
