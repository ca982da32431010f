"""Points at the ends of GNSS vectors (GVX): the start of each vector plus the vector, with covariance."""

import re
from pathlib import Path

import numpy as np
import pyproj

from geoqa.errors import InputError
from geoqa.frame.geocentric import from_geocentric, to_geocentric, turned
from geoqa.numerics.arrays import FloatArray
from geoqa.readers.points import PointReader, PointsRequest
from geoqa.readers.points._files import opening_of
from geoqa.readers.points._gvx import GvxFile, GvxPoint, gvx_file
from geoqa.records.points import VECTOR_START, Role, SurveyPoints
from geoqa.units import LinearUnit

# The frames that vectors come in rest on it; that of WGS 84 is 0.1 mm smaller at the poles.
_GRS80 = "+proj=longlat +ellps=GRS80 +no_defs"
_TIME = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d")


def can_read(path: Path) -> bool:
    """Return whether the file is XML and speaks of GVX at its beginning."""
    suffix = path.suffix.lower()
    return suffix == ".gvx" or (suffix == ".xml" and b"<GVX" in opening_of(path))


def read(path: Path, request: PointsRequest) -> SurveyPoints:
    """Return the end of each vector: coordinates of its start in the file, plus the vector.

    Longitude, latitude and ellipsoidal height, on the frame of the file, which the settings name. A
    point that is the end of several vectors comes several times, as repeated occupations. The session
    is the point that the vector starts from, so that each base can have its own correction; a point
    from which vectors start is no checkpoint. `lines` are those of the file.

    Raises
    ------
    InputError
        Where the file is no GVX 1.0, a start has no coordinates, or starts are in several frames.
    """
    if request.layout is not None or request.columns:
        message = f"{path.name}: a GVX file has neither layout nor columns to name. Leave both out."
        raise InputError(message)
    found = gvx_file(path)
    starts = {name: _start(found, name, path.name) for name in {item.initial for item in found.vectors}}
    _refuse_two_frames(list(starts.values()), path.name)
    frame = pyproj.CRS(_GRS80).to_3d()
    origins = np.array([_geocentric(starts[item.initial], frame) for item in found.vectors])
    ends = from_geocentric(origins + np.array([item.delta_m for item in found.vectors]), frame)
    variances = [
        np.diagonal(turned(item.covariance_m2, place))
        for item, place in zip(found.vectors, ends, strict=True)
    ]
    count = len(found.vectors)
    times = tuple(item.start if item.start and _TIME.match(item.start) else None for item in found.vectors)
    return SurveyPoints(
        ids=tuple(_name(found, item.terminal) for item in found.vectors),
        coordinates=ends,
        geographic=True,
        roles=tuple(Role.UNUSED if item.terminal in starts else Role.CHECK for item in found.vectors),
        fixes=(None,) * count,
        covers=(None,) * count,
        sessions=tuple(starts[item.initial].name for item in found.vectors),
        targets=(None,) * count,
        sigma_m=np.sqrt(variances),
        target_height_m=np.zeros(count),
        source=path.name,
        lines=np.array([item.line for item in found.vectors]),
        height_unit=LinearUnit.METRE,
        attributes={
            "occupation": tuple(item.id for item in found.vectors),
            "time": times,
            VECTOR_START: tuple(" ".join(f"{value:.5f}" for value in origin) for origin in origins.tolist()),
        },
        notes=_notes(found, starts, path.name),
    )


def _start(found: GvxFile, identifier: str, name: str) -> GvxPoint:
    point = found.points.get(identifier)
    if point is not None and (point.geocentric_m is not None or point.geodetic is not None):
        return point
    vector = next(item for item in found.vectors if item.initial == identifier)
    message = (
        f"{name}, line {vector.line}: the vector {vector.id} starts at “{identifier}”, which has no "
        "coordinates in the file. Export the vectors with the points that they start from."
    )
    raise InputError(message)


def _refuse_two_frames(starts: list[GvxPoint], name: str) -> None:
    first = starts[0]
    for point in starts[1:]:
        if (point.frame, point.epoch) != (first.frame, first.epoch):
            message = (
                f"{name}, line {point.line}: “{point.name}” is in {point.frame} at {point.epoch} and "
                f"“{first.name}” in {first.frame} at {first.epoch}. Export one file for each frame and epoch."
            )
            raise InputError(message)


def _geocentric(point: GvxPoint, frame: pyproj.CRS) -> FloatArray:
    if point.geocentric_m is not None:
        return point.geocentric_m
    geocentric: FloatArray = to_geocentric(np.atleast_2d(np.asarray(point.geodetic)), frame)[0]
    return geocentric


def _name(found: GvxFile, identifier: str) -> str:
    point = found.points.get(identifier)
    return identifier if point is None else point.name


def _notes(found: GvxFile, starts: dict[str, GvxPoint], name: str) -> tuple[str, ...]:
    first = next(iter(starts.values()))
    frame = first.frame or "no reference system"
    epoch = "" if first.epoch is None else f" at epoch {first.epoch}"
    told = [
        f"{name} names {frame}{epoch} by a number of the ISO geodetic registry; points.crs and points.epoch "
        "say which CRS it is."
    ]
    bases = sorted({_name(found, item.terminal) for item in found.vectors if item.terminal in starts})
    if bases:
        told.append(f"{name}: {', '.join(bases)} start vectors themselves and are no checkpoints.")
    return tuple(told)


_BASE = (
    '<GVX VERSION="1.0"><POINT><ID>0</ID><NAME>NAIL</NAME><COORDINATES><GEOCENTRIC_COORDINATES>'
    "<X>4157304.31</X><Y>671171.92</Y><Z>4774690.45</Z></GEOCENTRIC_COORDINATES></COORDINATES></POINT>"
)
_VECTOR = (
    "<POINT><ID>{0}</ID><NAME>CP0{0}</NAME></POINT><GNSS_VECTOR><ID>V{0}</ID><INITIAL_POINT_ID>0"
    "</INITIAL_POINT_ID><TERMINAL_POINT_ID>{0}</TERMINAL_POINT_ID><ECEF_DELTAS><DX>{1}</DX><DY>{2}</DY>"
    "<DZ>{3}</DZ></ECEF_DELTAS><CORRELATION_MATRIX><SDX>0.009</SDX><SDY>0.006</SDY><SDZ>0.010</SDZ>"
    "<PXY>0.1</PXY><PXZ>0.4</PXZ><PYZ>0.1</PYZ></CORRELATION_MATRIX></GNSS_VECTOR>"
)
_EXAMPLE = "\n".join(
    (
        _BASE,
        _VECTOR.format(1, -21.402, 140.118, -3.970),
        _VECTOR.format(2, 35.216, -88.034, -18.455),
        _VECTOR.format(3, 61.077, 12.940, -55.301),
        "</GVX>\n",
    )
)

READER = PointReader(
    id="gnss-vectors",
    title="GNSS vectors with their covariances (GVX 1.0)",
    suffixes=(".gvx",),
    example=_EXAMPLE,
    can_read=can_read,
    read=read,
)
