"""The table of points as a text file: `points.csv`.

Comma separated, UTF-8, one heading line, lines ending in CR LF (RFC 4180); an empty field is a
missing value. Numbers are rounded to the sixth decimal: results.json holds them unrounded.
"""

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from geoqa.records.assessment import Assessment
from geoqa.records.tables import CHECKPOINTS
from geoqa.writers import Writer
from geoqa.writers._columns import Values, or_none, rounded_chunks

FILE = Path("points.csv")


def write(assessment: Assessment, folder: Path) -> tuple[Path, ...]:
    """Write `points.csv` with the columns of the layer `checkpoints`."""
    with (folder / FILE).open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(column.name for column in CHECKPOINTS.columns)
        for chunk in rounded_chunks(assessment):
            writer.writerows(zip(*(_fields(values) for values in chunk.values()), strict=True))
    return (FILE,)


def _fields(values: Values) -> Sequence[Any]:
    if not isinstance(values, np.ndarray):
        return values
    if values.dtype == bool:
        return ["true" if value else "false" for value in values.tolist()]
    return or_none(values)


WRITER = Writer(id="points-csv", title="Table of points", media_type="text/csv", write=write)
