"""A GeoTIFF moved on the ground without touching a pixel: its place is rewritten in a copy of its bytes.

References
----------
Adobe, TIFF Revision 6.0 (1992), section 2; OGC 19-008r4, GeoTIFF 1.1, tags 33922 ModelTiepoint and 34264
ModelTransformation (7.1.2). BigTIFF: the layout that libtiff writes, offsets of 8 bytes.
"""

import shutil
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO, NamedTuple

from geoqa.errors import InputError

TIEPOINT, TRANSFORMATION = 33922, 34264
_DOUBLE = 12
# Easting and northing among the six numbers of a tie point, and among the sixteen of a transformation.
_PLACES = {TIEPOINT: (3, 4), TRANSFORMATION: (3, 7)}
_NUMBERS = {TIEPOINT: 6, TRANSFORMATION: 16}


class _Layout(NamedTuple):
    """How a file counts: byte order, and the formats of an offset and of the size of a directory."""

    order: str
    offset: str
    size: str
    first: int

    @property
    def entry(self) -> struct.Struct:
        """Return tag, type, number of values, offset of the values."""
        return struct.Struct(f"{self.order}HH{self.offset}{self.offset}")


def moved_copy(source: Path, target: Path, east: float, north: float) -> tuple[int, ...]:
    """Copy a GeoTIFF byte for byte, moved by east and north in the unit of its CRS.

    Returns
    -------
    tuple of int
        Where in the file the eight bytes of a changed number begin; all other bytes are those of the source.

    Raises
    ------
    InputError
        Where the file is no TIFF, or its place does not stand in it as one tie point or one transformation.
    """
    with source.open("rb") as stream:
        places = list(_place_numbers(stream, source))
        layout = _layout(stream, source)
        number = struct.Struct(f"{layout.order}d")
        changed = []
        for offset, axis in places:
            stream.seek(offset)
            (value,) = number.unpack(stream.read(number.size))
            changed.append((offset, number.pack(value + (east, north)[axis])))
    shutil.copyfile(source, target)
    with target.open("r+b") as stream:
        for offset, data in changed:
            stream.seek(offset)
            stream.write(data)
    return tuple(offset for offset, _ in changed)


def _layout(stream: BinaryIO, path: Path) -> _Layout:
    stream.seek(0)
    head = stream.read(16)
    order = {b"II": "<", b"MM": ">"}.get(head[:2])
    if order is not None and len(head) >= 8:
        (version,) = struct.unpack(f"{order}H", head[2:4])
        if version == 42:
            return _Layout(order, "I", "H", struct.unpack(f"{order}I", head[4:8])[0])
        if version == 43 and len(head) == 16:
            return _Layout(order, "Q", "Q", struct.unpack(f"{order}Q", head[8:16])[0])
    message = f"{path}: this is no TIFF, and only the place of a GeoTIFF can be moved. Export it as GeoTIFF."
    raise InputError(message)


def _place_numbers(stream: BinaryIO, path: Path) -> Iterator[tuple[int, int]]:
    """Yield the offset of each number that holds the place, with its axis: 0 east, 1 north."""
    found = False
    for tag, kind, count, offset in _entries(stream, path):
        if tag not in _PLACES:
            continue
        if kind != _DOUBLE or count != _NUMBERS[tag]:
            message = (
                f"{path}: several points tie the raster to the ground, which cannot be moved by two numbers. "
                "Rectify it to a north-up GeoTIFF first."
            )
            raise InputError(message)
        found = True
        for axis, index in enumerate(_PLACES[tag]):
            yield offset + 8 * index, axis
    if not found:
        message = (
            f"{path}: its place does not stand in the file itself but beside it. Write it as a GeoTIFF "
            "(`gdal_translate`)."
        )
        raise InputError(message)


def _entries(stream: BinaryIO, path: Path) -> Iterator[tuple[int, int, int, int]]:
    layout = _layout(stream, path)
    directory, seen = layout.first, set[int]()
    entry, offset = layout.entry, struct.Struct(f"{layout.order}{layout.offset}")
    counted = struct.Struct(f"{layout.order}{layout.size}")
    try:
        while directory and directory not in seen:
            seen.add(directory)
            stream.seek(directory)
            (entries,) = counted.unpack(stream.read(counted.size))
            block = stream.read(entries * entry.size)
            yield from entry.iter_unpack(block)
            (directory,) = offset.unpack(stream.read(offset.size))
    except struct.error:
        message = f"{path}: the TIFF is cut short. Copy or export it again."
        raise InputError(message) from None
