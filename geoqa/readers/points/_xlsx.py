"""The sheets of an Office Open XML workbook."""

import re
import zipfile
from functools import cache

from geoqa.errors import InputError
from geoqa.readers.points._workbook_archive import Attributes, parse
from geoqa.readers.points._workbook_cells import SheetCells, number_text
from geoqa.readers.points._xlsx_book import Book, book_of

_REFERENCE = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")
_VALUES = {"v", "t"}
_NO_VALUE = "(formula without a value)"


def xlsx_sheets(archive: zipfile.ZipFile, source: str) -> dict[str, SheetCells]:
    """Return name → cells of the visible sheets.

    A cell that shows an error is kept as that error, a formula that was never computed as a remark
    that says so: neither is an empty cell.

    References
    ----------
    ECMA-376, Office Open XML, part 1, sections 18.3.1.4 (c, cell) and 18.18.11 (cell types).
    """
    book = book_of(archive, source)
    sheets = {}
    for sheet, part in book.visible_parts.items():
        if part not in archive.namelist():
            message = f"{source}: the sheet “{sheet}” is missing in the file. Save the workbook again."
            raise InputError(message)
        cells = _Cells(SheetCells(source, sheet), book)
        parse(archive, part, cells, source)
        sheets[sheet] = cells.sheet
    return sheets


class _Cells:
    """Follows the XML of one sheet."""

    def __init__(self, sheet: SheetCells, book: Book) -> None:
        self.sheet = sheet
        self._book = book
        self._row = self._column = 0
        self._kind = ""
        self._style = 0
        self._formula = self._valued = self._inside = False
        self._value = ""

    def start(self, name: str, attributes: Attributes) -> None:
        """Begin a row, a cell, its value or its formula."""
        element = name if ":" not in name else name.rpartition(":")[2]
        if element == "c":
            self._begin_cell(attributes)
        elif element in _VALUES:
            self._valued = self._inside = True
        elif element == "f":
            self._formula = True
        elif element == "row":
            self._row, self._column = self._row + 1, 0
            if attributes.get("r", "").isdecimal():
                self._row = int(attributes["r"])

    def _begin_cell(self, attributes: Attributes) -> None:
        place = _REFERENCE.fullmatch(attributes.get("r", ""))
        self._column += 1
        if place:
            self._column, self._row = _column_number(place[1]), int(place[2])
        self._kind = attributes.get("t", "n")
        style = attributes.get("s", "0")
        self._style = int(style) if style.isdecimal() else 0
        self._formula = self._valued = False
        self._value = ""

    def end(self, name: str) -> None:
        """End a value or a cell."""
        element = name if ":" not in name else name.rpartition(":")[2]
        if element in _VALUES:
            self._inside = False
        elif element == "c" and self._valued:
            self.sheet.put(self._row, self._column, self._text())
        elif element == "c" and self._formula:
            self.sheet.put(self._row, self._column, _NO_VALUE)

    def text(self, text: str) -> None:
        """Take a part of the value of a cell."""
        if self._inside:
            self._value += text

    def _text(self) -> str:
        if self._kind == "n":
            return self._book.date_text(self._value, self._style) or number_text(self._value)
        if self._kind == "s":
            return self._book.shared_string(self._value).strip()
        if self._kind == "b":
            return {"0": "false", "1": "true"}.get(self._value, self._value)
        return self._value.strip()


@cache
def _column_number(letters: str) -> int:
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - ord("A") + 1
    return number
