"""The height error grows with the height of the ground."""

from collections.abc import Iterator, Sequence

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.hypothesis import Hypothesis, Pattern, constant
from geoqa.causes.prediction import Amplitude
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.records.decision import Action
from geoqa.records.results import Finding, Quantity

_TYPICAL_M = 0.5
_LEAST_RELIEF_M = 1.0


def propose(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield a slope of the height residual over the height, where the ground has relief."""
    heights = evidence.position_m[:, 2]
    counted = heights[evidence.height]
    if not len(counted) or np.ptp(counted) < _LEAST_RELIEF_M:
        return
    above = np.nan_to_num(heights - counted.mean())
    yield Hypothesis(
        "height-scale",
        "the height error grows with the height of the ground",
        (
            Pattern("height scale", "height", above, _TYPICAL_M, "m/m"),
            constant(evidence, 2, _TYPICAL_M, accompanies=True),
        ),
        log_prior=-0.5,
    )


def figures(found: dict[str, Amplitude], what: Hypothesis) -> Sequence[Quantity]:
    """Return the slope in metres per 100 m of height."""
    slope = found["height scale"]
    return (Quantity("height error per 100 m of height", 100 * slope.value, "m", 100 * slope.sigma),)


def examine(case: DiagnosisCase) -> Finding:
    """Return whether the height residual follows the height."""
    return finding(
        case.comparison,
        Sayings(
            "height-scale",
            "Process again with control at the lowest and the highest ground and look at the units of both "
            "sides. Deciding test: one more height at either end of the range.",
            "The points that count span less than a metre of height, so nothing can be said of a scale in "
            "height.",
            figures,
        ),
    )


DIAGNOSIS = Diagnosis(
    id="height-scale",
    title="Scale in height",
    minimum_points=4,
    examine=examine,
    action=Action.REPROCESS,
    propose=propose,
)
