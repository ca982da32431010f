"""Sentences of NMEA 0183 in the log of a receiver, each held against its checksum."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import reduce
from operator import xor

from geoqa.errors import InputError
from geoqa.readers.points._cells import brief

_BEGIN = re.compile(rb"\$[A-Z]{2}(?:GGA|GST),")
_SENTENCE = re.compile(rb"\$([A-Z]{2}(?:GGA|GST),[^$*]*)\*([0-9A-Fa-f]{2})")
_UTC = re.compile(r"([0-9]{2})([0-9]{2})([0-9]{2}(?:\.[0-9]*)?)")

# Positions: degrees, minutes, and the decimals of the minutes apart.
_LATITUDE = re.compile(r"([0-9]{2})([0-9]{2}(?:\.([0-9]*))?)")
_LONGITUDE = re.compile(r"([0-9]{3})([0-9]{2}(?:\.([0-9]*))?)")

# Seven decimals of a minute are 0.2 mm on the ground, four are 0.19 m.
_FEWEST_DECIMALS_OF_MINUTES = 7
# A receiver that rounds to the decimetre knows no height for a check in centimetres.
_FEWEST_DECIMALS_OF_METRES = 2


@dataclass(frozen=True)
class Sentence:
    """A GGA or GST sentence: its line in the log and its fields, the first being the address."""

    source: str
    line: int
    fields: tuple[str, ...]

    @property
    def kind(self) -> str:
        """Return GGA or GST."""
        return self.fields[0][2:]

    def field(self, number: int) -> str:
        """Return a field by its number in the standard, empty where the sentence is shorter."""
        return self.fields[number] if number < len(self.fields) else ""

    @property
    def where(self) -> str:
        """Return file and line, for messages."""
        return f"{self.source}, line {self.line}"

    @property
    def seconds(self) -> float | None:
        """Return UTC in seconds of the day, None where it is not stated."""
        found = _UTC.fullmatch(self.field(1))
        return None if found is None else 3600 * int(found[1]) + 60 * int(found[2]) + float(found[3])

    @property
    def time(self) -> str:
        """Return UTC as ISO 8601 text, empty where it is not stated."""
        found = _UTC.fullmatch(self.field(1))
        return "" if found is None else f"{found[1]}:{found[2]}:{found[3]}Z"


def sentences(content: bytes, source: str) -> tuple[list[Sentence], list[int]]:
    """Return the GGA and GST sentences of a log, and the lines of those without a right checksum."""
    found: list[Sentence] = []
    damaged: list[int] = []
    for line, text in enumerate(content.split(b"\n"), start=1):
        for begin in _BEGIN.finditer(text):
            sentence = _SENTENCE.match(text, begin.start())
            if sentence is not None and reduce(xor, sentence[1]) == int(sentence[2], 16):
                found.append(Sentence(source, line, tuple(sentence[1].decode("latin-1").split(","))))
            else:
                damaged.append(line)
    return found, damaged


def position(sentence: Sentence) -> tuple[float, float]:
    """Return longitude and latitude of a GGA sentence in degrees.

    Raises
    ------
    InputError
        Where it holds none, or too few decimals for a check in centimetres.
    """
    longitude = _degrees(sentence, 4, _LONGITUDE, "EW")
    latitude = _degrees(sentence, 2, _LATITUDE, "NS")
    return longitude, latitude


def _degrees(sentence: Sentence, number: int, form: re.Pattern[str], letters: str) -> float:
    written, letter = sentence.field(number), sentence.field(number + 1)
    found = form.fullmatch(written)
    if found is None or letter not in tuple(letters) or float(found[2]) >= 60:
        message = (
            f"{sentence.where}: “{brief(written)},{brief(letter)}” is no position in degrees and minutes. "
            f"Take the line out."
        )
        raise InputError(message)
    if len(found[3] or "") < _FEWEST_DECIMALS_OF_MINUTES:
        decimals = len(found[3] or "")
        message = (
            f"{sentence.where}: “{written}” has {decimals} decimals of minutes, {1852 / 10**decimals:.2g} m "
            f"on the ground. Let the receiver write {_FEWEST_DECIMALS_OF_MINUTES}, or export a table."
        )
        raise InputError(message)
    degrees = int(found[1]) + float(found[2]) / 60
    return -degrees if letter == letters[1] else degrees


def ellipsoidal_height(sentence: Sentence) -> float | None:
    """Return altitude plus geoid separation of a GGA sentence in metres, None where one is missing.

    Raises
    ------
    InputError
        Where one is no length in metres, or is rounded too much.
    """
    altitude, separation = (_metres(sentence, number) for number in (9, 11))
    return None if altitude is None or separation is None else altitude + separation


def _metres(sentence: Sentence, number: int) -> float | None:
    written, unit = sentence.field(number), sentence.field(number + 1)
    if not written:
        return None
    if unit != "M" or not re.fullmatch(r"-?[0-9]+(\.[0-9]*)?", written):
        message = (
            f"{sentence.where}: “{brief(written)},{brief(unit)}” is no length in metres. Take the line out."
        )
        raise InputError(message)
    if len(written.partition(".")[2]) < _FEWEST_DECIMALS_OF_METRES:
        message = (
            f"{sentence.where}: the altitude or separation “{written}” is not given to the centimetre. Let "
            f"the receiver write {_FEWEST_DECIMALS_OF_METRES} decimals or more, or export a table of points."
        )
        raise InputError(message)
    return float(written)


def paired(positions: Iterable[Sentence], errors: Iterable[Sentence]) -> Iterator[Sentence | None]:
    """Yield for each GGA sentence the GST sentence of the same UTC, the nearest in the log of several."""
    by_time: dict[float | None, list[Sentence]] = {}
    for error in errors:
        by_time.setdefault(error.seconds, []).append(error)
    for sentence in positions:
        same = [] if sentence.seconds is None else by_time.get(sentence.seconds, [])
        yield min(same, key=lambda error: abs(error.line - sentence.line), default=None)
