"""The fingerprint of a result: one hash over everything that the results say."""

import hashlib
import json
from collections.abc import Iterable, Mapping
from typing import Any

# The fingerprint itself, and the hashes of files that print it.
NOT_IN_IT = ("fingerprint", "files", "points")
_SHOWN, _GROUP = 16, 4


def fingerprint_of(document: Mapping[str, Any], points: Iterable[str]) -> str:
    """Return the SHA-256 over a document of results, as 64 hexadecimal digits.

    Parameters
    ----------
    document
        The results; its points, files and fingerprint are left out.
    points
        The JSON text of each point, on one line.
    """
    members = {key: value for key, value in document.items() if key not in NOT_IN_IT}
    digest = hashlib.sha256(json.dumps(members, sort_keys=True, allow_nan=False).encode())
    for point in points:
        digest.update(b"\n")
        digest.update(point.encode())
    return digest.hexdigest()


def short(fingerprint: str) -> str:
    """Return the first 64 bits of a fingerprint, as a person compares them.

    Examples
    --------
    >>> short("0123456789abcdef0123")
    '0123 4567 89ab cdef'
    """
    head = fingerprint[:_SHOWN]
    return " ".join(head[start : start + _GROUP] for start in range(0, len(head), _GROUP))
