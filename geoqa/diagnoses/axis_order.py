"""Easting and northing exchanged: the points lie off the map, and on it once exchanged."""

import numpy as np

from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.numerics.polygons import inside
from geoqa.records.results import Finding, FindingVerdict, Quantity

# Share of the points that an exchange must bring onto the map: common practice.
_SHARE = 0.8


def examine(case: DiagnosisCase) -> Finding:
    """Return whether exchanging the axes would bring the points onto the map."""
    positions = case.checkpoints.position_m[:, :2]
    known = np.isfinite(positions).all(axis=1)
    if len(case.mapped_area_m) < 3 or not known.any():
        evidence = "There is no map to hold the points against."
        return Finding("axis-order", FindingVerdict.CANNOT_TELL, evidence, "")
    as_given = inside(positions[known], case.mapped_area_m)
    exchanged = inside(positions[known][:, ::-1], case.mapped_area_m)
    share, given = float(exchanged.mean()), float(as_given.mean())
    quantities = (Quantity("share of points on the map if exchanged", share, "1"),)
    if share >= _SHARE and given < 1 - _SHARE:
        evidence = (
            f"{given:.0%} of the points lie on the map as read, {share:.0%} would if easting and northing "
            "were exchanged."
        )
        advice = "Name the columns the other way round under [points.columns], and run again."
        ids = tuple(np.array(case.checkpoints.ids)[known][exchanged])
        return Finding(
            "axis-order",
            FindingVerdict.PRESENT,
            evidence,
            advice,
            rank=1,
            quantities=quantities,
            point_ids=ids,
        )
    evidence = f"{given:.0%} of the points lie on the map as read, {share:.0%} if exchanged."
    return Finding("axis-order", FindingVerdict.ABSENT, evidence, "", quantities=quantities)


DIAGNOSIS = Diagnosis(
    id="axis-order", title="Easting and northing exchanged", minimum_points=1, examine=examine
)
