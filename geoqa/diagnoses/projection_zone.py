"""Wrong zone or hemisphere of the projection: the points lie hundreds of kilometres off the map."""

from geoqa.causes.off_the_map import off_the_map
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.records.results import Finding


def examine(case: DiagnosisCase) -> Finding:
    """Return whether another zone or hemisphere would bring the points onto the map."""
    return off_the_map(
        case.checkpoints,
        case.frame,
        case.mapped_area_m,
        "projection-zone",
        "the neighbouring zones and the other hemisphere",
    )


DIAGNOSIS = Diagnosis(
    id="projection-zone", title="Wrong zone of the projection", minimum_points=1, examine=examine
)
