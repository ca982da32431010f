"""A GVX file taken apart: points with coordinates, and vectors between them.

References
----------
GNSS Vector Exchange File Format (GVX), version 1.0, National Geodetic Survey, 4 February 2021. The format is
open; vectors lead from mark to mark along the geocentric axes, in metres.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.errors import InputError
from geoqa.numerics.arrays import FloatArray
from geoqa.readers.points._xml import local_name, root_of

if TYPE_CHECKING:
    from lxml.etree import _Element

_VERSION = "1.0"
_METRES = {"m", "metre", "metres", "meter", "meters"}
_DELTAS, _SIGMAS, _CORRELATIONS = ("DX", "DY", "DZ"), ("SDX", "SDY", "SDZ"), ("PXY", "PXZ", "PYZ")
_GEODETIC = ("LONGITUDE", "LATITUDE", "ELLIPSOIDAL_HEIGHT")


@dataclass(frozen=True, eq=False)
class GvxPoint:
    """A point of the file.

    Attributes
    ----------
    geocentric_m, geodetic : array, shape (3,), or None
        X, Y, Z in metres; longitude, latitude in degrees, ellipsoidal height in metres.
    frame, epoch
        Name of its reference system, and epoch, as the file gives them.
    """

    id: str
    name: str
    geocentric_m: FloatArray | None
    geodetic: FloatArray | None
    frame: str | None
    epoch: str | None
    line: int


@dataclass(frozen=True, eq=False)
class GvxVector:
    """A vector of the file; `covariance_m2` (3, 3) along the geocentric axes."""

    id: str
    initial: str
    terminal: str
    delta_m: FloatArray
    covariance_m2: FloatArray
    start: str | None
    line: int


@dataclass(frozen=True)
class GvxFile:
    """Points by their ids, and the vectors in the order of the file."""

    points: dict[str, GvxPoint]
    vectors: tuple[GvxVector, ...]


def gvx_file(path: Path) -> GvxFile:
    """Return points and vectors of a file.

    Raises
    ------
    InputError
        Naming file and line where the file is not as the format asks.
    """
    root = root_of(path)
    version = root.get("VERSION", "").strip()
    if local_name(root) != "GVX" or version != _VERSION:
        message = (
            f"{path.name}: the outermost element is {local_name(root)} of version “{version}”; "
            f"GVX {_VERSION} is read. Export the vectors as GVX 1.0."
        )
        raise InputError(message)
    frames = dict(_frame(item, path.name) for item in root.iter("{*}REFERENCE_SYSTEM"))
    points: dict[str, GvxPoint] = {}
    for item in root.iter("{*}POINT"):
        point = _point(item, frames, path.name)
        if point.id in points:
            message = f"{path.name}, line {point.line}: the point id “{point.id}” stands twice. Export again."
            raise InputError(message)
        points[point.id] = point
    vectors = tuple(_vector(item, path.name) for item in root.iter("{*}GNSS_VECTOR"))
    if not vectors:
        message = f"{path.name}: there is no GNSS_VECTOR in the file, so no point. Export the vectors again."
        raise InputError(message)
    return GvxFile(points, vectors)


def _frame(item: "_Element", name: str) -> tuple[str, str]:
    unit = _text(next(item.iter("{*}LINEAR_UNIT"), None), "NAME")
    if unit is not None and unit.lower() not in _METRES:
        message = (
            f"{name}, line {item.sourceline}: the linear unit is “{unit}”. Export the vectors in metres."
        )
        raise InputError(message)
    return _text(item, "ID") or "", _text(item, "NAME") or ""


def _point(item: "_Element", frames: dict[str, str], name: str) -> GvxPoint:
    place = next(item.iterchildren("{*}COORDINATES"), None)
    identifier = _needed(item, "ID", name)
    return GvxPoint(
        id=identifier,
        name=_text(item, "NAME") or identifier,
        geocentric_m=_numbers(_child(place, "GEOCENTRIC_COORDINATES"), ("X", "Y", "Z"), name),
        geodetic=_numbers(_child(place, "GEODETIC_COORDINATES"), _GEODETIC, name),
        frame=frames.get(_text(place, "REFERENCE_SYSTEM_ID") or ""),
        epoch=_text(place, "EPOCH"),
        line=_line(item),
    )


def _vector(item: "_Element", name: str) -> GvxVector:
    parts = []
    for title, names in (("ECEF_DELTAS", _DELTAS), ("CORRELATION_MATRIX", (*_SIGMAS, *_CORRELATIONS))):
        numbers = _numbers(next(item.iter(f"{{*}}{title}"), None), names, name)
        if numbers is None:
            message = f"{name}, line {item.sourceline}: the vector has no {title}. Export the vectors again."
            raise InputError(message)
        parts.append(numbers)
    return GvxVector(
        id=_needed(item, "ID", name),
        initial=_needed(item, "INITIAL_POINT_ID", name),
        terminal=_needed(item, "TERMINAL_POINT_ID", name),
        delta_m=parts[0],
        covariance_m2=_covariance(parts[1], name, _line(item)),
        start=_text(next(item.iter("{*}OBSERVATION_TIME"), None), "START"),
        line=_line(item),
    )


def _covariance(numbers: FloatArray, name: str, line: int) -> FloatArray:
    sigma, (xy, xz, yz) = numbers[:3], numbers[3:].tolist()
    correlation = np.array([[1.0, xy, xz], [xy, 1.0, yz], [xz, yz, 1.0]])
    if not (sigma > 0).all() or np.linalg.eigvalsh(correlation).min() < -1e-6:
        message = (
            f"{name}, line {line}: the standard deviations and correlations of the vector are no covariance. "
            "Export the vectors again."
        )
        raise InputError(message)
    covariance: FloatArray = correlation * np.outer(sigma, sigma)
    return covariance


def _child(element: "_Element | None", name: str) -> "_Element | None":
    return None if element is None else next(element.iterchildren(f"{{*}}{name}"), None)


def _text(element: "_Element | None", name: str) -> str | None:
    found = _child(element, name)
    return None if found is None else (found.text or "").strip() or None


def _needed(element: "_Element", name: str, source: str) -> str:
    found = _text(element, name)
    if found is None:
        message = (
            f"{source}, line {element.sourceline}: {local_name(element)} has no {name}. Export it again."
        )
        raise InputError(message)
    return found


def _numbers(element: "_Element | None", names: tuple[str, ...], source: str) -> FloatArray | None:
    """Return the numbers of these children, or None where the element is missing or empty."""
    if element is None or not any(True for _ in _filled(element, names)):
        return None
    values = []
    for name in names:
        text = _text(element, name)
        try:
            value = float(text or "")
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            message = (
                f"{source}, line {element.sourceline}: {name} of {local_name(element)} is "
                f"“{text or ''}”, which is no number. Export it again."
            )
            raise InputError(message)
        values.append(value)
    return np.array(values)


def _filled(element: "_Element", names: tuple[str, ...]) -> Iterator[str]:
    yield from (name for name in names if _text(element, name) is not None)


def _line(element: "_Element") -> int:
    # lxml's stubs know no line of an element that was made by hand.
    line: Any = element.sourceline
    return 0 if line is None else int(line)
