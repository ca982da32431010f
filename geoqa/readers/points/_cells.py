"""Cells of a table as written, and the numbers and words that they hold."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeVar

import numpy as np

from geoqa.errors import InputError
from geoqa.numerics.arrays import FloatArray, IntArray

W = TypeVar("W", bound=StrEnum)

# float() also takes underscores, foreign digits, “nan” and “inf”.
_NO_NUMBER = re.compile(r"[^0-9eE+.\n-]")
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]*,[0-9]*(?:[eE][+-]?[0-9]+)?")


def brief(text: str, length: int = 60) -> str:
    """Return a text for a message: on one line, cut at a length.

    Examples
    --------
    >>> brief("CP 1\\n"), len(brief("A" * 1000))
    ('CP 1', 58)
    """
    line = " ".join(text[: 4 * length].split())
    return line if len(line) <= length else f"{line[: length - 3]}…"


@dataclass(frozen=True)
class TextTable:
    """A table of points as text, one tuple a column, blanks around each cell taken off.

    Attributes
    ----------
    source
        Name of the file.
    row_word
        What a row is called in messages: "line", "row" or "feature".
    lines : array, shape (n,)
        Line or number of each row.
    decimal_comma
        Whether a comma may stand for the decimal point.
    """

    source: str
    row_word: str
    header: tuple[str, ...]
    columns: tuple[tuple[str, ...], ...]
    lines: IntArray
    decimal_comma: bool = False

    def where(self, row: int, column: int) -> str:
        """Return where a cell stands, for messages."""
        return f"{self.source}, {self.row_word} {int(self.lines[row])}, column “{brief(self.header[column])}”"


def texts(table: TextTable, column: int | None) -> tuple[str | None, ...]:
    """Return the cells of a column, None for an empty cell or a missing column."""
    if column is None:
        return (None,) * len(table.lines)
    return tuple(cell or None for cell in table.columns[column])


def required_texts(table: TextTable, column: int) -> tuple[str, ...]:
    """Return the cells of a column, or raise `InputError` at the first empty one."""
    cells = table.columns[column]
    if "" in cells:
        message = (
            f"{table.where(cells.index(''), column)}: the cell is empty. Fill it in or take the row out."
        )
        raise InputError(message)
    return cells


def words(table: TextTable, column: int | None, kind: type[W]) -> tuple[W | None, ...]:
    """Return the choices of a column, whatever their case; None for an empty cell.

    Raises
    ------
    InputError
        At the first word that is none of the choices.
    """
    cells = ("",) * len(table.lines) if column is None else table.columns[column]
    choices: dict[str, W | None] = {"": None}
    for cell in set(cells) - {""}:
        choices[cell] = next((choice for choice in kind if choice.value == cell.casefold()), None)
    unknown = {cell for cell, choice in choices.items() if cell and choice is None}
    if unknown and column is not None:
        row = next(row for row, cell in enumerate(cells) if cell in unknown)
        allowed = ", ".join(choice.value for choice in kind)
        message = (
            f"{table.where(row, column)}: “{brief(cells[row])}” is not one of {allowed}. Write one of them."
        )
        raise InputError(message)
    return tuple([choices[cell] for cell in cells])


def numbers(table: TextTable, column: int, *, required: bool = False) -> FloatArray:
    """Return the numbers of a column, shape (n,), NaN for an empty cell.

    Raises
    ------
    InputError
        At the first cell that is no finite number, or is empty where one is required.
    """
    if required:
        required_texts(table, column)
    cells = with_points(table, column)
    joined = "\n".join(cells)
    if _NO_NUMBER.search(joined) is None:
        try:
            values = np.array([float(cell or "nan") for cell in cells])
        except ValueError:
            values = np.array([np.inf])
        if not np.isinf(values).any():
            return values
    row = next(row for row, cell in enumerate(cells) if cell and not is_number(cell))
    message = (
        f"{table.where(row, column)}: “{brief(table.columns[column][row])}” {_advice(table, row, column)}"
    )
    raise InputError(message)


def with_points(table: TextTable, column: int) -> Sequence[str]:
    """Return the cells of a column with decimal points, where a comma may stand for one."""
    cells = table.columns[column]
    if not table.decimal_comma or "," not in "".join(cells):
        return cells
    return [cell.replace(",", ".") if _DECIMAL_COMMA.fullmatch(cell) else cell for cell in cells]


def is_number(cell: str) -> bool:
    """Return whether a cell holds one finite number with a decimal point."""
    if _NO_NUMBER.search(cell):
        return False
    try:
        return bool(np.isfinite(float(cell)))
    except ValueError:
        return False


def _advice(table: TextTable, row: int, column: int) -> str:
    cell = table.columns[column][row]
    try:
        if not np.isfinite(float(cell)):
            return "is not a finite number. Leave the cell empty if there is none."
    except ValueError:
        pass
    if "," in cell and re.fullmatch(r"[0-9.,+-]+", cell):
        return "is not a number. Write it without thousands separators and with a decimal point."
    if re.search("[°'′:NSEW ]", cell) and re.match(r"[NSEW+-]?\s*[0-9]", cell):
        return "is not a number. Write one number; angles stand in columns named latitude and longitude."
    return "is not a number. Correct the cell or take the row out."


def refuse_mixed_decimals(table: TextTable, columns: Sequence[int]) -> None:
    """Raise `InputError` where one number has a decimal comma and another a decimal point.

    A comma is then as likely to part thousands as decimals.
    """
    comma = _first_with(",", table, columns) if table.decimal_comma else None
    point = _first_with(".", table, columns) if comma else None
    if comma and point:
        with_comma, with_point = (table.columns[column][row] for row, column in (comma, point))
        message = (
            f"{table.where(*comma)}: “{brief(with_comma)}” has a comma, but “{brief(with_point)}” in "
            f"{table.row_word} {int(table.lines[point[0]])} has a point. Write all numbers with the same "
            f"decimal sign."
        )
        raise InputError(message)


def _first_with(mark: str, table: TextTable, columns: Sequence[int]) -> tuple[int, int] | None:
    """Return row and column of the first cell with a mark, or None."""
    for column in columns:
        cells = table.columns[column]
        if mark in "".join(cells):
            return next(row for row, cell in enumerate(cells) if mark in cell), column
    return None
