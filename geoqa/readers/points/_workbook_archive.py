"""The parts of a workbook: XML files in a ZIP archive, none of which may be a trap."""

import copy
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Protocol, TypeAlias
from xml.parsers import expat

from geoqa.errors import InputError
from geoqa.readers.points._cells import brief

Attributes: TypeAlias = dict[str, str]

_MOST_UNPACKED_BYTES = 200_000_000
_CHUNK_BYTES = 1 << 20
# What zipfile raises for damage, for encryption and for methods that it does not know.
_DAMAGE = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError)


class XmlHandler(Protocol):
    """What is called at every element and text of a part; names come with their prefix."""

    def start(self, name: str, attributes: Attributes) -> None:
        """Begin an element."""

    def end(self, name: str) -> None:
        """End an element."""

    def text(self, text: str) -> None:
        """Take text inside an element."""


@contextmanager
def opened(path: Path) -> Iterator[zipfile.ZipFile]:
    """Yield the archive of a workbook.

    Raises
    ------
    InputError
        Where it is damaged or encrypted, or unpacks to more than 200 MB.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            _refuse_inflated(archive, path.name)
            yield archive
    except (*_DAMAGE, expat.ExpatError) as reason:
        message = f"{path.name}: the workbook is damaged ({brief(str(reason), 160)}). Save it again."
        raise InputError(message) from None


def _refuse_inflated(archive: zipfile.ZipFile, name: str) -> None:
    left = _MOST_UNPACKED_BYTES
    for entry in archive.infolist():
        # Unpacking stops at the size that an entry declares, which may be a lie.
        unlimited = copy.copy(entry)
        unlimited.file_size = _MOST_UNPACKED_BYTES + _CHUNK_BYTES
        with archive.open(unlimited) as part:
            while chunk := part.read(_CHUNK_BYTES):
                left -= len(chunk)
                if left < 0:
                    message = (
                        f"{name}: the workbook unpacks to more than {_MOST_UNPACKED_BYTES / 1e6:.0f} MB. "
                        f"Copy the points into a workbook of their own."
                    )
                    raise InputError(message)


def parse(archive: zipfile.ZipFile, part: str, handler: XmlHandler, source: str) -> None:
    """Let a handler follow the XML of a part; a document type in it raises `InputError`."""
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler = handler.start
    parser.EndElementHandler = handler.end
    parser.CharacterDataHandler = handler.text

    def refuse(*_: object) -> None:
        # A document type may declare entities that unfold into anything.
        message = (
            f"{source}: {part} in the workbook declares a document type, which no workbook needs. Save the "
            f"workbook again."
        )
        raise InputError(message)

    parser.StartDoctypeDeclHandler = refuse
    with archive.open(part) as content:
        parser.ParseFile(content)
