"""What the points can show, as features of layers and rows of a table."""

from collections.abc import Iterator
from typing import Any

import numpy as np

from geoqa.accuracy.influence import point_shares
from geoqa.accuracy.support import Support, support
from geoqa.records.assessment import Assessment

Row = tuple[Any, ...]
Columns = dict[str, Any]


def influence_columns(assessment: Assessment) -> Columns:
    """Return the share of each point in the sum of squares, NaN where it does not count."""
    plan, height = point_shares(assessment.residuals)
    return {"influence_horizontal": plan, "influence_vertical": height}


def support_features(assessment: Assessment) -> tuple[Columns, list[Any]]:
    """Return the parts of the mapped area by distance to the points that count, in the unit of the CRS."""
    import shapely

    residuals = assessment.residuals
    unit_m = assessment.frame.unit.metres
    area_m2 = shapely.Polygon(assessment.mapped_area_m).area if len(assessment.mapped_area_m) > 2 else 0.0
    parts = [
        (direction, part)
        for direction, use in (("horizontal", residuals.horizontal), ("vertical", residuals.vertical))
        for part in support(residuals.survey_m[use.used, :2], assessment.mapped_area_m)
    ]
    rows = [(direction, *_support_row(part), part.share * area_m2, part.share) for direction, part in parts]
    names = ("direction", "statement", "distance_from_m", "distance_to_m", "area_m2", "share")
    columns = {name: [row[place] for row in rows] for place, name in enumerate(names)}
    return columns, [shapely.transform(part.area, lambda plan: plan / unit_m) for _, part in parts]


def _support_row(part: Support) -> Row:
    return "holds" if part.holds else "carried on", part.distance_from_m, part.distance_to_m


def next_points(assessment: Assessment) -> tuple[Columns, Any]:
    """Return the places that lack a point, the farthest first, in the unit of the CRS."""
    import shapely

    places = assessment.evidence.next_places
    plan = np.array([(place.easting_m, place.northing_m) for place in places], dtype=float).reshape(-1, 2)
    columns = {
        "rank": list(range(1, len(places) + 1)),
        "distance_m": [place.distance_m for place in places],
    }
    return columns, shapely.points(plan / assessment.frame.unit.metres)


def evidence_rows(assessment: Assessment) -> Iterator[Row]:
    """Yield the rows of `geoqa.records.evidence_tables.EVIDENCE`."""
    evidence = assessment.evidence
    for claim in assessment.claims:
        if claim.reach is not None:
            figures = (claim.reach.proved_m, claim.limit_m, "m")
            yield "provable", claim.quantity, claim.direction, *figures, None, claim.reach.sentence
    for spot in evidence.blind_spots:
        yield "blind spot", spot.effect, spot.direction, spot.size, None, spot.unit, None, spot.sentence
    for found in evidence.outliers:
        count = float(len(found.ids))
        yield "outliers", found.basis.value, found.direction, count, None, "1", None, found.sentence
    for item in evidence.influence:
        yield "influence", item.id, item.direction, item.share, None, "1", None, item.sentence
    for fit in evidence.fitness:
        grade = fit.grade.value
        yield "fitness", fit.topic, fit.direction, fit.value, fit.demand, fit.unit, grade, fit.sentence
