"""The order of the columns of a list without a header row, as the user names it."""

import re
from collections.abc import Sequence
from dataclasses import replace

from geoqa.errors import InputError
from geoqa.readers.points import PointsRequest
from geoqa.readers.points._angles import is_angle
from geoqa.readers.points._cells import brief, is_number
from geoqa.readers.points._columns import ColumnPlan, plan_columns
from geoqa.readers.points._header import header_name
from geoqa.readers.points._records import BLANKS, first_record
from geoqa.records.settings import POINT_COLUMNS

# Common practice: P point, N northing, E easting, Z elevation, D description. Latitude stands before
# longitude: ISO 6709, clause 6.
_LETTERS = {
    "P": ("id",),
    "N": ("northing",),
    "E": ("easting",),
    "Z": ("height",),
    "H": ("height",),
    "D": ("description",),
    "LL": ("latitude", "longitude"),
}
_UNUSED = "-"
# A comma may be the decimal sign where another mark parts the columns, so it comes behind them.
_ORDER = (";", "\t", ",", BLANKS)
_PAIRS = ({"northing", "easting"}, {"latitude", "longitude"})


def layout_plan(request: PointsRequest, name: str) -> ColumnPlan:
    """Return what the columns of a list without a header row hold; a column not used is not kept.

    Raises
    ------
    InputError
        Where the layout is wrong, or the user named columns beside it.
    """
    layout = request.layout or ""
    header = layout_columns(layout, name)
    if request.columns:
        message = f"{name}: the layout “{layout}” names the columns. Leave [points.columns] out."
        raise InputError(message)
    plan = plan_columns(header, {}, where=f"{name}, {request.layout_key}")
    return replace(plan, others={})


def layout_columns(layout: str, where: str) -> tuple[str, ...]:
    """Return the header that a layout stands for.

    Letters name the columns (`PNEZD`, `PENZ`, `PLLHD`), or a list does, with our names, their
    synonyms, these letters, and `-` for a column that is not used. A unit may stand behind a name.

    Raises
    ------
    InputError
        Where the layout is neither, or names a column twice or no position.

    Examples
    --------
    >>> layout_columns("PENZ", "points.csv")
    ('id', 'easting', 'northing', 'height')
    >>> layout_columns("P, lat, lon, -", "points.csv")
    ('id', 'lat', 'lon', 'column 4')
    """
    named = [word.strip() for word in layout.split(",")] if "," in layout else layout.split()
    if len(named) == 1:
        columns = _spelled(layout.strip().upper())
    else:
        columns = [_listed(word, number, layout, where) for number, word in enumerate(named, start=1)]
    fields = [_field(column) for column in columns]
    if not any(pair <= set(fields) for pair in _PAIRS):
        raise InputError(_sentence(layout, where))
    for number, field in enumerate(fields):
        if field is not None and field in fields[:number]:
            message = f"{where}: the layout “{layout}” names the {field} twice. Name every column once."
            raise InputError(message)
    return tuple(columns)


def _spelled(word: str) -> list[str]:
    letters = re.findall("|".join(sorted(_LETTERS, key=len, reverse=True)), word)
    return [column for letter in letters for column in _LETTERS[letter]] if "".join(letters) == word else []


def _listed(word: str, number: int, layout: str, where: str) -> str:
    if word == _UNUSED:
        return f"column {number}"
    letter = _LETTERS.get(word.upper(), ())
    if len(letter) == 1:
        return letter[0]
    if _field(word) is None:
        crossed = header_name(word).bare in {"x", "y"}
        hint = " Some surveyors call north X: write easting or northing." if crossed else ""
        message = (
            f"{where}: the layout “{layout}” holds “{brief(word)}”, which names no column.{hint} Known are "
            f"{', '.join(POINT_COLUMNS)}, and “{_UNUSED}” for a column that is not used."
        )
        raise InputError(message)
    return word


def _field(column: str) -> str | None:
    name = header_name(column)
    return next((field for field in POINT_COLUMNS if name.means(field)), None)


def _sentence(layout: str, where: str) -> str:
    return (
        f"{where}: the layout “{layout}” does not say where the position stands. Write letters in the order "
        f"of the columns, such as PNEZD or PENZ (P point, N northing, E easting, Z height, D description) or "
        f'PLLHD (latitude before longitude), or a list such as "id, northing, easting, height".'
    )


def fitting_separator(text: str, columns: Sequence[str]) -> str | None:
    """Return the separator at which the first line of a list fits its layout, or None.

    The line fits where the cells of the position are numbers or angles and the cells are as many as
    the columns; a description at the end may be missing or hold the separator.
    """
    fields = [_field(column) for column in columns]
    place = [number for number, field in enumerate(fields) if field in {*_PAIRS[0], *_PAIRS[1]}]
    for separator in _ORDER:
        cells = first_record(text, separator)
        loose = fields[-1] == "description" and len(cells) >= len(columns) - 1
        if (loose or len(cells) == len(columns)) and all(_is_position(cells[number]) for number in place):
            return separator
    return None


def _is_position(cell: str) -> bool:
    plain = cell.replace(",", ".")
    return is_number(plain) or is_angle(plain)


def suggestion(text: str) -> str | None:
    """Return a layout that a list without a header row might have, or None where it looks like no list.

    Of two numbers in a row the larger is taken for the northing, as in most zones of most grids: good
    enough for a sentence that asks, never for reading.
    """
    for separator in _ORDER:
        cells = [cell.replace(",", ".") for cell in first_record(text, separator)]
        first = 0 if cells and is_number(cells[0]) and "." in cells[0] else 1
        if len(cells) >= first + 2 and all(map(is_number, cells[first : first + 2])):
            return _guess(cells, first)
    return None


def _guess(cells: Sequence[str], first: int) -> str:
    pair = cells[first : first + 2]
    one, two = (abs(float(cell)) for cell in pair)
    # Numbers of a small site grid have no five decimals.
    degrees = one <= 90 and two <= 180 and all(len(cell.partition(".")[2]) > 4 for cell in pair)
    letters = "LL" if degrees else "EN" if two > one else "NE"
    behind = cells[first + 2 :]
    height = bool(behind) and is_number(behind[0])
    return "P" * first + letters + "Z" * height + "D" * (len(behind) > height)
