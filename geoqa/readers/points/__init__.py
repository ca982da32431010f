"""Formats of point files, one file each: `read` turns one into `SurveyPoints`.

A module in this folder defines `READER`; modules that only help others start with an underscore.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from geoqa.errors import InputError
from geoqa.readers.points._files import usable_file
from geoqa.records.points import SurveyPoints
from geoqa.records.settings import is_remote
from geoqa.registry import Registry


@dataclass(frozen=True)
class PointsRequest:
    """How a file is to be read: named layout, and our column name → name in the file.

    `layout_key` is what names the layout in the settings, for messages.
    """

    layout: str | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    layout_key: str = "points.layout"


@dataclass(frozen=True)
class PointReader:
    """A format of point files.

    Attributes
    ----------
    suffixes
        In lower case with the dot; `can_read` may look into the file as well.
    example
        Five lines of an example file, for the help page; invented points.
    example_is_file
        False where the file itself is no text and the example shows its rows.
    """

    id: str
    title: str
    suffixes: tuple[str, ...]
    example: str
    can_read: Callable[[Path], bool]
    read: Callable[[Path, PointsRequest], SurveyPoints]
    example_is_file: bool = True


READERS = Registry("geoqa.readers.points", "READER", PointReader)


def read_points(path: str, request: PointsRequest) -> SurveyPoints:
    """Return the points of a file, read by the first format that knows it.

    Raises
    ------
    InputError
        Where there is no such file, no format knows it, or its content cannot be used.
    """
    if is_remote(path):
        message = f"{path}: points are read from files on this computer. Fetch or unpack the file first."
        raise InputError(message)
    file = usable_file(Path(path))
    readers = READERS.all().values()
    for reader in readers:
        if reader.can_read(file):
            return reader.read(file, request)
    formats = "; ".join(f"{reader.title}: {', '.join(reader.suffixes)}" for reader in readers)
    message = f"{file.name}: no format of points has this kind of file. Known are {formats}."
    raise InputError(message)
