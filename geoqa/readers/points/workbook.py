"""Workbooks, Office Open XML and OpenDocument: the one sheet with points, its cells as in a table of text."""

from collections.abc import Sequence
from pathlib import Path

from geoqa.errors import InputError
from geoqa.readers.points import PointReader, PointsRequest
from geoqa.readers.points._cells import TextTable
from geoqa.readers.points._columns import ColumnPlan, plan_columns
from geoqa.readers.points._header import holds_position, recognised
from geoqa.readers.points._layouts import layout_plan
from geoqa.readers.points._rows import RowRule, text_table, trimmed
from geoqa.readers.points._survey import coordinates_of, survey_points
from geoqa.readers.points._workbook_sheets import Sheet, visible_sheets
from geoqa.records.points import SurveyPoints

# The last two are named to be refused with a sentence that helps.
_SUFFIXES = (".xlsx", ".xlsm", ".ods", ".xls", ".xlsb")
# Titles, dates and remarks often stand above the header.
_HEADER_WITHIN = 30


def can_read(path: Path) -> bool:
    """Return whether the file is named as a workbook."""
    return path.suffix.lower() in _SUFFIXES


def read(path: Path, request: PointsRequest) -> SurveyPoints:
    """Return the points of the one visible sheet whose header names a position.

    The header may stand below a title. Numbers stay exact, a whole number has no decimals, dates
    become ISO 8601 text; `lines` are the rows of the sheet. With a layout the whole sheet is a list.

    Raises
    ------
    InputError
        Where the file is no workbook, is damaged, protected or unreasonably large, where no sheet or
        several hold points, or where a cell is not what its column says; an error such as #N/A in a
        cell is not taken for an empty one.
    """
    sheets = visible_sheets(path)
    if request.layout is None:
        sheet, table, plan = _with_header(sheets, request, path.name)
    else:
        sheet, table, plan = _as_list(sheets, request, path.name)
    several = len(sheets) > 1
    notes = (f"{path.name}: the points come from the sheet “{sheet.name}”.",) if several else ()
    return survey_points(table, plan, coordinates_of(table, plan), notes)


def _with_header(
    sheets: Sequence[Sheet], request: PointsRequest, name: str
) -> tuple[Sheet, TextTable, ColumnPlan]:
    sheet, row = _header_row(sheets, request, name)
    rows = sheet.from_row(row)
    where = f"{name}, sheet “{sheet.name}”, row {row + 1}"
    plan = plan_columns(trimmed(rows[0]), request.columns, where=where)
    table = _table(plan, rows[1:], row + 2, name)
    if not table.lines.size:
        message = f"{where}: below this header there are no points. Fill the sheet, or take it out."
        raise InputError(message)
    return sheet, table, plan


def _as_list(
    sheets: Sequence[Sheet], request: PointsRequest, name: str
) -> tuple[Sheet, TextTable, ColumnPlan]:
    plan = layout_plan(request, name)
    if len(sheets) > 1:
        raise InputError(_several(name, sheets))
    return sheets[0], _table(plan, sheets[0].from_row(0), 1, name), plan


def _header_row(sheets: Sequence[Sheet], request: PointsRequest, name: str) -> tuple[Sheet, int]:
    """Return the sheet to read and its row with the header, from 0.

    Where no row names a position, the row with the most names is the one to complain about.
    """
    wanted = request.columns
    heads = [(sheet, row, cells) for sheet in sheets for row, cells in enumerate(sheet.rows[:_HEADER_WITHIN])]
    fitting = {
        sheet.name: (sheet, row) for sheet, row, cells in reversed(heads) if holds_position(cells, wanted)
    }
    if len(fitting) > 1:
        raise InputError(_several(name, [sheet for sheet in sheets if sheet.name in fitting]))
    for found in fitting.values():
        return found
    sheet, row, cells = max(heads, key=lambda head: recognised(head[2], wanted))
    if recognised(cells, wanted) < 2:
        found_sheets = ", ".join(f"“{sheet.name}”" for sheet in sheets)
        message = (
            f"{name}: no sheet has a header row with id, easting, northing, height or id, latitude, "
            f"longitude, height, found the sheets {found_sheets}. Put such a row on top, or "
            f"name {request.layout_key} for a list without one."
        )
        raise InputError(message)
    return sheet, row


def _table(plan: ColumnPlan, rows: Sequence[Sequence[str]], first: int, name: str) -> TextTable:
    """Return the rows that are not empty, numbered as in the sheet."""
    rule = RowRule(
        source=name,
        row_word="row",
        decimal_comma=True,
        advice="Name the column in the header, or clear what stands beside the table.",
    )
    filled = [(number, cells) for number, cells in enumerate(rows, start=first) if any(cells)]
    return text_table(plan.header, filled, rule)


def _several(name: str, sheets: Sequence[Sheet]) -> str:
    found = ", ".join(f"“{sheet.name}”" for sheet in sheets)
    return f"{name}: several sheets may hold the points, {found}. Save the one to use as a file of its own."


READER = PointReader(
    id="workbook",
    title="Workbook (Office Open XML or OpenDocument), the sheet with the points",
    suffixes=_SUFFIXES,
    example=(
        "Punkt,Rechtswert,Hochwert,Höhe,Beschreibung\n"
        "101,431250.118,5412380.472,212.34,invented car park\n"
        "102,431377.905,5412391.016,211.982,invented track\n"
        "103,431302.44,5412477.859,,invented roof edge: plan only\n"
        "104,431288.671,5412420.233,212.115,invented yard\n"
    ),
    example_is_file=False,
    can_read=can_read,
    read=read,
)
