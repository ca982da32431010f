"""The heights are tilted: the block turned, or its control lies along a line."""

import math
from collections.abc import Iterator, Sequence

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.hypothesis import Hypothesis, Pattern, constant
from geoqa.causes.prediction import Amplitude
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.records.decision import Action
from geoqa.records.results import Finding, Quantity

_TYPICAL_M = 0.5


def propose(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield a plane through the height residuals."""
    east, north = evidence.east_north_m.T
    yield Hypothesis(
        "tilt",
        "the heights tilt",
        (
            Pattern("tilt east", "height", east, _TYPICAL_M, "m/m"),
            Pattern("tilt north", "height", north, _TYPICAL_M, "m/m"),
            constant(evidence, 2, _TYPICAL_M, accompanies=True),
        ),
    )


def figures(found: dict[str, Amplitude], what: Hypothesis) -> Sequence[Quantity]:
    """Return the slope of the plane and the direction in which the product rises too much."""
    east, north = found["tilt east"], found["tilt north"]
    slope = math.hypot(east.value, north.value)
    sigma = math.hypot(east.value * east.sigma, north.value * north.sigma) / slope if slope > 0 else None
    azimuth = math.degrees(math.atan2(east.value, north.value)) % 360.0
    return (
        Quantity("tilt per 100 m", 100 * slope, "m", None if sigma is None else 100 * sigma),
        Quantity("azimuth in which the product rises too much", azimuth, "deg"),
    )


def examine(case: DiagnosisCase) -> Finding:
    """Return whether the height residuals lie on an inclined plane."""
    return finding(
        case.comparison,
        Sayings(
            "tilt",
            "Process the block again with control spread over its width, not along a line; a shift will not "
            "cure it. Deciding test: two more heights at opposite ends of the slope.",
            "A plane needs heights at four points or more that do not lie along a line.",
            figures,
        ),
    )


DIAGNOSIS = Diagnosis(
    id="tilt",
    title="Heights tilted",
    minimum_points=4,
    examine=examine,
    action=Action.REPROCESS,
    propose=propose,
)
