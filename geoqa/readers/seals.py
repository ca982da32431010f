"""Seals: the hash of a file of checkpoints, issued before the products were made."""

import json
from pathlib import Path, PurePath
from typing import Any

from geoqa.errors import InputError
from geoqa.readers.provenance import whole_sha256
from geoqa.records.assessment import Seal
from geoqa.records.settings import Settings, is_remote, is_sha256


def compared_seals(settings: Settings) -> tuple[Seal, ...]:
    """Return each file of points that has a seal, held against it.

    Raises
    ------
    InputError
        Where a seal is neither a hash nor a file that holds one, or the points are no local file.
    """
    return tuple(
        _compared(settings, points.path, points.sealed)
        for points in settings.points
        if points.sealed is not None
    )


def _compared(settings: Settings, name: str, seal: str) -> Seal:
    if is_remote(name):
        message = f"{name}: a seal can only be compared with a file on this disk. Fetch the file first."
        raise InputError(message)
    sealed, issued = (seal, None) if is_sha256(seal) else _read(Path(settings.file(seal)))
    found = whole_sha256(Path(settings.file(name)))
    return Seal(PurePath(name).name, sealed.lower(), found, issued)


def _read(path: Path) -> tuple[str, str | None]:
    try:
        document: Any = json.loads(path.read_text("utf-8"))
        sealed, issued = document["sha256"], document.get("issued")
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        sealed, issued = None, None
    if not isinstance(sealed, str) or not is_sha256(sealed):
        message = (
            f"points.sealed: “{path}” is neither a SHA-256 (64 hexadecimal digits) nor a file that `geoqa "
            "seal-checkpoints` wrote. Give one of them."
        )
        raise InputError(message)
    return sealed, issued if isinstance(issued, str) else None
