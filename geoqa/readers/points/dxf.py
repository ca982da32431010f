"""Points of a DXF drawing: block references with attributes, points and texts."""

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from geoqa.errors import InputError
from geoqa.numerics.arrays import FloatArray
from geoqa.readers.points import PointReader, PointsRequest
from geoqa.readers.points._cells import TextTable, brief
from geoqa.readers.points._columns import shown
from geoqa.readers.points._files import refuse_huge, usable_file
from geoqa.readers.points._geometry import Layer, as_text, coordinates_of_shapes, geometry_points, read_layer
from geoqa.readers.points._header import bare, header_name
from geoqa.records.points import SurveyPoints

_LAYER = "entities"
_POINT = 0  # geometry type as shapely numbers it
_TEXT = "Text"
_GROUP_CODE = re.compile(rb"-?[0-9]{1,5}")
# Columns of GDAL's DXF driver that can tell points apart; the attributes of blocks come beside them.
_COMMON = ("Layer", "EntityHandle", "BlockName", _TEXT)


def can_read(path: Path) -> bool:
    """Return whether the file is named as a drawing."""
    return path.suffix.lower() == ".dxf"


def read(path: Path, request: PointsRequest) -> SurveyPoints:
    """Return the points, block references or texts of the model space that have an id.

    The id is an attribute of block references that is named like one (NUMBER, PUNKTNR), or what the
    user names: another attribute, Layer, EntityHandle, BlockName, or Text for the texts themselves.
    A text beside a point is never taken for its name. A drawing whose heights are all 0 is flat.
    `lines` number the entities from 1.

    Raises
    ------
    InputError
        Where the drawing cannot be read, holds nothing of the kind, or nothing names it.
    """
    refuse_huge(usable_file(path))
    _refuse_unpaired(path)
    # Otherwise blocks come taken apart into lines, and their attributes as texts.
    layer = read_layer(path, _LAYER, INLINE_BLOCKS="NO")
    table = _table(layer)
    name = _id_column(table, request.columns)
    chosen = _named(table, name)
    found = coordinates_of_shapes(layer.shapes[chosen.lines - 1], chosen.lines, path.name)
    values, notes = _with_true_heights(found, path.name)
    if name == _TEXT:
        notes += (f"{path.name}: the positions are those of the texts.",)
    entities = len(table.lines)
    if entities > len(chosen.lines):
        kept = f"{len(chosen.lines)} of {entities} points, block references and texts have one"
        notes += (f"{path.name}: the points are named by “{name}”; {kept}, the others were left out.",)
    columns = {**request.columns, "id": name}
    return geometry_points(values, None, chosen, replace(request, columns=columns), notes)


def _refuse_unpaired(path: Path) -> None:
    """Raise `InputError` where the lines are no pairs of group code and value up to the end of the drawing.

    GDAL can search such a file for the end of an entity without end.
    """
    with path.open("rb") as file:
        for number, line in enumerate(file, start=1):
            if number % 2 and not _GROUP_CODE.fullmatch(line.strip()):
                message = (
                    f"{path.name}, line {number}: expected a group code of a DXF drawing, found "
                    f"“{brief(line[:100].decode('latin-1'))}”. Save the drawing again, as DXF in text."
                )
                raise InputError(message)
            if number % 2 == 0 and line.strip() == b"EOF":
                return
    message = f"{path.name}: the drawing is cut short, its end (EOF) is missing. Save it again."
    raise InputError(message)


def _table(layer: Layer) -> TextTable:
    """Return the point-like entities of the model space, with a column for each attribute of a block."""
    import shapely

    columns = dict(zip(layer.header, layer.columns, strict=True))
    paper = np.array([value == 1 for value in columns["PaperSpace"].tolist()], dtype=bool)
    rows = np.flatnonzero((shapely.get_type_id(layer.shapes) == _POINT) & ~paper)
    if not rows.size:
        message = (
            f"{layer.source}: the drawing holds no points, block references or texts. Export it with points."
        )
        raise InputError(message)
    cells = {name: as_text(columns[name][rows]) for name in _COMMON if name in columns}
    cells |= _attributes(columns["BlockAttributes"][rows]) if "BlockAttributes" in columns else {}
    return TextTable(
        source=layer.source,
        row_word="entity",
        header=tuple(cells),
        columns=tuple(cells.values()),
        lines=rows + 1,
    )


def _attributes(blocks: Any) -> dict[str, tuple[str, ...]]:
    """Return tag → values, from “TAG value” texts of each block reference."""
    pairs = [
        dict(text.partition(" ")[::2] for text in ([] if texts is None else texts))
        for texts in blocks.tolist()
    ]
    tags = dict.fromkeys(tag for row in pairs for tag in row)
    return {tag: tuple(row.get(tag, "").strip() for row in pairs) for tag in tags}


def _id_column(table: TextTable, wanted: Mapping[str, str]) -> str:
    """Return the column that names the points: the user's, or the only one named like ids."""
    asked = wanted.get("id")
    if asked is not None:
        alike = [name for name in table.header if bare(name) == bare(asked)]
    else:
        alike = [name for name in table.header if header_name(name).means("id")]
    if len(alike) == 1:
        return alike[0]
    found = shown([name for name, cells in zip(table.header, table.columns, strict=True) if any(cells)])
    message = (
        f"{table.source}: {'nothing' if not alike else 'more than one attribute'} names the "
        f"{len(table.lines)} points, block references and texts of the drawing, found {found}. Say which of "
        f'them does under [points.columns] (id = "…").'
    )
    raise InputError(message)


def _named(table: TextTable, name: str) -> TextTable:
    """Return the rows that have an id, and the columns that hold anything there."""
    cells = dict(zip(table.header, table.columns, strict=True))
    # A text is a label, unless the labels themselves are asked for.
    labels = [False] * len(table.lines) if name == _TEXT else [bool(text) for text in cells[_TEXT]]
    rows = [row for row, label in enumerate(labels) if cells[name][row] and not label]
    if not rows:
        message = f"{table.source}: no point of the drawing has a “{name}”. Name another column of ids."
        raise InputError(message)
    kept = {title: tuple(column[row] for row in rows) for title, column in cells.items()}
    kept = {title: column for title, column in kept.items() if any(column)}
    return replace(table, header=tuple(kept), columns=tuple(kept.values()), lines=table.lines[rows])


def _with_true_heights(values: FloatArray, source: str) -> tuple[FloatArray, tuple[str, ...]]:
    """Return coordinates without the heights of a flat drawing, and a sentence where it is one."""
    if (values[:, 2] != 0).any():
        return values, ()
    flat = np.column_stack([values[:, :2], np.full(len(values), np.nan)])
    return flat, (f"{source}: all heights are 0, as in a flat drawing: the points are plan only.",)


READER = PointReader(
    id="dxf",
    title="DXF drawing with block references, points or texts",
    suffixes=(".dxf",),
    example=(
        "BLOCK REFERENCE,NUMBER,HEIGHT,position\n"
        "SURVEYPOINT,101,212.340,431250.118 5412380.472 212.340\n"
        "SURVEYPOINT,102,211.982,431377.905 5412391.016 211.982\n"
        "SURVEYPOINT,103,212.551,431302.440 5412477.859 212.551\n"
        "SURVEYPOINT,104,212.115,431288.671 5412420.233 212.115\n"
    ),
    can_read=can_read,
    read=read,
    example_is_file=False,
)
