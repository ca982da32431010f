"""What the cells of an Office Open XML workbook refer to: its sheets, strings and number formats."""

import datetime
import posixpath
import re
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from geoqa.readers.points._cells import is_number
from geoqa.readers.points._workbook_archive import Attributes, parse

XLSX_BOOK = "xl/workbook.xml"

_LINKS = "xl/_rels/workbook.xml.rels"
# ECMA-376, part 1, section 18.8.30: formats of dates and times that have no code in the file.
_DATE_FORMATS = frozenset({*range(14, 23), *range(45, 48)})
# In a format code, what stands in quotes, in brackets or behind a backslash is no part of a date.
_LITERAL = re.compile(r'"[^"]*"|\\.|_.|\[[^\]]*\]')
# ECMA-376, part 1, section 18.17.4.1: day 60 is a 29 February 1900 that never was.
_EPOCH = datetime.datetime(1899, 12, 30)  # noqa: DTZ001
_EPOCH_1904 = datetime.datetime(1904, 1, 1)  # noqa: DTZ001
_FIRST_TRUE_DAY, _LAST_DAY = 61, 2958465


@dataclass(frozen=True)
class Book:
    """The parts of a workbook that its cells refer to.

    Attributes
    ----------
    visible_parts
        Visible sheet → path of its part in the archive.
    strings
        Shared strings by their number.
    dates
        For each cell format, whether it shows a date or a time.
    epoch
        Day 0.
    """

    visible_parts: Mapping[str, str]
    strings: Sequence[str]
    dates: Sequence[bool]
    epoch: datetime.datetime

    def shared_string(self, number: str) -> str:
        """Return a shared string, or what stands in its place where there is none of that number."""
        known = number.isdecimal() and int(number) < len(self.strings)
        return self.strings[int(number)] if known else f"(string {number} is missing)"

    def date_text(self, value: str, style: int) -> str | None:
        """Return a date or a time as ISO 8601 text, None where the cell shows a mere number."""
        if style >= len(self.dates) or not self.dates[style] or not is_number(value):
            return None
        days = float(value)
        if 0 <= days < 1:
            return (self.epoch + _rounded(days)).time().isoformat()
        first = _FIRST_TRUE_DAY if self.epoch == _EPOCH else 0
        if not first <= days <= _LAST_DAY:
            return None
        moment = self.epoch + _rounded(days)
        midnight = moment.time() == datetime.time()
        return moment.date().isoformat() if midnight else moment.isoformat()


def _rounded(days: float) -> datetime.timedelta:
    """Return days to the millisecond, which is all that their binary fraction holds."""
    return datetime.timedelta(milliseconds=round(days * 86_400_000))


def book_of(archive: zipfile.ZipFile, source: str) -> Book:
    """Return what the cells of a workbook refer to."""
    links, sheets = _Collector("Relationship"), _Collector("sheet", "workbookPr")
    if _LINKS in archive.namelist():
        parse(archive, _LINKS, links, source)
    parse(archive, XLSX_BOOK, sheets, source)
    paths = {link.get("Id", ""): _path(link.get("Target", "")) for _, link in links.found}
    kinds = {
        link.get("Type", "").rpartition("/")[2]: _path(link.get("Target", "")) for _, link in links.found
    }
    visible = {
        sheet.get("name", ""): paths.get(_link_of(sheet), "")
        for element, sheet in sheets.found
        if element == "sheet" and sheet.get("state", "visible") == "visible"
    }
    is_1904 = any(item.get("date1904") in {"1", "true"} for _, item in sheets.found)
    return Book(
        visible_parts={name: part for name, part in visible.items() if "chartsheets/" not in part},
        strings=_strings(archive, kinds.get("sharedStrings", ""), source),
        dates=_dates(archive, kinds.get("styles", ""), source),
        epoch=_EPOCH_1904 if is_1904 else _EPOCH,
    )


def _path(target: str) -> str:
    # A target that begins with a stroke starts at the root of the archive.
    return posixpath.normpath(posixpath.join("/xl", target)).lstrip("/")


def _link_of(sheet: Attributes) -> str:
    return next((key for attribute, key in sheet.items() if attribute.endswith(":id")), "")


def _strings(archive: zipfile.ZipFile, part: str, source: str) -> Sequence[str]:
    strings = _Strings()
    if part in archive.namelist():
        parse(archive, part, strings, source)
    return strings.found


def _dates(archive: zipfile.ZipFile, part: str, source: str) -> Sequence[bool]:
    formats = _Formats()
    if part in archive.namelist():
        parse(archive, part, formats, source)
    return [
        number in _DATE_FORMATS or _is_date(formats.codes.get(number, "")) for number in formats.cell_formats
    ]


def _is_date(code: str) -> bool:
    return re.search("[dmyhs]", _LITERAL.sub("", code.partition(";")[0]).casefold()) is not None


class _Collector:
    """Keeps the attributes of every element of some names."""

    def __init__(self, *wanted: str) -> None:
        self.wanted = wanted
        self.found: list[tuple[str, Attributes]] = []

    def start(self, name: str, attributes: Attributes) -> None:
        """Note an element."""
        element = name.rpartition(":")[2]
        if element in self.wanted:
            self.found.append((element, attributes))

    def end(self, name: str) -> None:
        """Pass over the end of an element."""

    def text(self, text: str) -> None:
        """Pass over text."""


class _Strings:
    """Keeps the shared strings, put together from their runs, without how they are pronounced."""

    def __init__(self) -> None:
        self.found: list[str] = []
        self._parts: list[str] = []
        self._inside = self._spoken = False

    def start(self, name: str, _: Attributes) -> None:
        """Begin a string, a part of it, or its pronunciation."""
        element = name.rpartition(":")[2]
        if element == "si":
            self._parts = []
        elif element == "rPh":
            self._spoken = True
        elif element == "t":
            self._inside = not self._spoken

    def end(self, name: str) -> None:
        """End a string or a part of it."""
        element = name.rpartition(":")[2]
        if element == "si":
            self.found.append("".join(self._parts))
        elif element == "rPh":
            self._spoken = False
        elif element == "t":
            self._inside = False

    def text(self, text: str) -> None:
        """Take a part of a string."""
        if self._inside:
            self._parts.append(text)


class _Formats:
    """Keeps the codes of number formats, and which of them each cell format uses."""

    def __init__(self) -> None:
        self.codes: dict[int, str] = {}
        self.cell_formats: list[int] = []
        self._of_cells = False

    def start(self, name: str, attributes: Attributes) -> None:
        """Note a number format or a cell format."""
        element = name.rpartition(":")[2]
        number = attributes.get("numFmtId", "0")
        if element == "cellXfs":
            self._of_cells = True
        elif element == "numFmt" and number.isdecimal():
            self.codes[int(number)] = attributes.get("formatCode", "")
        elif element == "xf" and self._of_cells:
            self.cell_formats.append(int(number) if number.isdecimal() else 0)

    def end(self, name: str) -> None:
        """End the list of cell formats."""
        if name.rpartition(":")[2] == "cellXfs":
            self._of_cells = False

    def text(self, text: str) -> None:
        """Pass over text."""
