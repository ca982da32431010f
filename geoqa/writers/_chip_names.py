"""Which targets get a picture, and the names of the files."""

import re
import unicodedata
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from geoqa.records.assessment import Assessment
from geoqa.records.measurements import TargetStatus

FOLDER = Path("chips")
# A person looks through no more; the largest residuals and the failures come first.
MOST_CHIPS = 200
_LONGEST_NAME = 48
_NAMELESS = "point"
# Names that Windows keeps for devices (Microsoft, "Naming Files, Paths, and Namespaces").
_DEVICES = re.compile(r"con|prn|aux|nul|com\d|lpt\d", re.IGNORECASE)
_NOT_MEASURED = (TargetStatus.NOT_FOUND, TargetStatus.AMBIGUOUS, TargetStatus.SUSPECT)


def chip_names(ids: Sequence[str]) -> tuple[str, ...]:
    """Return for each id a file name without suffix: ASCII, portable, each different in any case.

    Examples
    --------
    >>> chip_names(["CP/1 ä", "CP_1 a", "../x", "NUL", "点"])
    ('CP_1_a', 'CP_1_a-2', 'x', 'NUL_', 'point')
    """
    taken: set[str] = set()
    names: list[str] = []
    for text in ids:
        stem = _portable(text)
        name, number = stem, 1
        while name.lower() in taken:
            number += 1
            name = f"{stem}-{number}"
        taken.add(name.lower())
        names.append(name)
    return tuple(names)


def _portable(text: str) -> str:
    letters = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode("ascii")
    name = re.sub(r"[^A-Za-z0-9-]+", "_", letters)[:_LONGEST_NAME].strip("_-")
    return f"{name}_" if _DEVICES.fullmatch(name) else name or _NAMELESS


def chip_rows(assessment: Assessment) -> tuple[int, ...]:
    """Return the rows of the points that get a picture, in the order of the points.

    All targets with a window of the orthomosaic, at most `MOST_CHIPS`: first those that were not
    measured, then the largest residuals.
    """
    rows = [row for row, patch in enumerate(assessment.patches) if patch is not None]
    if len(rows) <= MOST_CHIPS:
        return tuple(rows)
    delta = assessment.residuals.delta_m
    length = np.nan_to_num(np.hypot(delta[:, 0], delta[:, 1]), nan=-1.0)
    fixes = assessment.fixes.fixes
    rows.sort(key=lambda row: (fixes[row].status not in _NOT_MEASURED, -length[row], row))
    return tuple(sorted(rows[:MOST_CHIPS]))


def chip_paths(assessment: Assessment) -> dict[int, Path]:
    """Return row of the point → path of its picture, relative to the folder of the results."""
    names = chip_names(assessment.residuals.ids)
    return {row: FOLDER / f"{names[row]}.png" for row in chip_rows(assessment)}
