"""Everything that a check found out, for machines: `results.json`.

Missing numbers are null, never 0 and never NaN; numbers are not rounded. Equal input gives equal
bytes. The shape of the document is described by the JSON Schema beside this file.
"""

import hashlib
import json
import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from geoqa.records.assessment import Assessment
from geoqa.version import VERSION
from geoqa.writers import Writer
from geoqa.writers import _results_evidence as evidence
from geoqa.writers import _results_members as members
from geoqa.writers._attributes import settings_document
from geoqa.writers._json_text import write_json
from geoqa.writers._results_points import points

FILE = Path("results.json")
# Changes with the meaning of a member; a new member does not change it.
SCHEMA = "urn:geoqa:results:1"
_SCHEMA_FILE = Path(__file__).with_name("results.schema.json")


def results(assessment: Assessment, files: Iterable[dict[str, str]] = ()) -> dict[str, Any]:
    """Return the document as plain values.

    Parameters
    ----------
    files
        The other deliverables: path relative to the folder, and SHA-256.
    """
    document = _without_points(assessment, files)
    document["points"] = [json.loads(point) for point in points(assessment)]
    return document


def _without_points(assessment: Assessment, files: Iterable[dict[str, str]]) -> dict[str, Any]:
    document = {
        "schema": SCHEMA,
        "geoqa": VERSION,
        "title": assessment.title,
        "verdict": members.verdict(assessment.verdict),
        "accuracy": members.accuracy(assessment.accuracy),
        "frame": members.frame(assessment.frame),
        "products": members.products(assessment),
        "points": [],
        "statistics": members.statistics(assessment.statistics),
        "statistics_by": members.statistics_by(assessment),
        "judgements": [members.judgement(item) for item in assessment.judgements],
        "findings": [members.finding(item) for item in assessment.findings],
        "claims": {item.quantity: members.claim(item) for item in assessment.claims},
        **evidence.members(assessment.evidence),
        "base": [],
        "assumptions": list(assessment.assumptions),
        "messages": list(assessment.messages),
        "cautions": list(assessment.cautions),
        "settings": settings_document(assessment),
        "provenance": members.provenance(assessment.provenance),
        "files": list(files),
    }
    return {key: finite(value) for key, value in document.items()}


def finite(value: Any) -> Any:
    """Return a document with None for every number that is NaN or infinite.

    Examples
    --------
    >>> finite({"rmse_m": float("nan"), "count": 0})
    {'rmse_m': None, 'count': 0}
    """
    if isinstance(value, dict):
        return {key: finite(member) for key, member in value.items()}
    if isinstance(value, list | tuple):
        return [finite(member) for member in value]
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    return value


def schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the document."""
    return dict(json.loads(_SCHEMA_FILE.read_text("utf-8")))


def write(assessment: Assessment, folder: Path) -> tuple[Path, ...]:
    """Write `results.json`, which lists the files that are in the folder already."""
    document = _without_points(assessment, _listed(folder))
    write_json(folder / FILE, document, "points", points(assessment))
    return (FILE,)


def _listed(folder: Path) -> list[dict[str, str]]:
    paths = sorted(path for path in folder.rglob("*") if path.is_file() and path != folder / FILE)
    return [
        {
            "path": path.relative_to(folder).as_posix(),
            "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
        }
        for path in paths
    ]


WRITER = Writer(
    id="results-json",
    title="Results for machines",
    media_type="application/json",
    write=write,
    order=90,
)
