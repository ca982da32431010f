"""What the report says: the document of results, with the rows and drawings made from it."""

import base64
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from geoqa.diagnoses import diagnosis_titles
from geoqa.records.assessment import Assessment
from geoqa.records.cautions import CAUTIONS
from geoqa.records.points import Cover
from geoqa.writers import _report_rows as rows
from geoqa.writers._chip_names import FOLDER, chip_paths
from geoqa.writers._fingerprint import short
from geoqa.writers._frame_words import created, height_system
from geoqa.writers._numbers import whole
from geoqa.writers._report_base import base_rows
from geoqa.writers._report_gauge import gauges
from geoqa.writers._report_map import HEIGHT, WIDTH, site_map
from geoqa.writers._report_profile import profile_drawing
from geoqa.writers._report_survey import remarkable, survey_row, tie_row
from geoqa.writers._results_document import told_points, without_points
from geoqa.writers._signs import FINDING_SIGNS, JUDGEMENT_SIGNS, VERDICT_SIGNS

Content = dict[str, Any]

# Members of the document that have a place of their own in the page; any other comes under "Further results".
_PLACED = {
    *("schema", "geoqa", "title", "verdict", "accuracy", "frame", "products", "points", "statistics"),
    *("statistics_by", "judgements", "findings", "claims", "blind_spots", "base", "ties", "tie_statement"),
    *("assumptions", "messages", "cautions", "settings", "provenance", "fingerprint", "files", "seals"),
    *("tested_area", "decision", "trials", "outliers", "influence", "fitness", "next_points"),
}
# Of these some need not be there.
_OPTIONAL = ("decision", "trials", "outliers", "influence", "fitness", "next_points")
VEGETATED = Cover.VEGETATED.value
_MOST_BLIND_ON_PAGE_ONE = 3
_HECTARE_M2 = 10_000.0


def content(assessment: Assessment, folder: Path) -> Content:
    """Return the names that the template fills in."""
    document = without_points(assessment, ())
    shown, choice = rows.shown_rows(assessment)
    surveyed, survey_choice = remarkable(assessment)
    entries = told_points(assessment, [*shown, *surveyed])
    pictures = _pictures(assessment, folder)
    return {
        "doc": {**dict.fromkeys(_OPTIONAL), **document},
        "count": len(assessment.residuals),
        "fingerprint": short(document["fingerprint"]),
        "created": created(assessment.provenance),
        "heights": height_system(document["frame"]["height_system"]),
        "gauges": gauges(document["claims"]),
        "site": site_map(assessment, {row: entries[row] for row in shown}),
        "map_size": (WIDTH, HEIGHT),
        "holds": list(_holds(document)),
        "lacks": list(_lacks(document, assessment)),
        "figures": rows.figure_rows(document["accuracy"]),
        "components": [(name, document["statistics"][name]) for name in rows.COMPONENTS],
        "joint": {
            key: value
            for key, value in document["statistics"].items()
            if key not in rows.COMPONENTS and value
        },
        "further": rows.further_statistics(document["statistics"]),
        "groups": rows.groups(document["statistics_by"]),
        "points": [_point(row, entries[row], pictures) for row in shown],
        "headings": [(name, name in rows.NUMERIC) for name in _headings()],
        "choice": choice,
        "surveyed": [survey_row(entries[row]) for row in surveyed],
        "survey_choice": survey_choice,
        "ties": [tie_row(item) for item in document["ties"]],
        "bases": base_rows(document["base"]),
        "judged": rows.judgement_value,
        "standards": _standard_titles(),
        "diagnoses": diagnosis_titles(),
        "findings": _ranked(document["findings"]),
        "cautions": list(dict.fromkeys((*CAUTIONS, *document["cautions"]))),
        "glossary": GLOSSARY,
        "unplaced": {key: value for key, value in document.items() if key not in _PLACED and value},
        "verdict_signs": {key.value: sign for key, (sign, _) in VERDICT_SIGNS.items()},
        "judgement_signs": {key.value: sign for key, (sign, _) in JUDGEMENT_SIGNS.items()},
        "finding_signs": {key.value: sign for key, (sign, _) in FINDING_SIGNS.items()},
    }


def _headings() -> tuple[str, ...]:
    return ("Role", "East", "North", "Plan", "Up", "Plan counts", "Height counts", "Target", "Slope")


def _point(row: int, entry: Mapping[str, Any], pictures: Mapping[int, tuple[str, str | None]]) -> Content:
    path, uri = pictures.get(row, (None, None))
    return {
        "row": row,
        "id": entry["id"],
        "cells": rows.point_cells(entry),
        "facts": list(rows.point_facts(entry)),
        "steps": entry["steps"],
        "occupations": entry["survey"]["each_occupation"],
        "path": path,
        "picture": uri,
        "profile": profile_drawing(entry),
    }


def _pictures(assessment: Assessment, folder: Path) -> dict[int, tuple[str, str | None]]:
    """Return for each pictured row the path beside the report, and the picture itself for some."""
    if not (folder / FOLDER).is_dir():
        return {}
    inside = set(rows.pictured_rows(assessment))
    return {
        row: (path.as_posix(), _data_uri(folder / path) if row in inside else None)
        for row, path in chip_paths(assessment).items()
        if (folder / path).is_file()
    }


def _data_uri(path: Path) -> str:
    return "data:image/png;base64," + base64.b64encode(path.read_bytes()).decode("ascii")


def _holds(document: Mapping[str, Any]) -> Iterator[str]:
    """Yield what the answer holds for."""
    for direction, words in (("horizontal", "plan"), ("vertical", "height")):
        area = document["tested_area"][direction]
        if area["area_m2"]:
            share = area["share_of_product"]
            of_product = "" if share is None else f", {100 * share:.0f} % of the product"
            yield (
                f"{words}: the ground between the {whole(area['point_count'])} points that count, "
                f"{area['area_m2'] / _HECTARE_M2:.2f} ha{of_product}"
            )
    covers = document["statistics_by"].get("cover", {})
    named = [
        f"{name} ({whole(part['up']['count'])})"
        for name, part in covers.items()
        if part["up"]["count"] and name != VEGETATED
    ]
    if named:
        yield f"ground cover at the heights: {', '.join(named)}"
    frame = document["frame"]
    yield f"{frame['name']}; heights: {height_system(frame['height_system'])}"
    relative = dict.fromkeys(part["relative_to"] for part in document["accuracy"]["fit"].values())
    yield f"relative to: {'; '.join(relative)}"


def _lacks(document: Mapping[str, Any], assessment: Assessment) -> Iterator[str]:
    """Yield what the answer does not hold for."""
    areas = document["tested_area"]
    if any(area["area_m2"] for area in areas.values()):
        yield "ground outside the points that count (hatched on the map)"
        yield "other dates than that of the products"
    elif len(assessment.residuals):
        yield "any area: too few points count to enclose one"
    if VEGETATED in document["statistics_by"].get("cover", {}):
        yield "heights under vegetation: they are reported apart and never judged"
    spots = dict.fromkeys(item["sentence"] for item in document["blind_spots"])
    yield from list(spots)[:_MOST_BLIND_ON_PAGE_ONE]
    for seal in document["seals"]:
        if seal["verdict"] != "matches":
            yield seal["sentence"]
    yield "boundaries or any other legal survey"


def _ranked(findings: list[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return the findings: present ones in order of rank, then those open, then those ruled out."""
    order = [verdict.value for verdict in FINDING_SIGNS]
    return sorted(
        findings,
        key=lambda item: (
            order.index(item["verdict"]),
            item["rank"] is None,
            item["rank"] or 0,
            item["diagnosis"],
        ),
    )


def _standard_titles() -> dict[str, str]:
    from geoqa.standards import STANDARDS

    return {name: item.title for name, item in STANDARDS.all().items()}


GLOSSARY = {
    "Residual": "Product minus survey at one point: east, north, up. Up above zero: the product is too high.",
    "Plan": "East and north together; the length of both.",
    "RMSE": "Root mean square error: the root of the mean of the squared residuals. It keeps the mean.",
    "95 % interval": "Where the RMSE of very many points would lie, with 95 % confidence.",
    "95 % upper bound": "What that RMSE stays below, with 95 % confidence.",
    "Proved": "The 95 % upper bound keeps the limit.",
    "Not contradicted": "The RMSE found keeps the limit, the upper bound does not: more points would tell.",
    "Failed": "The RMSE found exceeds the limit.",
    "Undecidable": "A limit was asked for and no point counts.",
    "Checkpoint": "A surveyed point that took no part in making the products.",
    "Control point": "A surveyed point that did; it proves nothing about them.",
    "NMAD": "1.4826 times the median deviation from the median: like std, but deaf to outliers.",
    "1 sigma": "One standard deviation: about two in three errors are smaller.",
    "95 % ellipse": "Holds the true place with 95 % probability, by the sigmas of survey and target.",
    "Fingerprint": "The beginning of a hash over all results; `geoqa verify` prints it again.",
}
