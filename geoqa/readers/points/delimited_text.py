"""Tables of text: with a header row, or as lists whose layout the user names."""

from pathlib import Path

from geoqa.errors import InputError
from geoqa.readers.points import PointReader, PointsRequest
from geoqa.readers.points._cells import TextTable, brief
from geoqa.readers.points._columns import ColumnPlan, plan_columns
from geoqa.readers.points._files import opens_like_nmea
from geoqa.readers.points._header import header_name, recognised
from geoqa.readers.points._layouts import fitting_separator, layout_columns, layout_plan, suggestion
from geoqa.readers.points._records import BLANKS, SEPARATORS, first_line, first_record, records
from geoqa.readers.points._rows import RowRule, text_table, trimmed
from geoqa.readers.points._survey import coordinates_of, survey_points
from geoqa.readers.points._text import text_of
from geoqa.records.points import SurveyPoints

_SUFFIXES = (".csv", ".txt", ".tsv", ".asc", ".dat", ".xyz")

# What joins the cells of a description again that its own commas parted.
_JOINTS = {",": ", ", ";": "; "}


def can_read(path: Path) -> bool:
    """Return whether the file is named as a table of text and does not begin like a receiver's log."""
    return path.suffix.lower() in _SUFFIXES and not opens_like_nmea(path)


def read(path: Path, request: PointsRequest) -> SurveyPoints:
    """Return the points of a table of text, cells quoted as in RFC 4180.

    Commas, semicolons, tabs or blanks part the cells. Empty lines and lines that start with # are
    passed over; line numbers stay those of the file. A decimal comma is read where commas do not part
    the cells. Ids stay text. Without a header row the layout must be named.

    Raises
    ------
    InputError
        Where the file cannot be read, its header is not understood or missing, or a cell is not
        what its column says.

    References
    ----------
    RFC 4180, Common Format and MIME Type for Comma-Separated Values (CSV) Files, section 2.
    """
    text, notes = text_of(path)
    first_line(text, path.name)
    if request.layout is None:
        table, plan = _with_header(text, request, path.name)
    else:
        table, plan = _as_list(text, request, path.name)
    return survey_points(table, plan, coordinates_of(table, plan), notes)


def _with_header(text: str, request: PointsRequest, name: str) -> tuple[TextTable, ColumnPlan]:
    separator = _separator(text, request, name)
    rows = records(text, separator, name)
    line, cells = next(rows)
    header = trimmed(cells)
    plan = plan_columns(header, request.columns, where=f"{name}, line {line}")
    free = separator == BLANKS and header_name(header[-1]).means("description")
    table = text_table(header, rows, _rule(name, separator, free=free))
    if not table.lines.size:
        message = f"{name}: after the header in line {line} there are no points. Export it again."
        raise InputError(message)
    return table, plan


def _as_list(text: str, request: PointsRequest, name: str) -> tuple[TextTable, ColumnPlan]:
    plan = layout_plan(request, name)
    separator = fitting_separator(text, plan.header)
    if separator is None:
        raise InputError(_not_fitting(text, plan.header, name, request.layout_key))
    free = header_name(plan.header[-1]).means("description")
    return text_table(plan.header, records(text, separator, name), _rule(name, separator, free=free)), plan


def _rule(name: str, separator: str, *, free: bool) -> RowRule:
    return RowRule(
        source=name,
        row_word="line",
        decimal_comma=separator != ",",
        advice="Quote a cell that holds the separator, write a decimal point, or fill up what is missing.",
        rest=_JOINTS.get(separator, " ") if free else None,
    )


def _separator(text: str, request: PointsRequest, name: str) -> str:
    """Return the separator that splits the header into the most names with a meaning.

    Names of several words fall apart at blanks, so blanks count only where no other mark splits it.
    """
    for choice in (SEPARATORS[:-1], SEPARATORS):
        headers = {separator: first_record(text, separator) for separator in choice}
        known = {separator: recognised(header, request.columns) for separator, header in headers.items()}
        best = max(known, key=lambda separator: known[separator])
        if known[best] > 1:
            return best
    if known[best] and len(headers[best]) > 1 and best != BLANKS:
        return best
    raise InputError(_no_header(text, name, request.layout_key))


def _no_header(text: str, name: str, key: str) -> str:
    line, found = _shown_line(text, name)
    guess = suggestion(text)
    advice = (
        f"Put such a row on top, or name {key} for a list without one."
        if guess is None
        else f"Put such a row on top, or name the order of the columns: should it be "
        f'{", ".join(layout_columns(guess, name))}, write {key} = "{guess}".'
    )
    return (
        f"{name}, line {line}: expected a header row with id, easting, northing, height or id, latitude, "
        f"longitude, height, found “{found}”. {advice}"
    )


def _not_fitting(text: str, columns: tuple[str, ...], name: str, key: str) -> str:
    line, found = _shown_line(text, name)
    if max(recognised(first_record(text, separator), {}) for separator in SEPARATORS) > 1:
        return (
            f"{name}, line {line}: {key} was given for a list without a header row, but “{found}” is "
            f"one. Leave the layout out, or take the row out where it is wrong."
        )
    return (
        f"{name}, line {line}: “{found}” does not split into the {len(columns)} columns of {key} "
        f"({', '.join(columns)}) with a number in each column of the position. Name the columns that are "
        f"there, and “-” for one that is not used."
    )


def _shown_line(text: str, name: str) -> tuple[int, str]:
    line, found = first_line(text, name)
    return line, brief(found)


READER = PointReader(
    id="delimited-text",
    title="Table of text with a header row, or list with a named layout (comma, semicolon, tab or blanks)",
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
