"""What every reader of points asks of a file before it opens it."""

import re
from pathlib import Path

from geoqa.errors import InputError

# A million points of a hundred characters are half of it.
MOST_BYTES = 200_000_000

_OPENING_BYTES = 8192
_NMEA_POSITION = re.compile(rb"^\$[A-Z]{2}GGA,", re.MULTILINE)


def content_of(path: Path) -> bytes:
    """Return the bytes of a file, or raise `InputError` where it is missing, a folder, empty or huge."""
    usable_file(path)
    refuse_huge(path)
    try:
        return path.read_bytes()
    except OSError as reason:
        message = f"{path}: the points cannot be read ({reason.strerror}). Check the permissions."
        raise InputError(message) from None


def refuse_huge(path: Path) -> None:
    """Raise `InputError` where a file is larger than any list of points."""
    size = path.stat().st_size
    if size > MOST_BYTES:
        message = (
            f"{path.name}: the file holds {size / 1e6:.0f} MB, points are read from up to "
            f"{MOST_BYTES / 1e6:.0f} MB. Export only the points."
        )
        raise InputError(message)


def usable_file(path: Path) -> Path:
    """Return the path, or raise `InputError` where no file with content stands there."""
    try:
        size = path.stat().st_size
    except FileNotFoundError:
        found = "the link leads nowhere" if path.is_symlink() else "there is no such file"
    except OSError as reason:
        found = f"the file cannot be opened ({reason.strerror})"
    else:
        found = ""
    if found:
        message = f"{path}: the points were not read, {found}. Check name and folder."
        raise InputError(message)
    if path.is_dir():
        message = f"{path} is a folder. Name the file of points in it."
        raise InputError(message)
    if size == 0:
        message = f"{path.name}: the file of points is empty. Export it again."
        raise InputError(message)
    return path


def opening_of(path: Path) -> bytes:
    """Return the first bytes of a file, none where it cannot be read."""
    try:
        with path.open("rb") as file:
            return file.read(_OPENING_BYTES)
    except OSError:
        return b""


def opens_like_nmea(path: Path) -> bool:
    """Return whether a file begins with lines of a GNSS receiver, a position among them."""
    return _NMEA_POSITION.search(opening_of(path)) is not None
