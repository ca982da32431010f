"""The cells of one sheet of a workbook, as text."""

from dataclasses import dataclass, field
from typing import TypeAlias

from geoqa.errors import InputError
from geoqa.readers.points._cells import is_number

Rows: TypeAlias = tuple[tuple[str, ...], ...]

_MOST_ROWS = 1_000_000
_MOST_CELLS = 3_000_000
# Up to here a binary floating-point number holds every whole number.
_EXACT_WHOLE = 2**53


def number_text(written: str) -> str:
    """Return the number of a cell with every digit it has, a whole number without decimals.

    Programs write binary numbers out to seventeen digits; the shortest text of the same number is
    what was typed in. What is no number stays as it is.

    Examples
    --------
    >>> number_text("7.0"), number_text("5412380.4719999997"), number_text("-0.5")
    ('7', '5412380.472', '-0.5')
    """
    if not is_number(written):
        return written.strip()
    value = float(written)
    return str(int(value)) if value.is_integer() and abs(value) < _EXACT_WHOLE else repr(value)


@dataclass
class SheetCells:
    """The cells of a sheet that hold anything: (row, column), counted from 1 → text."""

    source: str
    sheet: str
    cells: dict[tuple[int, int], str] = field(default_factory=dict)
    height: int = 0
    width: int = 0

    def reach(self, row: int, column: int) -> None:
        """Note that the sheet is filled as far as this cell, or raise where that is absurd."""
        self.height, self.width = max(self.height, row), max(self.width, column)
        if self.height > _MOST_ROWS or self.height * self.width > _MOST_CELLS:
            message = (
                f"{self.source}, sheet “{self.sheet}”: the cells reach as far as row {self.height} and "
                f"column {self.width}, more than a list of points. Copy the points into a new sheet."
            )
            raise InputError(message)

    def put(self, row: int, column: int, text: str) -> None:
        """Keep a cell; one without text does not count."""
        if text:
            self.reach(row, column)
            self.cells[row, column] = text

    def rows(self) -> Rows:
        """Return all rows from the first cell of the sheet on, each as wide as the widest."""
        rows = [[""] * self.width for _ in range(self.height)]
        for (row, column), text in self.cells.items():
            rows[row - 1][column - 1] = text
        return tuple(map(tuple, rows))
