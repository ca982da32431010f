"""Logs of GNSS receivers: positions of NMEA 0183 GGA sentences, standard deviations of GST."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from geoqa.errors import InputError
from geoqa.numerics.arrays import FloatArray
from geoqa.readers.points import PointReader, PointsRequest
from geoqa.readers.points._cells import TextTable, is_number
from geoqa.readers.points._columns import plan_columns
from geoqa.readers.points._files import content_of, opens_like_nmea
from geoqa.readers.points._ids import line_ids
from geoqa.readers.points._nmea_sentences import Sentence, ellipsoidal_height, paired, position, sentences
from geoqa.readers.points._survey import Coordinates, survey_points
from geoqa.records.points import FixType, SurveyPoints
from geoqa.units import LinearUnit

# NMEA 0183, GGA, quality indicator (from memory; receiver makers publish the same list).
_FIXES = dict.fromkeys("1239", FixType.AUTONOMOUS) | {"4": FixType.FIXED, "5": FixType.FLOAT}
_HEADER = ("id", "time", "fix", "sd_north", "sd_east", "sd_up", "satellites", "hdop", "receiver_separation")


def can_read(path: Path) -> bool:
    """Return whether the file is named as an NMEA log, or is a log or text that begins like one."""
    suffix = path.suffix.lower()
    return suffix == ".nmea" or (suffix in {".log", ".txt"} and opens_like_nmea(path))


def read(path: Path, request: PointsRequest) -> SurveyPoints:
    """Return the positions of the antenna, one a GGA sentence, named by file and line.

    Longitude and latitude in degrees, heights ellipsoidal in metres: altitude plus the geoid
    separation that the receiver itself took off. The geoid of a receiver is coarse: the separation, kept
    as `receiver_separation`, serves for no other change of heights. A fix is fixed (quality 4), float (5)
    or else autonomous; without a fix, keyed in or simulated ones are left out. The standard deviations
    come from the GST sentence of the same UTC. Sentences whose checksum is wrong are left out, too.
    `notes` say all this.

    Raises
    ------
    InputError
        Where no position is left, or one has fewer than seven decimals of minutes.

    References
    ----------
    NMEA 0183, sentences GGA and GST, and the checksum over all that stands between $ and * (from
    memory; receiver makers publish the same lists of fields).
    """
    if request.layout is not None or request.columns:
        message = f"{path.name}: an NMEA log has no columns. Leave points.layout and [points.columns] out."
        raise InputError(message)
    found, damaged = sentences(content_of(path), path.name)
    logged = [sentence for sentence in found if sentence.kind == "GGA"]
    kept = [sentence for sentence in logged if sentence.field(6) in _FIXES]
    if not kept:
        message = (
            f"{path.name}: none of {len(logged)} GGA sentences is a measured position, and {len(damaged)} "
            f"sentences have a wrong checksum or none. Log GGA, and GST beside it."
        )
        raise InputError(message)
    values = np.array([(*position(sentence), _height(sentence)) for sentence in kept])
    errors = list(paired(kept, [sentence for sentence in found if sentence.kind == "GST"]))
    table = _table(kept, errors, path.name)
    notes = _notes(path.name, values, damaged, len(logged) - len(kept), table.columns[0][0])
    plan = plan_columns(table.header, {}, where=path.name, position=False)
    coordinates = Coordinates(
        values, geographic=True, unit=None, height_unit=LinearUnit.METRE, ellipsoidal=True
    )
    return survey_points(table, plan, coordinates, notes)


def _height(sentence: Sentence) -> float:
    height = ellipsoidal_height(sentence)
    return np.nan if height is None else height


def _table(kept: Sequence[Sentence], errors: Sequence[Sentence | None], name: str) -> TextTable:
    rows = [
        (
            "",
            sentence.time,
            _FIXES[sentence.field(6)],
            *[_sigma(error, number) for number in (6, 7, 8)],
            *[sentence.field(number) for number in (7, 8, 11)],
        )
        for sentence, error in zip(kept, errors, strict=True)
    ]
    columns = list(zip(*rows, strict=True))
    lines = np.array([sentence.line for sentence in kept], dtype=np.int64)
    columns[0] = line_ids(name, lines)
    return TextTable(source=name, row_word="line", header=_HEADER, columns=tuple(columns), lines=lines)


def _sigma(error: Sentence | None, number: int) -> str:
    """Return a standard deviation of a GST sentence; receivers write 0 where they know none."""
    written = "" if error is None else error.field(number)
    return written if is_number(written) and float(written) > 0 else ""


def _notes(
    name: str, values: FloatArray, damaged: Sequence[int], left_out: int, first: str
) -> tuple[str, ...]:
    flat = int(np.isnan(values[:, 2]).sum())
    said = [
        f"{name}: the points are positions of the antenna, named by file and line, such as “{first}”; "
        f"nothing was taken off for the height of the antenna above the ground."
    ]
    if flat < len(values):
        said.append(
            f"{name}: the heights are ellipsoidal, altitude plus geoid separation of the receiver, whose own "
            f"geoid is coarse and is taken off again by that."
        )
    if flat:
        said.append(f"{name}: plan only, without altitude or geoid separation: {flat} positions.")
    if left_out:
        said.append(
            f"{name}: left out, without a fix, keyed in, reckoned or simulated: {left_out} sentences."
        )
    if damaged:
        said.append(
            f"{name}: left out, with a wrong checksum or none: {len(damaged)} sentences, the first in line "
            f"{damaged[0]}."
        )
    return tuple(said)


READER = PointReader(
    id="nmea",
    title="Log of a GNSS receiver, NMEA 0183 GGA and GST",
    suffixes=(".nmea", ".log", ".txt"),
    example=(
        "$GNGGA,101500.00,4851.0722502,N,01101.2901884,E,4,18,0.7,384.120,M,47.118,M,1.0,0007*54\n"
        "$GNGST,101500.00,0.9,0.012,0.009,21.4,0.011,0.010,0.018*70\n"
        "$GNGGA,101501.00,4851.0722611,N,01101.2901903,E,4,18,0.7,384.117,M,47.118,M,1.0,0007*5E\n"
        "$GNGST,101501.00,0.9,0.012,0.009,21.4,0.011,0.010,0.018*71\n"
        "$GNGGA,101502.00,4851.0722597,N,01101.2901856,E,5,11,1.9,384.402,M,47.118,M,2.0,0007*54\n"
    ),
    can_read=can_read,
    read=read,
)
