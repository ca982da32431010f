"""The sheets of an OpenDocument workbook."""

import re
import zipfile

from geoqa.readers.points._workbook_archive import Attributes, parse
from geoqa.readers.points._workbook_cells import SheetCells, number_text

ODS_CONTENT = "content.xml"

_CELLS = {"table:table-cell", "table:covered-table-cell"}
# What spreadsheets show where a formula failed: #N/A, #REF!, Err:502.
_ERROR_TEXT = re.compile(r"#\S+|[^\W\d]+:[0-9]{3}")
_TEXTS = ("office:date-value", "office:boolean-value", "office:string-value")


def ods_sheets(archive: zipfile.ZipFile, source: str) -> dict[str, SheetCells]:
    """Return name → cells of the visible sheets.

    A formula that failed is kept as the error it shows, whatever value the file gives it.

    References
    ----------
    OASIS OpenDocument 1.3, part 3, sections 9.1.4 (table cells) and 19.385 (office:value-type).
    """
    cells = _Cells(source)
    parse(archive, ODS_CONTENT, cells, source)
    return cells.sheets


class _Cells:
    """Follows the XML; rows and cells that repeat stand in the file once."""

    def __init__(self, source: str) -> None:
        self.source = source
        self.sheets: dict[str, SheetCells] = {}
        self._sheet = SheetCells(source, "")
        self._hidden: set[str] = set()
        self._style = ""
        self._row = self._column = 0
        self._rows = self._columns = 1
        self._cell: Attributes = {}
        self._paragraphs: list[str] = []
        self._inside = self._remarks = 0

    def start(self, name: str, attributes: Attributes) -> None:
        """Begin a sheet, a row, a cell or a part of its text."""
        if name in _CELLS:
            self._cell, self._paragraphs = attributes, []
            self._columns = _count(attributes, "table:number-columns-repeated")
        elif name == "text:p":
            self._inside += 1
            if not self._remarks:
                self._paragraphs.append("")
        elif name == "text:s":
            self.text(" " * min(_count(attributes, "text:c"), 80))
        elif name == "office:annotation":
            self._remarks += 1
        elif name == "table:table-row":
            self._rows, self._column = _count(attributes, "table:number-rows-repeated"), 0
        else:
            self._start_sheet(name, attributes)

    def _start_sheet(self, name: str, attributes: Attributes) -> None:
        if name == "style:style":
            self._style = attributes.get("style:name", "")
        elif name == "style:table-properties" and attributes.get("table:display") == "false":
            self._hidden.add(self._style)
        elif name == "table:table":
            sheet, self._row = attributes.get("table:name", ""), 0
            self._sheet = SheetCells(self.source, sheet)
            if attributes.get("table:style-name") not in self._hidden:
                self.sheets[sheet] = self._sheet

    def end(self, name: str) -> None:
        """End a row, a cell or a part of its text."""
        if name in _CELLS:
            self._keep(self._text())
            self._column += self._columns
        elif name == "text:p":
            self._inside -= 1
        elif name == "office:annotation":
            self._remarks -= 1
        elif name == "table:table-row":
            self._row += self._rows

    def text(self, text: str) -> None:
        """Take a part of what a cell shows, not of a remark on it."""
        if self._inside and not self._remarks and self._paragraphs:
            self._paragraphs[-1] += text

    def _text(self) -> str:
        shown = "\n".join(self._paragraphs).strip()
        computed = "table:formula" in self._cell
        if self._cell.get("calcext:value-type") == "error" or (computed and _ERROR_TEXT.fullmatch(shown)):
            return shown
        if "office:value" in self._cell:
            return number_text(self._cell["office:value"])
        return next((self._cell[name] for name in _TEXTS if name in self._cell), shown)

    def _keep(self, text: str) -> None:
        if not text:
            return
        self._sheet.reach(self._row + self._rows, self._column + self._columns)
        for row in range(self._row + 1, self._row + self._rows + 1):
            for column in range(self._column + 1, self._column + self._columns + 1):
                self._sheet.put(row, column, text)


def _count(attributes: Attributes, name: str) -> int:
    count = attributes.get(name, "1")
    return int(count) if count.isdecimal() and len(count) < 10 else 1
