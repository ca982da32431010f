"""The records of a text: its lines split into cells at one separator."""

import csv
import io
from collections.abc import Iterator

from geoqa.errors import InputError

BLANKS = " "
SEPARATORS = (",", ";", "\t", BLANKS)

# A line of a table has some hundred characters; text without line ends would be split for minutes.
_LONGEST_LINE = 1_000_000
# The header stands in the opening of a text, and no table of points has more columns.
_OPENING = 2 * _LONGEST_LINE
_MOST_COLUMNS = 1000


class _Lines:
    """The lines of a text for the csv module, without empty lines and remarks between the records.

    Inside a quoted cell an empty line or a # belongs to the cell, so the end of each record must be
    told by `end_record`. `first` is the number of the first line of the present record.
    """

    def __init__(self, text: str, name: str, *, blanks: bool = False) -> None:
        self._numbered = enumerate(io.StringIO(text, newline=""), start=1)
        self._name = name
        self._between, self._blanks = True, blanks
        self.first = 0

    def __iter__(self) -> Iterator[str]:
        for number, line in self._numbered:
            if len(line) > _LONGEST_LINE:
                message = (
                    f"{self._name}, line {number}: the line has more than {_LONGEST_LINE} characters, "
                    f"which no row of points has. Export the table again."
                )
                raise InputError(message)
            if self._between:
                if line.isspace() or line.startswith("#"):
                    continue
                self.first, self._between = number, False
            # Tabs and blanks may stand in one line, and before and behind it.
            yield line.expandtabs(1).strip() + "\n" if self._blanks else line

    def end_record(self) -> None:
        """Say that the next line begins a record."""
        self._between = True


def first_line(text: str, name: str) -> tuple[int, str]:
    """Return number and text of the first line that is neither empty nor a remark, or raise."""
    lines = _Lines(text[:_OPENING], name)
    line = next(iter(lines), "").strip()
    if not line:
        message = (
            f"{name}: there are only empty lines and remarks, no header row and no points. Export it again."
        )
        raise InputError(message)
    return lines.first, line


def records(text: str, separator: str, name: str) -> Iterator[tuple[int, list[str]]]:
    """Yield first line and cells of each record, blanks around the cells taken off.

    Cells are quoted as in RFC 4180. A record of empty cells only is passed over. Where blanks part
    the cells, several of them count as one.
    """
    lines = _Lines(text, name, blanks=separator == BLANKS)
    try:
        for cells in csv.reader(lines, delimiter=separator, skipinitialspace=True, strict=True):
            if "".join(cells).strip():
                yield lines.first, [cell.strip() for cell in cells]
            lines.end_record()
    except csv.Error as reason:
        message = (
            f"{name}, line {lines.first}: the row cannot be split into cells ({reason}). "
            f"Close every quoted cell and double the quotation marks inside it."
        )
        raise InputError(message) from None


def first_record(text: str, separator: str) -> list[str]:
    """Return the cells of the first record, none where this separator splits it not at all or too much."""
    try:
        _, cells = next(records(text[:_OPENING], separator, ""), (0, []))
    except InputError:  # the quotation marks belong to another separator
        return []
    return cells if len(cells) <= _MOST_COLUMNS else []
