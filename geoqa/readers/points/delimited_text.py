"""Tables of text with a header row, separated by comma, semicolon or tab."""

import csv
import io
from collections.abc import Iterator, Mapping
from pathlib import Path

import numpy as np

from geoqa.errors import InputError
from geoqa.readers.points import PointReader, PointsRequest
from geoqa.readers.points._cells import TextTable
from geoqa.readers.points._columns import plan_columns
from geoqa.readers.points._files import content_of
from geoqa.readers.points._header import recognised
from geoqa.readers.points._survey import coordinates_of, survey_points
from geoqa.records.points import SurveyPoints

_SEPARATORS = (",", ";", "\t")
_SUFFIXES = (".csv", ".txt", ".tsv")


def can_read(path: Path) -> bool:
    """Return whether the file is named as a table of text."""
    return path.suffix.lower() in _SUFFIXES


def read(path: Path, request: PointsRequest) -> SurveyPoints:
    """Return the points of a table in UTF-8, cells quoted as in RFC 4180.

    Empty lines and lines that start with # are passed over; line numbers stay those of the file. A
    decimal comma is read where the separator is a semicolon or a tab. Ids stay text.

    Raises
    ------
    InputError
        Where the file cannot be read, its header is not understood, or a cell is not what its
        column says.

    References
    ----------
    RFC 4180, Common Format and MIME Type for Comma-Separated Values (CSV) Files, section 2.
    """
    if request.layout is not None:
        message = (
            f"{path.name}: the layout “{request.layout}” was named, but lists without a header row are not "
            f"read. Put a row such as id,northing,easting,height on top and leave the layout out."
        )
        raise InputError(message)
    text = _decoded(path)
    separator = _separator(text, request.columns, path.name)
    header_line, table = _table(text, separator, path.name)
    plan = plan_columns(table.header, request.columns, where=f"{path.name}, line {header_line}")
    if not table.lines.size:
        message = f"{path.name}: after the header in line {header_line} there are no points. Export it again."
        raise InputError(message)
    return survey_points(table, plan, coordinates_of(table, plan))


def _decoded(path: Path) -> str:
    content = content_of(path)
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        message = f"{path.name}: the table is UTF-16 text. Save it as UTF-8."
        raise InputError(message)
    if b"\0" in content:
        message = (
            f"{path.name}: this is a binary file, not a table of text. Export the points as CSV in UTF-8."
        )
        raise InputError(message)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as mistake:
        line = content.count(b"\n", 0, mistake.start) + 1
        message = (
            f"{path.name}, line {line}: byte 0x{content[mistake.start]:02X} is not UTF-8 text. "
            f"Save the table as UTF-8."
        )
        raise InputError(message) from None


def _separator(text: str, wanted: Mapping[str, str], name: str) -> str:
    """Return the separator that splits the header into the most names with a meaning."""
    headers = {separator: _header(text, separator) for separator in _SEPARATORS}
    known = {separator: recognised(header, wanted) for separator, header in headers.items()}
    best = max(known, key=lambda separator: known[separator])
    if known[best] and len(headers[best]) > 1:
        return best
    lines = _Lines(text)
    line = next(iter(lines), "").strip()
    if not line:
        message = (
            f"{name}: there are only empty lines and remarks, no header row and no points. Export it again."
        )
        raise InputError(message)
    found = line if len(line) <= 60 else f"{line[:57]}…"
    message = (
        f"{name}, line {lines.first}: expected a header row with id, easting, northing, height or id, "
        f"latitude, longitude, height, found “{found}”. "
    )
    if recognised(line.split(), wanted) > 1:
        message += "Part the columns by comma, semicolon or tab instead of blanks."
    else:
        message += "Put such a row on top, or name points.layout for a list without one."
    raise InputError(message)


def _header(text: str, separator: str) -> list[str]:
    try:
        _, cells = next(_records(text, separator, ""), (0, []))
    except InputError:  # the quotation marks belong to another separator
        return []
    return [cell.strip() for cell in cells]


class _Lines:
    """The lines of a text for the csv module, without empty lines and remarks between the records.

    Inside a quoted cell an empty line or a # belongs to the cell, so the end of each record must be
    told by `end_record`. `first` is the number of the first line of the present record.
    """

    def __init__(self, text: str) -> None:
        self._numbered = enumerate(io.StringIO(text, newline=""), start=1)
        self._between = True
        self.first = 0

    def __iter__(self) -> Iterator[str]:
        for number, line in self._numbered:
            if self._between:
                if line.isspace() or line.startswith("#"):
                    continue
                self.first, self._between = number, False
            yield line

    def end_record(self) -> None:
        """Say that the next line begins a record."""
        self._between = True


def _records(text: str, separator: str, name: str) -> Iterator[tuple[int, list[str]]]:
    """Yield first line and cells of each record; one of empty cells only is passed over."""
    lines = _Lines(text)
    try:
        for cells in csv.reader(lines, delimiter=separator, skipinitialspace=True, strict=True):
            if "".join(cells).strip():
                yield lines.first, cells
            lines.end_record()
    except csv.Error as reason:
        message = (
            f"{name}, line {lines.first}: the row cannot be split into cells ({reason}). "
            f"Close every quoted cell and double the quotation marks inside it."
        )
        raise InputError(message) from None


def _table(text: str, separator: str, name: str) -> tuple[int, TextTable]:
    """Return the line of the header, and the table below it."""
    records = _records(text, separator, name)
    header_line, header = next(records)
    names = [cell.strip() for cell in header]
    while names and not names[-1]:
        names.pop()
    numbers: list[int] = []
    rows: list[list[str]] = []
    for line, cells in records:
        numbers.append(line)
        rows.append(cells if len(cells) == len(names) else _fitted(cells, len(names), f"{name}, line {line}"))
    columns = zip(*rows, strict=True) if rows else [()] * len(names)
    return header_line, TextTable(
        source=name,
        row_word="line",
        header=tuple(names),
        columns=tuple(tuple(map(str.strip, column)) for column in columns),
        lines=np.array(numbers, dtype=np.int64),
        decimal_comma=separator != ",",
    )


def _fitted(cells: list[str], count: int, where: str) -> list[str]:
    """Return a row without the empty cells beyond the header, or raise where it does not fit."""
    if len(cells) > count and not "".join(cells[count:]).strip():
        return cells[:count]
    message = (
        f"{where}: the row has {len(cells)} cells, the header {count}. Quote a cell that holds the "
        f"separator, write a decimal point, or fill up what is missing."
    )
    raise InputError(message)


READER = PointReader(
    id="delimited-text",
    title="Table of text with a header row (comma, semicolon or tab)",
    suffixes=_SUFFIXES,
    example=(
        "id,easting,northing,height,sd_east,sd_north,sd_up,role,cover,description\n"
        "CP01,431250.118,5412380.472,212.340,0.008,0.008,0.015,check,hard,invented car park\n"
        "CP02,431377.905,5412391.016,211.982,0.009,0.008,0.016,check,bare,invented track\n"
        "CP03,431302.440,5412477.859,,0.010,0.010,,check,,invented roof edge: plan only\n"
        "GCP1,431288.671,5412420.233,212.115,0.008,0.009,0.014,control,hard,invented yard\n"
    ),
    can_read=can_read,
    read=read,
)
