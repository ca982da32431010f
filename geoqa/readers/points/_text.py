"""The text of a file, whatever program wrote it."""

import codecs
import re
from pathlib import Path

from geoqa.errors import InputError
from geoqa.readers.points._files import content_of

_UTF_16_MARKS = {codecs.BOM_UTF16_LE: "utf-16-le", codecs.BOM_UTF16_BE: "utf-16-be"}
# Old programs end a text with control-Z.
_END_OF_TEXT = b"\x1a"
_CONTROL = re.compile(rb"[\x00-\x08\x0b\x0e-\x1f\x7f]")


def text_of(path: Path) -> tuple[str, tuple[str, ...]]:
    """Return the text of a file, and sentences for the user on how it was decoded.

    UTF-8 with or without a byte order mark; UTF-16 with one; anything else that has no control
    characters is taken to be Windows-1252, of which Latin-1 text is a part, and said to be so.

    Raises
    ------
    InputError
        Where the file cannot be read or is no text.
    """
    content = content_of(path).removesuffix(_END_OF_TEXT)
    for mark, encoding in _UTF_16_MARKS.items():
        if content.startswith(mark):
            return _utf_16(content.removeprefix(mark), encoding, path.name), ()
    if b"\0" in content:
        raise InputError(_no_text(path.name))
    try:
        return content.decode("utf-8-sig"), ()
    except UnicodeDecodeError as mistake:
        return _windows_1252(content, path.name, mistake.start)


def _utf_16(content: bytes, encoding: str, name: str) -> str:
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError:
        text = "\0"
    if "\0" in text:
        raise InputError(_no_text(name))
    return text


def _windows_1252(content: bytes, name: str, first: int) -> tuple[str, tuple[str, ...]]:
    line = content.count(b"\n", 0, first) + 1
    if _CONTROL.search(content):
        raise InputError(_no_text(name))
    try:
        text = content.decode("cp1252")
    except UnicodeDecodeError as mistake:
        line = content.count(b"\n", 0, mistake.start) + 1
        message = (
            f"{name}, line {line}: byte 0x{content[mistake.start]:02X} is neither UTF-8 nor Windows-1252 "
            f"text. Save the table as UTF-8."
        )
        raise InputError(message) from None
    return text, (
        f"{name} is not UTF-8 (line {line}) and was read as Windows-1252: look at names with accents.",
    )


def _no_text(name: str) -> str:
    return f"{name}: this is a binary file, not a table of text. Export the points as CSV in UTF-8."
