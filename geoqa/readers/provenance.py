"""What is needed to get the same numbers again: hashes of the inputs, versions, a time."""

import hashlib
import os
import re
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import pyproj
import rasterio
from pyproj import datadir

from geoqa.errors import InputError
from geoqa.readers.base_position import sinex_files
from geoqa.records.assessment import InputFile, Provenance
from geoqa.records.settings import Settings
from geoqa.version import VERSION

_WHOLE_BYTES = 64 << 20
_PIECES, _PIECE_BYTES = 64, 1 << 16
_LIBRARIES = ("numpy", "scipy", "pyproj", "rasterio", "geopandas", "pyogrio", "shapely", "matplotlib")


def provenance(
    files: Iterable[tuple[str, str]], *, created: str | None, grids: Iterable[str] = ()
) -> Provenance:
    """Return the provenance of a result.

    Parameters
    ----------
    files
        Path as given and its use ("orthomosaic", "points"); remote ones get no hash.
    grids
        Files of geoid separations and datum shifts that were read, by path, or by the name that PROJ
        finds in its folders.
    created
        ISO 8601 time, or None: then `SOURCE_DATE_EPOCH`, else the clock.
    """
    inputs = tuple(fingerprint(path, use) for path, use in files)
    read = tuple(fingerprint(found_by_proj(name), "grid") for name in grids)
    return Provenance(inputs=inputs, grids=read, versions=_versions(), created=time_stamp(created))


def found_by_proj(name: str) -> str:
    """Return the path of a grid that PROJ names; the name itself where it lies in none of its folders."""
    if Path(name).is_file():
        return name
    own = datadir.get_user_data_dir()  # type: ignore[attr-defined, unused-ignore]
    folders = [*datadir.get_data_dir().split(os.pathsep), own]
    return next((str(Path(folder) / name) for folder in folders if (Path(folder) / name).is_file()), name)


def fingerprint(path: str, use: str) -> InputFile:
    """Return what tells a file from any other.

    Up to 64 MiB that is the SHA-256 of the whole file. A larger one is not read in full, since the cost of
    a check follows the blocks that it touches: its size and 64 pieces of 64 KiB, evenly spread from the first
    byte to the last, stand for it.
    """
    if not Path(path).is_file():
        return InputFile(path, None, use)
    size = Path(path).stat().st_size
    if size <= _WHOLE_BYTES:
        return InputFile(path, whole_sha256(Path(path)), use, size)
    with Path(path).open("rb") as stream:
        digest = hashlib.sha256(str(size).encode())
        for number in range(_PIECES):
            stream.seek((size - _PIECE_BYTES) * number // (_PIECES - 1))
            digest.update(stream.read(_PIECE_BYTES))
    return InputFile(path, None, use, size, digest.hexdigest())


def whole_sha256(path: Path) -> str:
    """Return the SHA-256 over the whole of a file."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _versions() -> dict[str, str]:
    found = {"geoqa": VERSION}
    for name in _LIBRARIES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    found["PROJ"] = pyproj.proj_version_str
    found["EPSG data set"] = str(pyproj.database.get_database_metadata("EPSG.VERSION"))
    found["GDAL"] = rasterio.__gdal_version__
    return found


def time_stamp(created: str | None) -> str:
    """Return a time as ISO 8601 in UTC: that given, else `SOURCE_DATE_EPOCH`, else the clock's."""
    if created is not None:
        try:
            stamp = datetime.fromisoformat(created)
        except ValueError:
            message = f"--created: “{created}” is no ISO 8601 time. Write it like 2026-05-01T10:00:00Z."
            raise InputError(message) from None
        return _text(stamp if stamp.tzinfo else stamp.replace(tzinfo=UTC))
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    if epoch and not re.fullmatch(r"\d{1,11}", epoch):
        message = f"SOURCE_DATE_EPOCH is “{epoch}”, not a number of seconds since 1970. Mend or unset it."
        raise InputError(message)
    return _text(datetime.fromtimestamp(int(epoch), UTC) if epoch else datetime.now(UTC))


def _text(stamp: datetime) -> str:
    return stamp.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def input_files(settings: Settings) -> Iterator[tuple[str, str]]:
    """Yield path and use of each file that the settings name."""
    for use, table in (("orthomosaic", settings.orthomosaic), ("elevation", settings.elevation)):
        if table is not None:
            yield settings.file(table.path), use
    for points in settings.points:
        yield settings.file(points.path), "points"
    if settings.targets.marks is not None:
        yield settings.file(settings.targets.marks), "marks"
    for path in sinex_files(settings):
        yield path, "base position"
