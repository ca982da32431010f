"""A wrong height of antenna or pole: all heights off by one amount, plan clean."""

import math
from collections.abc import Iterator

import numpy as np

from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding, height_offset
from geoqa.causes.hypothesis import Hypothesis, constant
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.records.results import Finding
from geoqa.records.survey import TieVerdict

# Poles are set to 1.5 to 2.5 m and antennas stand as high: a forgotten or a mistyped height makes up to that.
_TYPICAL_M = 0.8
# Odds of one to a hundred: what a known mark shows, or does not, decides between rover and camera.
_CONFIRMED = math.log(100.0)


def propose(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield a height offset of all points; known marks measured with the rover make it likelier or not."""
    words, usual = _by_marks(case, evidence)
    yield Hypothesis(
        "antenna-height",
        f"the height of an antenna or a pole is wrong by one amount{words}",
        (constant(evidence, 2, _TYPICAL_M),),
        log_prior=usual,
    )


def _by_marks(case: DiagnosisCase, evidence: Evidence) -> tuple[str, float]:
    """Return what the known marks say of a height offset, in words and as a logarithm of odds."""
    heights = [
        (float(tie.difference_m[2]), float(tie.tolerance_m[2]))
        for tie in case.ties
        if tie.verdict is not TieVerdict.UNDECIDED and np.isfinite(tie.difference_m[2])
    ]
    if not heights or not evidence.height.any():
        return "", 0.0
    offset_m = float(np.median(evidence.residuals("height")))
    # A survey that is too high makes product minus survey too low.
    if all(abs(measured + offset_m) <= tolerance < abs(measured) for measured, tolerance in heights):
        return ", and the known marks measured with the rover show it too", _CONFIRMED
    if all(abs(measured) <= tolerance < abs(offset_m) / 2 for measured, tolerance in heights):
        return ", though the known marks measured with the rover do not show it", -_CONFIRMED
    return "", 0.0


def examine(case: DiagnosisCase) -> Finding:
    """Return whether all heights are off by one amount."""
    return finding(
        case.comparison,
        Sayings(
            "antenna-height",
            "Look up pole and antenna heights in the raw logs of rover, base and drone, and whether they "
            "count "
            "to the mark or to the antenna. Deciding test: a known mark measured with the same rover; it "
            "shows an error of the survey, and none of the camera.",
            "Too few heights count to see an offset.",
            height_offset,
        ),
    )


DIAGNOSIS = Diagnosis(
    id="antenna-height",
    title="Wrong height of antenna or pole",
    minimum_points=2,
    examine=examine,
    propose=propose,
)
