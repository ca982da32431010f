"""Everything that a check found out, for machines: `results.json`.

Missing numbers are null, never 0 and never NaN; numbers are not rounded. Equal input gives equal
bytes. The shape of the document is described by the JSON Schema beside this file.
"""

import hashlib
import json
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from geoqa.records.assessment import Assessment
from geoqa.writers import Writer
from geoqa.writers._json_text import read_json, write_json
from geoqa.writers._results_document import SCHEMA, finite, point_texts, without_points

__all__ = ["FILE", "SCHEMA", "WRITER", "finite", "results", "schema", "write"]

FILE = Path("results.json")
_LONG_LIST = "points"
_SCHEMA_FILE = Path(__file__).with_name("results.schema.json")


def results(assessment: Assessment, files: Iterable[dict[str, str]] = ()) -> dict[str, Any]:
    """Return the document as plain values.

    Parameters
    ----------
    files
        The other deliverables: path relative to the folder, and SHA-256.
    """
    document = without_points(assessment, files)
    document["points"] = [json.loads(point) for point in point_texts(assessment)]
    return document


def schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the document."""
    return dict(json.loads(_SCHEMA_FILE.read_text("utf-8")))


def write(assessment: Assessment, folder: Path) -> tuple[Path, ...]:
    """Write `results.json`, which lists the files that are in the folder already."""
    document = without_points(assessment, _listed(folder))
    write_json(folder / FILE, document, _LONG_LIST, point_texts(assessment))
    return (FILE,)


def read_results(folder: Path, keep: Callable[[Any], Any] | None = None) -> dict[str, Any]:
    """Return the document that was written into a folder, with what `keep` returns of each point."""
    return read_json(folder / FILE, _LONG_LIST, keep)


def _listed(folder: Path) -> list[dict[str, str]]:
    paths = sorted(path for path in folder.rglob("*") if path.is_file() and path != folder / FILE)
    return [{"path": path.relative_to(folder).as_posix(), "sha256": _sha256(path)} for path in paths]


def _sha256(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


WRITER = Writer(
    id="results-json",
    title="Results for machines",
    media_type="application/json",
    write=write,
    order=90,
)
