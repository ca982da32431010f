"""Coordinate geometry points of LandXML: northing, easting, elevation, each with its name."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pyproj

from geoqa.errors import InputError
from geoqa.readers.points import PointReader, PointsRequest
from geoqa.readers.points._cells import TextTable, brief, is_number
from geoqa.readers.points._columns import plan_columns
from geoqa.readers.points._files import opening_of
from geoqa.readers.points._survey import Coordinates, coordinates_of, survey_points
from geoqa.readers.points._xml import elements_of, local_name, root_of
from geoqa.records.points import SurveyPoints
from geoqa.units import LinearUnit

if TYPE_CHECKING:
    from lxml.etree import _Element

# LandXML 1.2, types metLinear and impLinear; millimetres, inches and miles are none that surveys come in.
_UNITS = {
    "meter": LinearUnit.METRE,
    "foot": LinearUnit.FOOT,
    "USSurveyFoot": LinearUnit.US_SURVEY_FOOT,
}
# LandXML 1.2, attributes of CgPoint.
_WORDS = ("name", "code", "desc", "timeStamp")
_ERRORS = {"eastingStdError": "sd_east", "northingStdError": "sd_north", "elevationStdError": "sd_up"}


def can_read(path: Path) -> bool:
    """Return whether the file is XML and speaks of LandXML at its beginning."""
    suffix = path.suffix.lower()
    return suffix == ".landxml" or (suffix == ".xml" and b"LandXML" in opening_of(path).replace(b"\0", b""))


def read(path: Path, request: PointsRequest) -> SurveyPoints:
    """Return the points under CgPoints, in the unit and the CRS that the file names.

    The text of a point is northing, easting and, unless it is plan only, elevation. A point that
    only refers to another is passed over. `lines` are those of the file.

    Raises
    ------
    InputError
        Where the file is no well-formed LandXML or holds no points, or where points cannot be in
        the unit or the CRS that it names.

    References
    ----------
    LandXML 1.2 schema: elements Units, CoordinateSystem, CgPoints, CgPoint.
    """
    if request.layout is not None:
        message = f"{path.name}: LandXML has no layout, found “{request.layout}”. Leave the layout out."
        raise InputError(message)
    root = root_of(path)
    if local_name(root) != "LandXML":
        message = f"{path.name}: this is no LandXML, its outermost element is {local_name(root)}."
        raise InputError(message)
    unit = _unit(root, path.name)
    crs, notes = _crs(root, path.name)
    table = _table(_points(root, path.name), unit, path.name)
    plan = plan_columns(table.header, request.columns, where=path.name)
    values = coordinates_of(table, plan).values
    found = Coordinates(values, geographic=False, unit=unit, height_unit=unit, crs=crs)
    return survey_points(table, plan, found, notes)


def _unit(root: "_Element", name: str) -> LinearUnit | None:
    for units in elements_of(root, "Units"):
        for system in units:
            found = system.get("linearUnit")
            if found is not None and found not in _UNITS:
                message = (
                    f"{name}, line {system.sourceline}: the unit “{found}” is none of {', '.join(_UNITS)}. "
                    f"Export the points in one of them."
                )
                raise InputError(message)
            if found is not None:
                return _UNITS[found]
    return None


def _crs(root: "_Element", name: str) -> tuple[pyproj.CRS | None, tuple[str, ...]]:
    """Return the CRS by its EPSG code, or a sentence for the user where it is named in words only."""
    for system in elements_of(root, "CoordinateSystem"):
        code = (system.get("epsgCode") or "").strip().upper().removeprefix("EPSG:")
        if not code:
            words = system.get("horizontalCoordinateSystemName") or system.get("name") or system.get("desc")
            said = f"{name} names its CRS in words only, “{words}”: state it with points.crs."
            return None, (said,) if words else ()
        try:
            crs = pyproj.CRS.from_user_input(f"EPSG:{code}")
        except pyproj.exceptions.CRSError:
            crs = None
        if crs is None or crs.is_geographic or crs.is_geocentric:
            found = (
                "which PROJ does not know"
                if crs is None
                else f"{crs.name}, which has no easting and northing"
            )
            message = f"{name}, line {system.sourceline}: epsgCode is “{code}”, {found}. Correct the code."
            raise InputError(message)
        return crs, ()
    return None, ()


def _points(root: "_Element", name: str) -> list["_Element"]:
    groups = elements_of(root, "CgPoints")
    points = [point for group in groups for point in group if local_name(point) == "CgPoint"]
    points = [point for point in points if point.get("pntRef") is None]
    if not points:
        message = f"{name}: there is no CgPoint under CgPoints. Export the points with the file."
        raise InputError(message)
    return points


def _table(points: Sequence["_Element"], unit: LinearUnit | None, name: str) -> TextTable:
    """Return the points as a table whose columns are named as in the file."""
    words = [word for word in _WORDS if any(point.get(word) for point in points)]
    errors = [error for error in _ERRORS if any(point.get(error) for point in points)]
    rows = [
        [
            *_position(point, name),
            *[(point.get(word) or "").strip() for word in words],
            *[_known(point.get(error)) for error in errors],
        ]
        for point in points
    ]
    # A standard error in an unknown unit is no standard deviation in metres.
    titles = errors if unit is None else [f"{_ERRORS[error]}_{unit.symbol}" for error in errors]
    return TextTable(
        source=name,
        row_word="line",
        header=("northing", "easting", "elevation", *words, *titles),
        columns=tuple(zip(*rows, strict=True)),
        lines=np.array([point.sourceline or 0 for point in points], dtype=np.int64),
    )


def _position(point: "_Element", name: str) -> list[str]:
    text = " ".join([point.text or "", *[part.tail or "" for part in point]])
    numbers = text.split()
    if len(numbers) not in (2, 3):
        message = (
            f"{name}, line {point.sourceline}: expected northing, easting and elevation, found "
            f"“{brief(text)}”. Export the points again."
        )
        raise InputError(message)
    return [*numbers, ""][:3]


def _known(error: str | None) -> str:
    """Return a standard error; programs write 0 where they know none."""
    text = (error or "").strip()
    return "" if is_number(text) and float(text) == 0 else text


READER = PointReader(
    id="landxml",
    title="LandXML with CgPoints",
    suffixes=(".xml", ".landxml"),
    example=(
        '<LandXML version="1.2"><Units><Metric linearUnit="meter"/></Units><CgPoints>\n'
        '<CgPoint name="CP01" code="hard" desc="invented car park">5412380.472 431250.118 212.340</CgPoint>\n'
        '<CgPoint name="CP02" code="bare" desc="invented track">5412391.016 431377.905 211.982</CgPoint>\n'
        '<CgPoint name="CP03" desc="invented roof edge: plan only">5412477.859 431302.440</CgPoint>\n'
        "</CgPoints></LandXML>\n"
    ),
    can_read=can_read,
    read=read,
)
