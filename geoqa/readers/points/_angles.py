"""Latitudes and longitudes as people write them, in decimal degrees."""

import re

import numpy as np

from geoqa.errors import InputError
from geoqa.numerics.arrays import FloatArray
from geoqa.readers.points._cells import TextTable, brief, is_number, numbers, required_texts

_MINUS = "−–"
_HEMISPHERES = {"N": 1.0, "S": -1.0, "E": 1.0, "W": -1.0}
_NUMBER = r"[0-9]+(?:\.[0-9]+)?|\.[0-9]+"
# Degrees and minutes are parted by a sign, a colon, a hyphen or blanks; behind the last part a sign may
# stand. The letter s is no sign of seconds: behind them it means south.
_ANGLE = re.compile(
    rf"""\s*(?P<before>[NSEW])?\s*
    (?P<sign>[+-])?\s*
    (?P<degrees>{_NUMBER})
    (?:(?:\s*[°ºd:]\s*|-|\s+)(?P<minutes>{_NUMBER})
       (?:(?:\s*['′’´:]\s*|-|\s+)(?P<seconds>{_NUMBER})\s*(?:["″”]|''|′′|’’)?)?
       (?:\s*['′’´])?
    )?
    \s*[°ºd]?\s*(?P<behind>[NSEW])?\s*""",
    re.VERBOSE | re.IGNORECASE,
)
_PACKED = re.compile(r"(?P<sign>[+-])?(?P<degrees>[0-9]+)(?:\.(?P<rest>[0-9]*))?")


# Units of a column of angles, as a header states them.
DECIMAL, PARTED, PACKED = "deg", "dms", "d.mmss"
_ADVICE = {
    DECIMAL: "Write decimal degrees such as -36.848461, or degrees, minutes, seconds such as 36 50 54.46 S.",
    PARTED: "The header says degrees, minutes and seconds: part them, such as 36 50 54.46 S, or write "
    "(d.mmss) behind the name where they stand behind the decimal point.",
    PACKED: "Write degrees before the point, two digits of minutes and two of seconds behind it.",
}


def angles(table: TextTable, column: int, field: str, form: str) -> FloatArray:
    """Return a column of latitudes or longitudes in degrees, shape (n,).

    Parameters
    ----------
    field
        "latitude" or "longitude".
    form
        `DECIMAL`: decimal degrees, or minutes and seconds apart from the degrees, cell by cell;
        `PARTED`: only the latter; `PACKED`: minutes and seconds behind the decimal point.

    Raises
    ------
    InputError
        At the first cell that is empty or no such angle.
    """
    cells = required_texts(table, column)
    if table.decimal_comma:
        cells = tuple([cell.replace(",", ".") for cell in cells])
    if form == DECIMAL and all(map(is_number, cells)):
        return numbers(table, column)
    values = [_value(cell, field, form) for cell in cells]
    if None in values:
        row = values.index(None)
        found = table.columns[column][row]
        message = f"{table.where(row, column)}: “{brief(found)}” is no {field}. {_ADVICE[form]}{_ost(found)}"
        raise InputError(message)
    return np.array(values, dtype=float)


def _value(cell: str, field: str, form: str) -> float | None:
    if form == PACKED:
        return packed_degrees(cell)
    if form == PARTED and not is_parted(cell):
        return None
    return degrees(cell, "NS" if field == "latitude" else "EW")


def _ost(cell: str) -> str:
    return " East is E and west W: O is Ost in one language, Ouest in another." if "O" in cell.upper() else ""


def degrees(cell: str, letters: str) -> float | None:
    """Return the degrees of a cell, or None where it is no angle.

    Decimal degrees; degrees and minutes; degrees, minutes and seconds; with a sign in front or one of
    the two hemisphere `letters` ("NS" or "EW") in front or behind, never both.

    Examples
    --------
    >>> degrees("-0 30 36", "EW")
    -0.51
    >>> degrees("51°30'36\\"N", "NS"), degrees("0:30 W", "EW"), degrees("51.51", "NS")
    (51.51, -0.5, 51.51)
    >>> degrees("51 60 00", "NS") is degrees("0.51 E", "NS") is None
    True
    """
    found = _ANGLE.fullmatch(re.sub(f"[{_MINUS}]", "-", cell))
    if found is None:
        return None
    marks = [mark for mark in (found["before"], found["sign"], found["behind"]) if mark]
    letter = (found["before"] or found["behind"] or "").upper()
    if len(marks) > 1 or letter not in ("", *letters):
        return None
    negative = found["sign"] == "-" or _HEMISPHERES.get(letter) == -1.0
    parts = [found[name] for name in ("degrees", "minutes", "seconds") if found[name] is not None]
    if any("." in part for part in parts[:-1]):
        return None
    return _joined([float(part) for part in parts], negative=negative)


def is_angle(cell: str) -> bool:
    """Return whether a cell holds a latitude or a longitude."""
    return degrees(cell, "NS") is not None or degrees(cell, "EW") is not None


def is_parted(cell: str) -> bool:
    """Return whether a cell holds minutes apart from its degrees."""
    found = _ANGLE.fullmatch(re.sub(f"[{_MINUS}]", "-", cell))
    return found is not None and found["minutes"] is not None


def packed_degrees(cell: str) -> float | None:
    """Return the degrees of a number that holds degrees before the point, minutes and seconds behind it.

    Nothing tells such a number from decimal degrees: only a header or a layout that says so does.

    Examples
    --------
    >>> packed_degrees("-0.3036"), packed_degrees("51.30"), packed_degrees("51.60")
    (-0.51, 51.5, None)
    """
    found = _PACKED.fullmatch(cell)
    if found is None:
        return None
    rest = (found["rest"] or "").ljust(4, "0")
    seconds = f"{rest[2:4]}.{rest[4:] or '0'}"
    parts = [float(found["degrees"]), float(rest[:2]), float(seconds)]
    return _joined(parts, negative=found["sign"] == "-")


def _joined(parts: list[float], *, negative: bool) -> float | None:
    if any(part >= 60 for part in parts[1:]):
        return None
    value = sum((part / 60.0**power for power, part in enumerate(parts)), start=0.0)
    return -value if negative else value
