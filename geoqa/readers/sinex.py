"""Positions of stations in SINEX 2: estimate, epoch, covariance, by the columns of the format.

References
----------
SINEX, Solution (software/technique) Independent Exchange Format, version 2.02, 1 December 2006, IERS.
"""

import re
from calendar import isleap
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from geoqa.errors import InputError
from geoqa.numerics.arrays import FloatArray
from geoqa.readers._sinex_matrix import covariance_of, number_in

# Columns from 0; the second number is the one behind the last.
_ESTIMATE = {
    "index": (1, 6),
    "type": (7, 13),
    "code": (14, 18),
    "point": (19, 21),
    "solution": (22, 26),
    "epoch": (27, 39),
    "unit": (40, 44),
    "value": (47, 68),
    "sigma": (69, 80),
}
_PARTINGS = (0, 6, 13, 18, 21, 26, 39, 44, 46, 68)
_POSITION, _VELOCITY = ("STAX", "STAY", "STAZ"), ("VELX", "VELY", "VELZ")
_UNITS = dict.fromkeys(_POSITION, ("m",)) | dict.fromkeys(_VELOCITY, ("m/y", "m/yr"))

Key = tuple[str, str, str]


@dataclass(frozen=True, eq=False)
class SinexStation:
    """One solution of one station.

    Attributes
    ----------
    key
        Code, point and solution, as the file gives them.
    position_m, velocity_m : array, shape (3,)
        Geocentric, of the marker at `epoch`; velocity in metres a year, or None.
    covariance_m2 : array, shape (3, 3) or (6, 6)
        Of the position, and the velocity where there is one.
    reference_frame
        What the file remarks of it, or None.
    antenna_up_m
        Height of the antenna reference point above the marker, or None.
    """

    key: Key
    position_m: FloatArray
    velocity_m: FloatArray | None
    covariance_m2: FloatArray
    epoch: float
    reference_frame: str | None
    antenna_up_m: float | None
    notes: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Return code, point and solution as `site` of the settings takes them."""
        return " ".join(self.key)

    def at(self, epoch: float) -> tuple[FloatArray, FloatArray]:
        """Return position and its covariance at another epoch, by the velocity; as they are without one."""
        if self.velocity_m is None:
            return self.position_m, self.covariance_m2
        years = epoch - self.epoch
        moves = np.hstack([np.eye(3), years * np.eye(3)])
        return self.position_m + years * self.velocity_m, moves @ self.covariance_m2 @ moves.T


@dataclass
class _Block:
    title: str
    first: int
    lines: list[tuple[int, str]] = field(default_factory=list)


@dataclass(frozen=True)
class _Estimate:
    index: int
    type: str
    key: Key
    epoch: float
    value: float
    sigma: float
    line: int


def read_sinex(path: Path, site: str | None) -> SinexStation:
    """Return the solution of a station.

    Parameters
    ----------
    site
        Code of the station, or code, point and solution; None where the file holds one only.

    Raises
    ------
    InputError
        Naming file and line where the file is not as the format asks, and what there is to choose from
        where several solutions fit.
    """
    blocks = list(_blocks(path))
    estimates = [_estimate(path.name, number, line) for number, line in _lines(blocks, "SOLUTION/ESTIMATE")]
    stations: dict[Key, dict[str, _Estimate]] = {}
    for item in estimates:
        if item.type in _UNITS:
            of_station = stations.setdefault(item.key, {})
            if item.type in of_station:
                message = (
                    f"{path.name}, line {item.line}: {item.type} of {' '.join(item.key)} stands twice. Fetch "
                    "the file again."
                )
                raise InputError(message)
            of_station[item.type] = item
    return _station(path.name, _chosen(path.name, stations, site), stations, estimates, blocks)


def _blocks(path: Path) -> Iterator[_Block]:
    """Yield the blocks of a file with their numbered data lines."""
    try:
        # Remarks may hold any character; the columns are ASCII.
        lines = path.read_text("latin-1").splitlines()
    except OSError as reason:
        message = f"{path}: the SINEX file cannot be read ({reason.strerror}). Check name and permissions."
        raise InputError(message) from None
    if not lines or not re.match(r"%=SNX +2\.\d", lines[0]):
        found = f"found “{lines[0][:30]}”" if lines else "the file is empty"
        message = (
            f"{path.name}, line 1: a SINEX file of version 2 begins with %=SNX 2.02, {found}. Name another "
            "file."
        )
        raise InputError(message)
    block: _Block | None = None
    for number, line in enumerate(lines[1:], start=2):
        if line.startswith("+"):
            if block is not None:
                raise InputError(_unclosed(path.name, block))
            block = _Block(line[1:].strip(), number)
        elif line.startswith("-"):
            if block is None or block.title != line[1:].strip():
                message = (
                    f"{path.name}, line {number}: “{line.strip()}” ends a block that did not begin. Mend it."
                )
                raise InputError(message)
            yield block
            block = None
        elif block is not None and line.startswith(" ") and line.strip():
            block.lines.append((number, line))
    if block is not None:
        raise InputError(_unclosed(path.name, block))


def _unclosed(name: str, block: _Block) -> str:
    return (
        f"{name}, line {block.first}: the block {block.title} has no end. The file is cut short: fetch it "
        "again."
    )


def _lines(blocks: list[_Block], title: str) -> list[tuple[int, str]]:
    return [line for block in blocks if block.title == title for line in block.lines]


def _estimate(name: str, number: int, line: str) -> _Estimate:
    if any(line[place : place + 1] not in ("", " ") for place in _PARTINGS) or "\t" in line:
        message = (
            f"{name}, line {number}: “{line.strip()}” does not keep the columns of SOLUTION/ESTIMATE. Fetch "
            "the file again, and do not edit it."
        )
        raise InputError(message)
    cells = {field: line[first:behind].strip() for field, (first, behind) in _ESTIMATE.items()}
    known = _UNITS.get(cells["type"])
    if known is not None and cells["unit"] not in known:
        message = (
            f"{name}, line {number}: {cells['type']} is given in “{cells['unit']}”, not in {known[0]}. "
            "Convert it."
        )
        raise InputError(message)
    return _Estimate(
        index=int(number_in(cells["index"], name, number)),
        type=cells["type"],
        key=(cells["code"], cells["point"], cells["solution"]),
        epoch=_epoch(cells["epoch"], name, number) if known else float("nan"),
        value=number_in(cells["value"], name, number),
        sigma=number_in(cells["sigma"], name, number),
        line=number,
    )


def _epoch(cell: str, name: str, line: int) -> float:
    """Return YY:DDD:SSSSS as a decimal year."""
    found = re.fullmatch(r"(\d\d):(\d{3}):(\d{5})", cell)
    if found is None or found[2] == "000":
        message = f"{name}, line {line}: “{cell}” is no epoch of the form YY:DDD:SSSSS. Fetch the file again."
        raise InputError(message)
    short, day, second = (int(part) for part in found.groups())
    # Two digits up to 50 are of this century, by the rule of the format.
    year = 2000 + short if short <= 50 else 1900 + short
    return year + (day - 1 + second / 86400) / (366 if isleap(year) else 365)


def _chosen(name: str, stations: Mapping[Key, Mapping[str, _Estimate]], site: str | None) -> Key:
    wanted = [] if site is None else site.upper().split()
    fitting = [key for key in stations if [part.upper() for part in key][: len(wanted)] == wanted]
    if len(fitting) == 1:
        return fitting[0]
    listed = "; ".join(_words(key, stations[key]) for key in (fitting or stations))
    if not stations:
        message = (
            f"{name}: no position is estimated in this file (block SOLUTION/ESTIMATE). Name another file."
        )
    elif not fitting:
        message = f"{name}: there is no station “{site}”. Name one with `site`: {listed}."
    else:
        message = (
            f"{name}: {len(fitting)} solutions fit. Name one with `site`, by code, point and solution: "
            f"{listed}."
        )
    raise InputError(message)


def _words(key: Key, parts: Mapping[str, _Estimate]) -> str:
    epoch = next(iter(parts.values())).epoch
    return f"“{' '.join(key)}” at {epoch:.3f}"


def _station(
    name: str,
    key: Key,
    stations: Mapping[Key, Mapping[str, _Estimate]],
    estimates: list[_Estimate],
    blocks: list[_Block],
) -> SinexStation:
    parts = stations[key]
    missing = [part for part in _POSITION if part not in parts]
    if missing or len({parts[part].epoch for part in _POSITION}) > 1:
        what = f"has no {missing[0]}" if missing else "has coordinates of several epochs"
        message = f"{name}: {' '.join(key)} {what}. Fetch the file again."
        raise InputError(message)
    moving = all(part in parts for part in _VELOCITY)
    wanted = [parts[part] for part in (*_POSITION, *(_VELOCITY if moving else ()))]
    sigmas = {item.index: item.sigma for item in estimates}
    matrices = [block for block in blocks if block.title.startswith("SOLUTION/MATRIX_ESTIMATE")]
    lines = matrices[0].lines if matrices else []
    title = matrices[0].title if matrices else None
    covariance, notes = covariance_of(name, title, lines, [item.index for item in wanted], sigmas)
    values = np.array([item.value for item in wanted])
    return SinexStation(
        key=key,
        position_m=values[:3],
        velocity_m=values[3:] if moving else None,
        covariance_m2=covariance,
        epoch=wanted[0].epoch,
        reference_frame=_reference_frame(blocks),
        antenna_up_m=_antenna_up(name, key, blocks),
        notes=notes,
    )


def _reference_frame(blocks: list[_Block]) -> str | None:
    for _, line in _lines(blocks, "FILE/REFERENCE"):
        if line[1:19].strip().upper() == "REFERENCE FRAME":
            return line[19:].strip() or None
    return None


def _antenna_up(name: str, key: Key, blocks: list[_Block]) -> float | None:
    for number, line in _lines(blocks, "SITE/ECCENTRICITY"):
        named = (line[1:5].strip(), line[6:8].strip(), line[9:13].strip())
        same = named[:2] == key[:2] and named[2] in (key[2], "----")
        if same and line[42:45] == "UNE":
            return number_in(line[46:54].strip(), name, number)
    return None
