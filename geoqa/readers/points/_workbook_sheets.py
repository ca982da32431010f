"""The visible sheets of a workbook, every cell as text."""

import zipfile
from dataclasses import dataclass
from pathlib import Path

from geoqa.errors import InputError
from geoqa.readers.points._files import opening_of, refuse_huge, usable_file
from geoqa.readers.points._ods import ODS_CONTENT, ods_sheets
from geoqa.readers.points._workbook_archive import opened
from geoqa.readers.points._workbook_cells import Rows, SheetCells
from geoqa.readers.points._xlsx import xlsx_sheets
from geoqa.readers.points._xlsx_book import XLSX_BOOK

# Workbooks of Excel before 2007, and those with a password, are compound files: [MS-CFB], section 2.2.
_COMPOUND_FILE = bytes.fromhex("D0CF11E0A1B11AE1")


@dataclass(frozen=True)
class Sheet:
    """Cells of a sheet as text, from its first row and column on."""

    name: str
    rows: Rows

    def from_row(self, first: int) -> Rows:
        """Return the rows from one on, counted from 0, without columns that are empty there."""
        rows = self.rows[first:]
        filled = [any(column) for column in zip(*rows, strict=True)]
        return tuple(tuple(cell for cell, kept in zip(row, filled, strict=True) if kept) for row in rows)


def visible_sheets(path: Path) -> tuple[Sheet, ...]:
    """Return the visible sheets that hold anything.

    Numbers are written with every digit they have, dates as in ISO 8601. A cell that shows an error
    holds that error as text.

    Raises
    ------
    InputError
        Where the file is no workbook, is damaged, protected, empty or unreasonably large.
    """
    refuse_huge(usable_file(path))
    if not zipfile.is_zipfile(path):
        raise InputError(_no_archive(path))
    with opened(path) as archive:
        cells = _cells(archive, path.name)
    sheets = tuple(Sheet(name, sheet.rows()) for name, sheet in cells.items() if sheet.cells)
    if not sheets:
        message = f"{path.name}: no visible sheet of the workbook holds anything. Save it with the points."
        raise InputError(message)
    return sheets


def _cells(archive: zipfile.ZipFile, source: str) -> dict[str, SheetCells]:
    parts = archive.namelist()
    if ODS_CONTENT in parts:
        return ods_sheets(archive, source)
    if XLSX_BOOK in parts:
        return xlsx_sheets(archive, source)
    message = f"{source}: this is no workbook that points are read from. Save it as .xlsx, .ods or .csv."
    raise InputError(message)


def _no_archive(path: Path) -> str:
    if opening_of(path).startswith(_COMPOUND_FILE):
        return (
            f"{path.name}: this is a workbook of Excel before 2007, or one with a password. Save it as "
            f".xlsx, without a password."
        )
    return (
        f"{path.name}: this is no workbook, whatever its name says. Name it .csv if it opens in a text "
        f"editor, or save it again."
    )
