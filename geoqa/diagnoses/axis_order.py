"""Easting and northing exchanged: the points lie off the map, and on it once exchanged."""

from geoqa.causes.off_the_map import off_the_map
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.records.results import Finding


def examine(case: DiagnosisCase) -> Finding:
    """Return whether exchanging the axes would bring the points onto the map."""
    return off_the_map(
        case.checkpoints, case.frame, case.mapped_area_m, "axis-order", "easting and northing exchanged"
    )


DIAGNOSIS = Diagnosis(
    id="axis-order", title="Easting and northing exchanged", minimum_points=1, examine=examine
)
