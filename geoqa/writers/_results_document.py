"""The document of results as plain values, for whatever writes or prints it."""

import json
import math
from collections.abc import Iterable, Iterator, Mapping
from tempfile import SpooledTemporaryFile
from typing import Any
from weakref import WeakKeyDictionary, finalize

from geoqa.records.assessment import Assessment
from geoqa.version import VERSION
from geoqa.writers import _results_evidence as evidence
from geoqa.writers import _results_members as members
from geoqa.writers._attributes import settings_document
from geoqa.writers._fingerprint import fingerprint_of
from geoqa.writers._results_decision import of_decision, trial
from geoqa.writers._results_points import points

# Changes with the meaning of a member; a new member does not change it.
SCHEMA = "urn:geoqa:results:1"
# Many points are kept in a file without a name, so that three readers cost one writing and no memory.
_MOST_IN_MEMORY = 4 << 20
_FINGERPRINTS: WeakKeyDictionary[Assessment, str] = WeakKeyDictionary()
_TEXTS: "WeakKeyDictionary[Assessment, SpooledTemporaryFile[str]]" = WeakKeyDictionary()


def without_points(assessment: Assessment, files: Iterable[dict[str, str]]) -> dict[str, Any]:
    """Return the document with an empty list of points; with many of them that list is large."""
    document: dict[str, Any] = {
        "schema": SCHEMA,
        "geoqa": VERSION,
        "title": assessment.title,
        "decision": of_decision(assessment.decision),
        "verdict": members.verdict(assessment.verdict),
        "accuracy": members.accuracy(assessment.accuracy),
        "frame": members.frame(assessment.frame),
        "products": members.products(assessment),
        "points": [],
        "statistics": members.statistics(assessment.statistics),
        "statistics_by": members.statistics_by(assessment),
        "judgements": [members.judgement(item) for item in assessment.judgements],
        "findings": [members.finding(item) for item in assessment.findings],
        "trials": [trial(item) for item in assessment.trials],
        "claims": {item.quantity: members.claim(item) for item in assessment.claims},
        **evidence.members(assessment.evidence),
        "base": members.base(assessment),
        "ties": [members.tie(item) for item in assessment.survey_quality.ties],
        "tie_statement": assessment.survey_quality.statement,
        "tested_area": members.tested_area(assessment),
        "seals": [members.seal(item) for item in assessment.seals],
        "assumptions": list(assessment.assumptions),
        "messages": list(assessment.messages),
        "cautions": list(assessment.cautions),
        "settings": settings_document(assessment),
        "provenance": members.provenance(assessment.provenance),
    }
    told = {key: finite(value) for key, value in document.items()}
    return {**told, "fingerprint": _fingerprint(assessment, told), "files": list(files)}


def _fingerprint(assessment: Assessment, document: Mapping[str, Any]) -> str:
    # Two deliverables print it, and with many points it takes a while.
    if assessment not in _FINGERPRINTS:
        _FINGERPRINTS[assessment] = fingerprint_of(document, point_texts(assessment))
    return _FINGERPRINTS[assessment]


def point_texts(assessment: Assessment) -> Iterator[str]:
    """Yield the JSON of each point on one line; to be read to the end before it is asked for again."""
    if assessment not in _TEXTS:
        kept = SpooledTemporaryFile(_MOST_IN_MEMORY, "w+", encoding="utf-8", newline="\n")  # noqa: SIM115
        kept.writelines(f"{text}\n" for text in points(assessment))
        finalize(assessment, kept.close)
        _TEXTS[assessment] = kept
    lines = _TEXTS[assessment]
    lines.seek(0)
    for line in lines:
        yield line[:-1]


def told_points(assessment: Assessment, rows: Iterable[int]) -> dict[int, dict[str, Any]]:
    """Return the entries of some points, by row."""
    wanted = set(rows)
    told = {row: text for row, text in enumerate(point_texts(assessment)) if row in wanted}
    return {row: json.loads(text) for row, text in told.items()}


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
