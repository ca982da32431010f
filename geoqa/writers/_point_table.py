"""A table of points as a text file that `geoqa` reads again: new coordinates, everything else kept.

Comma separated, UTF-8, one heading line, lines ending in CR LF (RFC 4180); an empty field is a
missing value.
"""

import csv
import os
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from geoqa.errors import OutputError
from geoqa.numerics.arrays import FloatArray
from geoqa.records.points import SurveyPoints
from geoqa.units import LinearUnit

# A tenth of a millimetre, and a hundredth of one in latitude.
_LENGTH_DECIMALS, _DEGREE_DECIMALS = 4, 10


def point_table(
    survey: SurveyPoints, coordinates: FloatArray, *, unit: LinearUnit | None, height_unit: LinearUnit
) -> list[list[str]]:
    """Return heading and rows of a table of points.

    Parameters
    ----------
    survey
        The points as read; all but the position is kept.
    coordinates : array, shape (n, 3)
        Easting or longitude, northing or latitude, height in the units named; a height may be NaN.
    unit
        Of easting and northing; None where they are longitude and latitude in degrees.
    """
    columns: dict[str, Sequence[str]] = {"id": survey.ids}
    metres = unit in (None, LinearUnit.METRE) and height_unit is LinearUnit.METRE
    if unit is None:
        columns["latitude"] = _numbers(coordinates[:, 1], _DEGREE_DECIMALS)
        columns["longitude"] = _numbers(coordinates[:, 0], _DEGREE_DECIMALS)
    else:
        for axis, name in enumerate(("easting", "northing")):
            heading = name if metres else f"{name}_{unit.symbol}"
            columns[heading] = _numbers(coordinates[:, axis], _LENGTH_DECIMALS)
    heading = "height" if metres else f"height_{height_unit.symbol}"
    columns[heading] = _numbers(coordinates[:, 2], _LENGTH_DECIMALS)
    columns |= _kept(survey)
    return [list(columns), *(list(row) for row in zip(*columns.values(), strict=True))]


def _kept(survey: SurveyPoints) -> dict[str, Sequence[str]]:
    """Return the further columns, those that hold nothing left out."""
    named = {"role": survey.roles, "fix": survey.fixes, "cover": survey.covers}
    columns: dict[str, Sequence[str]] = {
        name: ["" if value is None else str(value) for value in values] for name, values in named.items()
    }
    columns |= {"session": _texts(survey.sessions), "target": _texts(survey.targets)}
    for axis, name in enumerate(("sd_east", "sd_north", "sd_up")):
        columns[name] = _numbers(survey.sigma_m[:, axis], _LENGTH_DECIMALS)
    if survey.target_height_m.any():
        columns["target_height"] = _numbers(survey.target_height_m, _LENGTH_DECIMALS)
    columns |= {name: _texts(values) for name, values in survey.attributes.items()}
    return {name: values for name, values in columns.items() if any(values)}


def _texts(values: Sequence[str | None]) -> list[str]:
    return [value or "" for value in values]


def _numbers(values: FloatArray, decimals: int) -> list[str]:
    return [f"{value:.{decimals}f}" if np.isfinite(value) else "" for value in values.tolist()]


def write_table(path: Path, rows: Sequence[Sequence[str]]) -> None:
    """Write a table as a whole or not at all.

    Raises
    ------
    OutputError
        When the file cannot be written.
    """
    partial = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with partial.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows(rows)
        partial.replace(path)
    except OSError as mistake:
        partial.unlink(missing_ok=True)
        message = (
            f"{path}: the table cannot be written ({mistake.strerror or mistake}). Name another file with "
            "--out, or grant write permission."
        )
        raise OutputError(message) from mistake
