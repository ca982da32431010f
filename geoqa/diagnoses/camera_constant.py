"""The camera constant (focal length) took up the height: plan good, heights off together."""

from collections.abc import Iterator

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding, height_offset
from geoqa.causes.hypothesis import Hypothesis, Pattern, constant
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.records.decision import Action
from geoqa.records.results import Finding

# [Stroner2021]: decimetres in single nadir flights, linear in the deviation of the camera constant.
_TYPICAL_M = 0.25
_LEAST_RELIEF_M = 1.0


def propose(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield a height offset, alone and with the slope that it has over relief."""
    yield Hypothesis(
        "camera-constant",
        "the camera constant took up a height offset",
        (constant(evidence, 2, _TYPICAL_M),),
        log_prior=-0.5,
    )
    heights = evidence.position_m[:, 2]
    counted = heights[evidence.height]
    if len(counted) and np.ptp(counted) >= _LEAST_RELIEF_M:
        yield Hypothesis(
            "camera-constant",
            "the camera constant took up a height offset that shrinks towards the camera",
            (
                Pattern(
                    "height scale", "height", np.nan_to_num(heights - counted.mean()), _TYPICAL_M / 4, "m/m"
                ),
                constant(evidence, 2, _TYPICAL_M),
            ),
            log_prior=-0.5,
        )


def examine(case: DiagnosisCase) -> Finding:
    """Return whether the heights are off together while the plan is good."""
    return finding(
        case.comparison,
        Sayings(
            "camera-constant",
            "Process again with at least one control point, or with oblique images. Deciding test: a run "
            "with "
            "one control point in the middle; if the offset vanishes at all others, it was the camera, if a "
            "known mark measured with the rover shows it too, it was the survey.",
            "Too few heights count to see an offset.",
            height_offset,
        ),
    )


DIAGNOSIS = Diagnosis(
    id="camera-constant",
    title="Height taken up by the camera constant",
    minimum_points=2,
    examine=examine,
    action=Action.REPROCESS,
    propose=propose,
)
