"""The US survey foot on one side and the international foot on the other: 2 ppm of the coordinates."""

from collections.abc import Iterator

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.hypothesis import Hypothesis, on_slopes, slack
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.records.results import Finding
from geoqa.units import LinearUnit

_RATIO = LinearUnit.US_SURVEY_FOOT.metres / LinearUnit.FOOT.metres - 1.0
_TOLERANCE_M = 0.01
_RANGE_M = 3.0


def propose(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield 2 ppm of easting and northing, either way; usual only where feet are about."""
    units = {case.frame.unit, *(unit for survey in case.checkpoints.survey for unit in (survey.unit,))}
    usual = 0.0 if units & {LinearUnit.FOOT, LinearUnit.US_SURVEY_FOOT} else -5.0
    for sign, side in ((1, "products"), (-1, "points")):
        effect = np.zeros((len(evidence), 3))
        effect[:, :2] = sign * _RATIO * evidence.position_m[:, :2]
        east, north = effect[:, :2].mean(axis=0) if len(evidence) else (0.0, 0.0)
        yield Hypothesis(
            "survey-foot",
            f"the {side} were scaled with the US survey foot and the other side with the international foot "
            f"({east:+.2f} m east, {north:+.2f} m north here)".replace("-", "−"),
            (
                slack(evidence, "survey-foot", 0, _TOLERANCE_M),
                slack(evidence, "survey-foot", 1, _TOLERANCE_M),
            ),
            known_m=on_slopes(effect, case.samples.gradient[evidence.rows]),
            coincidence=min(2 * (4 * _TOLERANCE_M / (2 * _RANGE_M)) ** 2, 1.0),
            choices=2,
            log_prior=usual,
            gross=True,
        )


def examine(case: DiagnosisCase) -> Finding:
    """Return whether the plan is off by 2 ppm of the coordinates."""
    return finding(
        case.comparison,
        Sayings(
            "survey-foot",
            "State the unit of each side (points.unit; for the raster a CRS with its unit) as “foot” or "
            "“us-survey-foot”, and run again. Deciding test: the ratio of the shift east to the shift north "
            "is that of easting to northing.",
            "Too few targets count to see a common shift.",
        ),
    )


DIAGNOSIS = Diagnosis(
    id="survey-foot",
    title="Survey foot against international foot",
    minimum_points=2,
    examine=examine,
    propose=propose,
)
